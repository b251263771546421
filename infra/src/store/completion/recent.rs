//! Completions of the last days on many surfaces at once.

use chrono::{DateTime, Utc};
use domain::id::SurfaceId;
use sea_orm::Condition;
use sea_orm::sea_query::{Expr, ExprTrait};
use uuid::Uuid;

use super::Completions;
use crate::clock::truncate_to_millis;
use crate::row::CompletionRow;
use crate::store::{StoreError, table};

impl Completions<'_> {
    /// The completions that count on these surfaces and ended at or after a moment, last first.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn finished_since(
        &self,
        surfaces: &[SurfaceId],
        since: DateTime<Utc>,
    ) -> Result<Vec<CompletionRow>, StoreError> {
        let ids: Vec<Uuid> = surfaces.iter().map(|id| id.uuid()).collect();
        let counts = Condition::all()
            .add(Expr::col("finished_at").gte(truncate_to_millis(since)))
            .add(table::is_recorded());
        let mut found: Vec<CompletionRow> = table::of_surfaces(self.0, &ids, &counts).await?;
        found.sort_unstable_by_key(|row| std::cmp::Reverse((row.finished_at, row.id)));
        Ok(found)
    }
}

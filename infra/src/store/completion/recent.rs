//! Completions of the last days on many surfaces at once.

use chrono::{DateTime, Utc};
use domain::id::SurfaceId;
use sea_orm::sea_query::{Expr, ExprTrait, Order};
use sea_orm::{QueryFilter, QueryOrder};
use uuid::Uuid;

use super::Completions;
use crate::clock::truncate_to_millis;
use crate::row::{CompletionRow, CompletionStatus};
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
        let mut found = Vec::new();
        for chunk in ids.chunks(table::MAX_KEYS) {
            let select = table::rows::<CompletionRow>(self.0)
                .filter(Expr::col("surface_id").is_in(chunk.iter().copied()))
                .filter(Expr::col("finished_at").gte(truncate_to_millis(since)))
                .filter(table::is("status", CompletionStatus::Recorded.as_str()))
                .order_by(Expr::col("finished_at"), Order::Desc)
                .order_by(Expr::col("id"), Order::Desc);
            found.extend(table::all(self.0, select).await?);
        }
        Ok(found)
    }
}

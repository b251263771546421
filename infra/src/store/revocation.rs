//! Whose tokens are refused before they end.

use chrono::{DateTime, Utc};
use domain::id::RevocationId;
use sea_orm::sea_query::{Expr, ExprTrait};
use sea_orm::{Condition, QueryFilter, QuerySelect};

use super::{Page, StoreError, Tx, table};
use crate::row::RevocationRow;

/// The most of a tenant that may still refuse a token: all of them are read twice a minute.
pub const MAX_REVOCATIONS: u64 = 2_000;

/// Revocations of the tenant's tokens.
#[derive(Debug, Clone, Copy)]
pub struct Revocations<'a>(pub(super) &'a Tx);

impl Revocations<'_> {
    /// Adds one.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id is taken.
    pub async fn insert(&self, row: &RevocationRow) -> Result<(), StoreError> {
        table::insert(self.0, row).await
    }

    /// The one with this id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn get(&self, id: RevocationId) -> Result<Option<RevocationRow>, StoreError> {
        table::get(self.0, id.uuid()).await
    }

    /// Revocations in the order in which they were told.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list(
        &self,
        after: Option<RevocationId>,
        limit: u64,
    ) -> Result<Page<RevocationRow, RevocationId>, StoreError> {
        let after = after.map(RevocationId::uuid);
        let rows = table::list(self.0, Condition::all(), after, limit).await?;
        Ok(Page::cut(rows, limit, |row: &RevocationRow| row.id))
    }

    /// Those that refuse tokens issued at `since` or later, up to [`MAX_REVOCATIONS`].
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn since(&self, since: DateTime<Utc>) -> Result<Vec<RevocationRow>, StoreError> {
        let select = table::rows::<RevocationRow>(self.0)
            .filter(Expr::col("issued_until").gte(since))
            .limit(MAX_REVOCATIONS);
        table::all(self.0, select).await
    }
}

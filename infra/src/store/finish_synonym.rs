//! Finish words of a tenant's own.

use domain::id::FinishSynonymId;
use sea_orm::Condition;

use super::{Page, StoreError, Tx, table};
use crate::row::FinishSynonymRow;

/// The most of a tenant: all of them are read for each file.
pub const MAX_FINISH_SYNONYMS: u64 = 2_000;

/// Finish words of the tenant's own.
#[derive(Debug, Clone, Copy)]
pub struct FinishSynonyms<'a>(pub(super) &'a Tx);

impl FinishSynonyms<'_> {
    /// Adds one.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id or word is taken.
    pub async fn insert(&self, row: &FinishSynonymRow) -> Result<(), StoreError> {
        table::insert(self.0, row).await
    }

    /// The one with this id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn get(&self, id: FinishSynonymId) -> Result<Option<FinishSynonymRow>, StoreError> {
        table::get(self.0, id.uuid()).await
    }

    /// Words in the order in which they were told.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list(
        &self,
        after: Option<FinishSynonymId>,
        limit: u64,
    ) -> Result<Page<FinishSynonymRow, FinishSynonymId>, StoreError> {
        let after = after.map(FinishSynonymId::uuid);
        let rows = table::list(self.0, Condition::all(), after, limit).await?;
        Ok(Page::cut(rows, limit, |row: &FinishSynonymRow| row.id))
    }

    /// All of them, up to [`MAX_FINISH_SYNONYMS`].
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn all(&self) -> Result<Vec<FinishSynonymRow>, StoreError> {
        Ok(self.list(None, MAX_FINISH_SYNONYMS).await?.items)
    }

    /// Deletes the one with this id, if it still has the expected version.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it is not there in that version.
    pub async fn delete(&self, id: FinishSynonymId, expected: i64) -> Result<(), StoreError> {
        table::delete::<FinishSynonymRow>(self.0, id.uuid(), expected).await
    }
}

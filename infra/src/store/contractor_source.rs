//! Contractor sources.

use domain::id::{ContractorId, SourceId};
use sea_orm::{Condition, PaginatorTrait, QueryFilter};

use super::{Access, Page, StoreError, Tx, table};
use crate::row::{ContractorSourceRow, SourceStatus};

/// The contractor sources of the tenant.
#[derive(Debug, Clone, Copy)]
pub struct ContractorSources<'a, A = Tx>(pub(super) &'a A);

impl ContractorSources<'_> {
    /// Adds a source.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id is taken, or its contractor is not there.
    pub async fn insert(&self, row: &ContractorSourceRow) -> Result<(), StoreError> {
        table::insert(self.0, row).await
    }

    /// Writes all columns; `row.version` is the new version, `expected` the one that is there.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it is not there in that version.
    pub async fn update(&self, row: &ContractorSourceRow, expected: i64) -> Result<(), StoreError> {
        table::update(self.0, row, row.id.uuid(), expected).await
    }
}

impl ContractorSources<'_> {
    /// How many there are whose messages are taken.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn count_enabled(&self) -> Result<u64, StoreError> {
        let is_enabled = table::is("status", SourceStatus::Enabled.as_str());
        let rows = table::rows::<ContractorSourceRow>(self.0).filter(is_enabled);
        Ok(rows.count(&self.0.inner).await?)
    }
}

impl<A: Access> ContractorSources<'_, A> {
    /// The source with this id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn get(&self, id: SourceId) -> Result<Option<ContractorSourceRow>, StoreError> {
        table::get(self.0, id.uuid()).await
    }

    /// Sources in the order of their ids, which is that of their making; those of one contractor if it is named, and
    /// only those whose messages are taken if `enabled`.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list(
        &self,
        contractor: Option<ContractorId>,
        enabled: bool,
        (after, limit): (Option<SourceId>, u64),
    ) -> Result<Page<ContractorSourceRow, SourceId>, StoreError> {
        let status = SourceStatus::Enabled.as_str();
        let filter = Condition::all()
            .add_option(contractor.map(|id| table::is("contractor_id", id.uuid())))
            .add_option(enabled.then(|| table::is("status", status)));
        let rows = table::list(self.0, filter, after.map(SourceId::uuid), limit).await?;
        Ok(Page::cut(rows, limit, |row: &ContractorSourceRow| row.id))
    }
}

//! Contractors.

use domain::id::ContractorId;
use sea_orm::Condition;

use super::{Access, Page, StoreError, Tx, table};
use crate::row::ContractorRow;

/// The contractors of the tenant.
#[derive(Debug, Clone, Copy)]
pub struct Contractors<'a, A = Tx>(pub(super) &'a A);

impl Contractors<'_> {
    /// Adds a contractor.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id or its external name is taken.
    pub async fn insert(&self, row: &ContractorRow) -> Result<(), StoreError> {
        table::insert(self.0, row).await
    }
}

impl<A: Access> Contractors<'_, A> {
    /// The contractor with this id.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn get(&self, id: ContractorId) -> Result<Option<ContractorRow>, StoreError> {
        table::get(self.0, id.uuid()).await
    }

    /// Those of these contractors that are there, in the order of their ids.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn get_many(&self, ids: &[ContractorId]) -> Result<Vec<ContractorRow>, StoreError> {
        let ids: Vec<uuid::Uuid> = ids.iter().map(|id| id.uuid()).collect();
        table::get_many(self.0, &ids).await
    }

    /// Contractors in the order of their ids, which is that of their registration.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn list(
        &self,
        after: Option<ContractorId>,
        limit: u64,
    ) -> Result<Page<ContractorRow, ContractorId>, StoreError> {
        let rows = table::list(
            self.0,
            Condition::all(),
            after.map(ContractorId::uuid),
            limit,
        )
        .await?;
        Ok(Page::cut(rows, limit, |row: &ContractorRow| row.id))
    }
}

impl Contractors<'_> {
    /// Writes all columns; `row.version` is the new version, `expected` the one that is there.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it is not there in that version. [`StoreError::Conflict`]: its external name is
    /// taken.
    pub async fn update(&self, row: &ContractorRow, expected: i64) -> Result<(), StoreError> {
        table::update(self.0, row, row.id.uuid(), expected).await
    }
}

//! Links to completion forms.

use domain::id::{CompletionLinkId, ContractorId, PlanId};
use sea_orm::Condition;

use super::{Access, Page, StoreError, Tx, table};
use crate::row::CompletionLinkRow;

/// The links to completion forms of the tenant.
#[derive(Debug, Clone, Copy)]
pub struct CompletionLinks<'a, A = Tx>(pub(super) &'a A);

impl CompletionLinks<'_> {
    /// Adds a link.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id is taken, or its plan or contractor is not there.
    pub async fn insert(&self, row: &CompletionLinkRow) -> Result<(), StoreError> {
        table::insert(self.0, row).await
    }

    /// Writes all columns; `row.version` is the new version, `expected` the one that is there.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it is not there in that version.
    pub async fn update(&self, row: &CompletionLinkRow, expected: i64) -> Result<(), StoreError> {
        table::update(self.0, row, row.id.uuid(), expected).await
    }
}

impl<A: Access> CompletionLinks<'_, A> {
    /// The link with this id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn get(&self, id: CompletionLinkId) -> Result<Option<CompletionLinkRow>, StoreError> {
        table::get(self.0, id.uuid()).await
    }

    /// The links of a plan in the order of their making; those of one contractor if it is named.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list(
        &self,
        plan: PlanId,
        contractor: Option<ContractorId>,
        (after, limit): (Option<CompletionLinkId>, u64),
    ) -> Result<Page<CompletionLinkRow, CompletionLinkId>, StoreError> {
        let filter = Condition::all()
            .add(table::is("plan_id", plan.uuid()))
            .add_option(contractor.map(|id| table::is("contractor_id", id.uuid())));
        let rows = table::list(self.0, filter, after.map(CompletionLinkId::uuid), limit).await?;
        Ok(Page::cut(rows, limit, |row: &CompletionLinkRow| row.id))
    }
}

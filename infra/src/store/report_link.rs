//! Links to reports.

use domain::id::ReportLinkId;
use sea_orm::Condition;

use super::{Access, Page, StoreError, Tx, table};
use crate::row::ReportLinkRow;

/// The links to reports of the tenant.
#[derive(Debug, Clone, Copy)]
pub struct ReportLinks<'a, A = Tx>(pub(super) &'a A);

impl ReportLinks<'_> {
    /// Adds a link.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id is taken.
    pub async fn insert(&self, row: &ReportLinkRow) -> Result<(), StoreError> {
        table::insert(self.0, row).await
    }

    /// Writes all columns; `row.version` is the new version, `expected` the one that is there.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it is not there in that version.
    pub async fn update(&self, row: &ReportLinkRow, expected: i64) -> Result<(), StoreError> {
        table::update(self.0, row, row.id.uuid(), expected).await
    }
}

impl<A: Access> ReportLinks<'_, A> {
    /// The link with this id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn get(&self, id: ReportLinkId) -> Result<Option<ReportLinkRow>, StoreError> {
        table::get(self.0, id.uuid()).await
    }

    /// Links in the order of their ids, which is that of their making.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list(
        &self,
        after: Option<ReportLinkId>,
        limit: u64,
    ) -> Result<Page<ReportLinkRow, ReportLinkId>, StoreError> {
        let all = Condition::all();
        let rows = table::list(self.0, all, after.map(ReportLinkId::uuid), limit).await?;
        Ok(Page::cut(rows, limit, |row: &ReportLinkRow| row.id))
    }
}

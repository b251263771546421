//! What may be spent on the floors of sites.

use domain::id::{BudgetId, SiteId};
use sea_orm::sea_query::{Expr, ExprTrait};
use sea_orm::{Condition, QueryFilter};
use uuid::Uuid;

use super::{Page, StoreError, Tx, table};
use crate::row::BudgetRow;

/// What may be spent at the tenant's sites.
#[derive(Debug, Clone, Copy)]
pub struct Budgets<'a>(pub(super) &'a Tx);

impl Budgets<'_> {
    /// Adds one.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id is taken, the year has one, or its site is not there.
    pub async fn insert(&self, row: &BudgetRow) -> Result<(), StoreError> {
        table::insert(self.0, row).await
    }

    /// The one with this id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn get(&self, id: BudgetId) -> Result<Option<BudgetRow>, StoreError> {
        table::get(self.0, id.uuid()).await
    }

    /// Those of a site, in the order of their making.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list(
        &self,
        site: SiteId,
        after: Option<BudgetId>,
        limit: u64,
    ) -> Result<Page<BudgetRow, BudgetId>, StoreError> {
        let condition = Condition::all().add(table::is("site_id", site.uuid()));
        let rows = table::list(self.0, condition, after.map(BudgetId::uuid), limit).await?;
        Ok(Page::cut(rows, limit, |row: &BudgetRow| row.id))
    }

    /// Those of these sites in these years; hundreds of sites by each statement.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn of_sites(
        &self,
        sites: &[SiteId],
        (first, last): (i64, i64),
    ) -> Result<Vec<BudgetRow>, StoreError> {
        let sites: Vec<Uuid> = sites.iter().map(|id| id.uuid()).collect();
        let mut found = Vec::new();
        for chunk in sites.chunks(table::MAX_KEYS) {
            let select = table::rows::<BudgetRow>(self.0)
                .filter(Expr::col("site_id").is_in(chunk.iter().copied()))
                .filter(Expr::col("year").between(first, last));
            found.extend(table::all(self.0, select).await?);
        }
        Ok(found)
    }

    /// Writes all columns; `row.version` is the new version, `expected` the one that is there.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it is not there in that version.
    pub async fn update(&self, row: &BudgetRow, expected: i64) -> Result<(), StoreError> {
        table::update(self.0, row, row.id.uuid(), expected).await
    }
}

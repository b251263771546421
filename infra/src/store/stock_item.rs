//! What sites have left over of their products.

use chrono::NaiveDate;
use domain::id::{SiteId, StockItemId};
use sea_orm::Condition;
use sea_orm::sea_query::{Expr, ExprTrait};

use super::{Page, StoreError, Tx, table};
use crate::row::StockItemRow;

/// Which of what is left over; what is absent is not asked for.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct StockItemFilter {
    /// Only of this product.
    pub product: Option<String>,
    /// Only what may be used on this day for the last time, or on an earlier one.
    pub expires_by: Option<NaiveDate>,
}

/// What the tenant's sites have left over.
#[derive(Debug, Clone, Copy)]
pub struct StockItems<'a>(pub(super) &'a Tx);

impl StockItems<'_> {
    /// Adds one.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id is taken, or its site is not there.
    pub async fn insert(&self, row: &StockItemRow) -> Result<(), StoreError> {
        table::insert(self.0, row).await
    }

    /// The one with this id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn get(&self, id: StockItemId) -> Result<Option<StockItemRow>, StoreError> {
        table::get(self.0, id.uuid()).await
    }

    /// What a site has, in the order of its registration.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list(
        &self,
        site: SiteId,
        filter: &StockItemFilter,
        after: Option<StockItemId>,
        limit: u64,
    ) -> Result<Page<StockItemRow, StockItemId>, StoreError> {
        let product = filter.product.as_deref();
        // Days are kept as texts of one length, whose order is that of the days.
        let day = filter.expires_by.map(|day| day.to_string());
        let condition = Condition::all()
            .add(table::is("site_id", site.uuid()))
            .add_option(product.map(|key| table::is("product", key)))
            .add_option(day.map(|day| Expr::col("expires_on").lte(day)));
        let rows = table::list(self.0, condition, after.map(StockItemId::uuid), limit).await?;
        Ok(Page::cut(rows, limit, |row: &StockItemRow| row.id))
    }

    /// Writes all columns; `row.version` is the new version, `expected` the one that is there.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it is not there in that version.
    pub async fn update(&self, row: &StockItemRow, expected: i64) -> Result<(), StoreError> {
        table::update(self.0, row, row.id.uuid(), expected).await
    }

    /// Deletes the one with this id, if it still has the expected version.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it is not there in that version.
    pub async fn delete(&self, id: StockItemId, expected: i64) -> Result<(), StoreError> {
        table::delete::<StockItemRow>(self.0, id.uuid(), expected).await
    }
}

//! Tenants' own products.

use sea_orm::sea_query::{Expr, Order};
use sea_orm::{QueryFilter, QueryOrder, QuerySelect};

use super::{StoreError, Tx, table};
use crate::row::ProductRow;

/// The products of the tenant's own.
#[derive(Debug, Clone, Copy)]
pub struct Products<'a>(pub(super) &'a Tx);

impl Products<'_> {
    /// Adds a product.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id or its key is taken.
    pub async fn insert(&self, row: &ProductRow) -> Result<(), StoreError> {
        table::insert(self.0, row).await
    }

    /// The product with this key.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn get(&self, key: &str) -> Result<Option<ProductRow>, StoreError> {
        let select = table::rows::<ProductRow>(self.0).filter(table::is("key", key));
        Ok(table::all(self.0, select.limit(1)).await?.pop())
    }

    /// The first `limit` products in the order of their registration, withdrawn ones too.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn first(&self, limit: u64) -> Result<Vec<ProductRow>, StoreError> {
        let select = table::rows::<ProductRow>(self.0)
            .order_by(Expr::col("id"), Order::Asc)
            .limit(limit);
        table::all(self.0, select).await
    }

    /// Writes all columns; `row.version` is the new version, `expected` the one that is there.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it is not there in that version.
    pub async fn update(&self, row: &ProductRow, expected: i64) -> Result<(), StoreError> {
        table::update(self.0, row, row.id.uuid(), expected).await
    }
}

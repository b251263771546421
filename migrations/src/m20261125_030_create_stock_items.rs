//! Creates the table of what sites have left over of their products.

use sea_orm_migration::sea_query::Table;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::{Null, TenantTable, create_index};

/// The step.
pub(crate) struct CreateStockItems;

impl MigrationName for CreateStockItems {
    fn name(&self) -> &'static str {
        "m20261125_030_create_stock_items"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CreateStockItems {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        TenantTable::new(manager, "stock_items")
            .uuids(&["id", "site_id"], Null::Never)
            .integers(&["version"], Null::Never)
            .texts(&["product"], Null::Never)
            .texts(&["expires_on"], Null::Allowed)
            .texts(&["document"], Null::Never)
            .moments(&["created_at", "updated_at"], Null::Never)
            .texts(&["by_client", "by_subject"], Null::Allowed)
            .key(&["tenant_id", "id"])
            .refers("site_id", "sites")
            .check("version", r#""version" >= 1"#)
            .create(manager)
            .await?;
        // A site has a few hundred at most: product and date are compared row by row.
        let site = ["tenant_id", "site_id", "id"];
        create_index(manager, "stock_items", "site", &site).await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let drop = Table::drop().table("stock_items").take();
        manager.drop_table(drop).await
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

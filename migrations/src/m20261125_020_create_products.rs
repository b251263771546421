//! Creates the table of tenants' own products with the figures of their data sheets.

use sea_orm_migration::sea_query::Table;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::{Null, TenantTable, create_unique};

/// The step.
pub(crate) struct CreateProducts;

impl MigrationName for CreateProducts {
    fn name(&self) -> &'static str {
        "m20261125_020_create_products"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CreateProducts {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        TenantTable::new(manager, "products")
            .uuids(&["id"], Null::Never)
            .integers(&["version"], Null::Never)
            .texts(&["key", "class", "name", "status", "document"], Null::Never)
            .moments(&["created_at", "updated_at"], Null::Never)
            .key(&["tenant_id", "id"])
            .of_tenant()
            .check("version", r#""version" >= 1"#)
            .one_of("status", &["in_use", "withdrawn"])
            .create(manager)
            .await?;
        create_unique(manager, "products", "key", &["tenant_id", "key"]).await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let drop = Table::drop().table("products").take();
        manager.drop_table(drop).await
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

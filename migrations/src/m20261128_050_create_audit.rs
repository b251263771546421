//! Creates the table of who did what: rows are added and never changed, and each is tied to the one before.

use sea_orm_migration::sea_query::Table;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::{Null, TenantTable, create_index};

/// The step.
pub(crate) struct CreateAudit;

impl MigrationName for CreateAudit {
    fn name(&self) -> &'static str {
        "m20261128_050_create_audit"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CreateAudit {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        // No foreign key to the tenant: it would lock the tenant's one row in every transaction.
        TenantTable::new(manager, "audit")
            .integers(&["number"], Null::Never)
            .moments(&["at"], Null::Never)
            .texts(&["client", "subject"], Null::Allowed)
            .texts(&["operation", "resource"], Null::Never)
            .texts(&["before_hash", "after_hash"], Null::Allowed)
            .texts(&["hash"], Null::Never)
            .key(&["tenant_id", "number"])
            .check("number", r#""number" >= 1"#)
            .create(manager)
            .await?;
        // By which the last row about a resource is found.
        let resource = ["tenant_id", "resource", "number"];
        create_index(manager, "audit", "resource", &resource).await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let drop = Table::drop().table("audit").take();
        manager.drop_table(drop).await
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

//! Creates the table of commitments: which plans were accepted, and under which words reports group them.

use sea_orm_migration::sea_query::Table;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::{Null, TenantTable, create_index};

/// The step.
pub(crate) struct CreateCommitments;

impl MigrationName for CreateCommitments {
    fn name(&self) -> &'static str {
        "m20261125_002_records_commitments"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CreateCommitments {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        TenantTable::new(manager, "commitments")
            .uuids(&["plan_id", "site_id", "surface_id"], Null::Never)
            .texts(&["storey", "material", "process", "goal"], Null::Never)
            .texts(&["month", "currency"], Null::Never)
            .key(&["tenant_id", "plan_id"])
            .refers("plan_id", "plans")
            .check("month", r#"length("month") = 7"#)
            .check("currency", r#"length("currency") = 3"#)
            .create(manager)
            .await?;
        let surface = ["tenant_id", "surface_id", "goal"];
        create_index(manager, "commitments", "surface", &surface).await?;
        let month = ["tenant_id", "month", "site_id"];
        create_index(manager, "commitments", "month", &month).await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let drop = Table::drop().table("commitments").take();
        manager.drop_table(drop).await
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

//! Creates the table of links to reports: what each asks for, and the hash of its secret.

use sea_orm_migration::sea_query::Table;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::{Null, TenantTable};

/// The step.
pub(crate) struct CreateReportLinks;

impl MigrationName for CreateReportLinks {
    fn name(&self) -> &'static str {
        "m20261128_061_create_report_links"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CreateReportLinks {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        TenantTable::new(manager, "report_links")
            .uuids(&["id"], Null::Never)
            .integers(&["version"], Null::Never)
            .texts(&["name", "status", "query", "secret_hash"], Null::Never)
            .moments(&["expires_at"], Null::Never)
            .moments(&["created_at", "updated_at"], Null::Never)
            .texts(&["by_client", "by_subject"], Null::Allowed)
            .key(&["tenant_id", "id"])
            .of_tenant()
            .check("version", r#""version" >= 1"#)
            .check("secret_hash", r#"length("secret_hash") = 64"#)
            .one_of("status", &["active", "revoked"])
            .create(manager)
            .await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let drop = Table::drop().table("report_links").take();
        manager.drop_table(drop).await
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

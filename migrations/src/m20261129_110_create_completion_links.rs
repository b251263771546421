//! Creates the table of links to completion forms: the plan whose work each reports, and the hash of its secret.

use sea_orm_migration::sea_query::Table;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::{Null, TenantTable, create_index};

/// The step.
pub(crate) struct CreateCompletionLinks;

impl MigrationName for CreateCompletionLinks {
    fn name(&self) -> &'static str {
        "m20261129_110_create_completion_links"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CreateCompletionLinks {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        TenantTable::new(manager, "completion_links")
            .uuids(&["id", "plan_id"], Null::Never)
            .uuids(&["contractor_id"], Null::Allowed)
            .integers(&["version", "n_reports", "max_reports"], Null::Never)
            .texts(&["status", "language", "secret_hash"], Null::Never)
            .moments(&["expires_at"], Null::Never)
            .moments(&["created_at", "updated_at"], Null::Never)
            .texts(&["by_client", "by_subject"], Null::Allowed)
            .key(&["tenant_id", "id"])
            .of_tenant()
            .refers("plan_id", "plans")
            .refers("contractor_id", "contractors")
            .check("version", r#""version" >= 1"#)
            .check("secret_hash", r#"length("secret_hash") = 64"#)
            .check(
                "reports",
                r#""n_reports" >= 0 AND "n_reports" <= "max_reports""#,
            )
            .one_of("status", &["active", "revoked"])
            .create(manager)
            .await?;
        let plan = ["tenant_id", "plan_id", "id"];
        create_index(manager, "completion_links", "plan", &plan).await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let drop = Table::drop().table("completion_links").take();
        manager.drop_table(drop).await
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

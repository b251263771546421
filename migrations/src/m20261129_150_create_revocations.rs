//! Creates the table of revocations: whose tokens are refused, and those issued up to when.

use sea_orm_migration::sea_query::Table;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::{Null, TenantTable, create_index};

/// The step.
pub(crate) struct CreateRevocations;

impl MigrationName for CreateRevocations {
    fn name(&self) -> &'static str {
        "m20261129_150_create_revocations"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CreateRevocations {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        TenantTable::new(manager, "revocations")
            .uuids(&["id"], Null::Never)
            .integers(&["version"], Null::Never)
            .texts(&["holder", "name", "reason"], Null::Never)
            .texts(&["by_client", "by_subject"], Null::Allowed)
            .moments(&["issued_until", "created_at"], Null::Never)
            .key(&["tenant_id", "id"])
            .of_tenant()
            .check("version", r#""version" >= 1"#)
            .one_of("holder", &["subject", "client"])
            .create(manager)
            .await?;
        // What may still refuse a token is read twice a minute.
        let until = ["tenant_id", "issued_until"];
        create_index(manager, "revocations", "until", &until).await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let drop = Table::drop().table("revocations").take();
        manager.drop_table(drop).await
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

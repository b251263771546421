//! Creates the tables of what contractors' own systems send: the sources, the events that arrived, and where each report
//! stands; completions get a place for what is said of them later.

use sea_orm_migration::sea_query::Table;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::{Null, TenantTable, add_text, create_index};

/// The step.
pub(crate) struct CreateContractorSources;

impl MigrationName for CreateContractorSources {
    fn name(&self) -> &'static str {
        "m20261125_032_create_contractor_sources"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CreateContractorSources {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        sources(manager).await?;
        events(manager).await?;
        reports(manager).await?;
        add_text(manager, "completions", "amendments", "").await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let drop = Table::alter()
            .table("completions")
            .drop_column("amendments")
            .take();
        manager.alter_table(drop).await?;
        for table in ["inbound_reports", "inbound_events", "contractor_sources"] {
            manager
                .drop_table(Table::drop().table(table).take())
                .await?;
        }
        Ok(())
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

async fn sources(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    TenantTable::new(manager, "contractor_sources")
        .uuids(&["id", "contractor_id"], Null::Never)
        .integers(&["version"], Null::Never)
        .texts(&["name", "status", "secret"], Null::Never)
        .texts(&["previous_secret"], Null::Allowed)
        .moments(&["previous_until"], Null::Allowed)
        .moments(&["created_at", "updated_at"], Null::Never)
        .texts(&["by_client", "by_subject"], Null::Allowed)
        .key(&["tenant_id", "id"])
        .of_tenant()
        .refers("contractor_id", "contractors")
        .check("version", r#""version" >= 1"#)
        .check(
            "previous",
            r#"("previous_secret" IS NULL) = ("previous_until" IS NULL)"#,
        )
        .one_of("status", &["enabled", "disabled"])
        .create(manager)
        .await?;
    let contractor = ["tenant_id", "contractor_id", "id"];
    create_index(manager, "contractor_sources", "contractor", &contractor).await
}

async fn events(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    TenantTable::new(manager, "inbound_events")
        .uuids(&["source_id"], Null::Never)
        .texts(&["webhook_id", "fingerprint", "payload"], Null::Never)
        .texts(&["reply"], Null::Allowed)
        .moments(&["created_at"], Null::Never)
        .key(&["tenant_id", "source_id", "webhook_id"])
        .refers("source_id", "contractor_sources")
        .create(manager)
        .await?;
    let created = ["tenant_id", "created_at"];
    create_index(manager, "inbound_events", "created", &created).await
}

async fn reports(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    TenantTable::new(manager, "inbound_reports")
        .uuids(&["contractor_id"], Null::Never)
        .texts(
            &[
                "external_system",
                "external_id",
                "last_kind",
                "last_webhook_id",
            ],
            Null::Never,
        )
        .moments(&["last_at"], Null::Never)
        .texts(&["reported_as"], Null::Allowed)
        .uuids(&["completion_id"], Null::Allowed)
        .key(&[
            "tenant_id",
            "contractor_id",
            "external_system",
            "external_id",
        ])
        .refers("contractor_id", "contractors")
        .refers("completion_id", "completions")
        .create(manager)
        .await?;
    // By which a completion is deleted with its tenant.
    let completion = ["tenant_id", "completion_id"];
    create_index(manager, "inbound_reports", "completion", &completion).await
}

//! Creates the table of what has become of schedules that are being done.

use sea_orm_migration::sea_query::Table;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::{Null, TenantTable};

/// The step.
pub(crate) struct CreateScheduleRevisions;

impl MigrationName for CreateScheduleRevisions {
    fn name(&self) -> &'static str {
        "m20261129_140_create_schedule_revisions"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CreateScheduleRevisions {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        TenantTable::new(manager, "schedule_revisions")
            .uuids(&["schedule_id"], Null::Never)
            .integers(&["number", "version"], Null::Never)
            .texts(
                &["request", "summary", "moves", "tasks", "visits"],
                Null::Never,
            )
            .moments(&["as_of", "created_at"], Null::Never)
            .key(&["tenant_id", "schedule_id", "number"])
            .of_tenant()
            .refers("schedule_id", "schedules")
            .check("number", r#""number" >= 1"#)
            .check("version", r#""version" >= 1"#)
            .create(manager)
            .await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        manager
            .drop_table(Table::drop().table("schedule_revisions").take())
            .await
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

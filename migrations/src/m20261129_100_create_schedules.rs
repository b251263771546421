//! Creates the tables of schedules: what was asked and what came of it, and the tasks of each choice.

use sea_orm_migration::sea_query::Table;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::{Null, TenantTable, create_index};

/// The step.
pub(crate) struct CreateSchedules;

impl MigrationName for CreateSchedules {
    fn name(&self) -> &'static str {
        "m20261129_100_create_schedules"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CreateSchedules {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        TenantTable::new(manager, "schedules")
            .uuids(&["id", "site_id"], Null::Never)
            .integers(&["version", "n_done", "n_total", "n_attempts"], Null::Never)
            .texts(&["status", "request"], Null::Never)
            .texts(
                &[
                    "result",
                    "lease_owner",
                    "problem",
                    "by_client",
                    "by_subject",
                ],
                Null::Allowed,
            )
            .moments(&["created_at"], Null::Never)
            .integers(&["chosen"], Null::Allowed)
            .moments(
                &["best_until", "lease_until", "started_at", "finished_at"],
                Null::Allowed,
            )
            .key(&["tenant_id", "id"])
            .of_tenant()
            .refers("site_id", "sites")
            .check("version", r#""version" >= 1"#)
            .not_negative(&["n_done", "n_attempts"])
            .check("progress", r#""n_done" <= "n_total""#)
            .one_of(
                "status",
                &["queued", "running", "succeeded", "failed", "cancelled"],
            )
            .read_by_worker()
            .create(manager)
            .await?;
        // Who looks for work looks among all tenants.
        let due = &["status", "created_at"];
        create_index(manager, "schedules", "due", due).await?;
        TenantTable::new(manager, "schedule_choices")
            .uuids(&["schedule_id"], Null::Never)
            .integers(&["number"], Null::Never)
            .texts(&["tasks"], Null::Never)
            .key(&["tenant_id", "schedule_id", "number"])
            .of_tenant()
            .refers("schedule_id", "schedules")
            .create(manager)
            .await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        for table in ["schedule_choices", "schedules"] {
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

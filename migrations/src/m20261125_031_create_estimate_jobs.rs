//! Creates the tables of estimates that are made in the background: the jobs, and the parts in which each is worked on.

use sea_orm_migration::sea_query::Table;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::{Null, TenantTable, create_index};

/// The step.
pub(crate) struct CreateEstimateJobs;

impl MigrationName for CreateEstimateJobs {
    fn name(&self) -> &'static str {
        "m20261125_031_create_estimate_jobs"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CreateEstimateJobs {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        TenantTable::new(manager, "estimate_jobs")
            .uuids(&["id", "site_id"], Null::Never)
            .integers(&["version", "n_done", "n_total", "n_attempts"], Null::Never)
            .texts(&["status", "request"], Null::Never)
            .texts(
                &["lease_owner", "problem", "by_client", "by_subject"],
                Null::Allowed,
            )
            .moments(&["created_at"], Null::Never)
            .moments(&["lease_until", "started_at", "finished_at"], Null::Allowed)
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
        create_index(manager, "estimate_jobs", "due", due).await?;
        TenantTable::new(manager, "estimate_job_parts")
            .uuids(&["job_id"], Null::Never)
            .integers(&["number"], Null::Never)
            .bytes("surfaces", Null::Never)
            .texts(&["lines"], Null::Allowed)
            .key(&["tenant_id", "job_id", "number"])
            .of_tenant()
            .refers("job_id", "estimate_jobs")
            .create(manager)
            .await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        for table in ["estimate_job_parts", "estimate_jobs"] {
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

//! Creates the dates on which work is due, the marks that say of which floors they are reckoned, and the budgets of sites.

use sea_orm_migration::sea_orm::{ConnectionTrait, DbBackend};
use sea_orm_migration::sea_query::Table;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::{Null, TenantTable, create_index, create_unique};

/// Nothing is reckoned of the floors that are there already.
const FILL: &str = "INSERT INTO due_surfaces (tenant_id, surface_id, site_id, reckoned_with)
    SELECT tenant_id, id, site_id, '' FROM surfaces";

/// Takes the fence off for a statement of the owner's, and puts it on again.
const FENCED: [&str; 2] = ["surfaces", "due_surfaces"];

/// The step.
pub(crate) struct CreateDue;

impl MigrationName for CreateDue {
    fn name(&self) -> &'static str {
        "m20261128_070_create_due"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CreateDue {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        TenantTable::new(manager, "due_surfaces")
            .uuids(&["surface_id", "site_id"], Null::Never)
            // The edition of the knowledge base; empty where something was told or done since.
            .texts(&["reckoned_with"], Null::Never)
            .key(&["tenant_id", "surface_id"])
            .refers("surface_id", "surfaces")
            .read_by_worker()
            .create(manager)
            .await?;
        let reckoned = ["tenant_id", "reckoned_with", "site_id"];
        create_index(manager, "due_surfaces", "reckoned", &reckoned).await?;
        TenantTable::new(manager, "due_items")
            .uuids(&["surface_id"], Null::Never)
            .texts(&["process"], Null::Never)
            .uuids(&["site_id"], Null::Never)
            .integers(&["is_routine"], Null::Never)
            .texts(&["due_on"], Null::Never)
            .texts(&["last_done_on"], Null::Allowed)
            .texts(&["why", "counted_from", "counted_from_on"], Null::Never)
            .integers(&["interval_days"], Null::Never)
            // The day from which the floor is there no more, and the due date that an event told of.
            .texts(&["gone_on", "told_due_on"], Null::Allowed)
            .key(&["tenant_id", "surface_id", "process"])
            .refers("surface_id", "surfaces")
            .check("is_routine", r#""is_routine" IN (0, 1)"#)
            .check("interval_days", r#""interval_days" >= 1"#)
            .read_by_worker()
            .create(manager)
            .await?;
        let any = ["tenant_id", "due_on", "surface_id", "process"];
        create_index(manager, "due_items", "any_site", &any).await?;
        let site = ["tenant_id", "site_id", "due_on", "surface_id", "process"];
        create_index(manager, "due_items", "site", &site).await?;
        TenantTable::new(manager, "budgets")
            .uuids(&["id", "site_id"], Null::Never)
            .integers(&["year", "version", "amount"], Null::Never)
            .texts(&["currency", "document"], Null::Never)
            .moments(&["created_at", "updated_at"], Null::Never)
            .texts(&["by_client", "by_subject"], Null::Allowed)
            .key(&["tenant_id", "id"])
            .refers("site_id", "sites")
            .check("version", r#""version" >= 1"#)
            .not_negative(&["amount"])
            .create(manager)
            .await?;
        let year = ["tenant_id", "site_id", "year"];
        create_unique(manager, "budgets", "year", &year).await?;
        fill(manager).await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        for table in ["budgets", "due_items", "due_surfaces"] {
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

async fn fill(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    let (connection, is_server) = (
        manager.get_connection(),
        manager.get_database_backend() == DbBackend::Postgres,
    );
    for table in FENCED.into_iter().filter(|_| is_server) {
        let sql = format!("ALTER TABLE {table} NO FORCE ROW LEVEL SECURITY");
        connection.execute_unprepared(&sql).await?;
    }
    connection.execute_unprepared(FILL).await?;
    for table in FENCED.into_iter().filter(|_| is_server) {
        let sql = format!("ALTER TABLE {table} FORCE ROW LEVEL SECURITY");
        connection.execute_unprepared(&sql).await?;
    }
    Ok(())
}

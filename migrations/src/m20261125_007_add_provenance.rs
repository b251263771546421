//! Adds who wrote a row to the tables that callers write and who made an event true to the outbox, makes the external
//! names of what is recorded unique among those that count, and adds, on PostgreSQL, the index by which completions are
//! found by their time.

use sea_orm_migration::sea_orm::{ConnectionTrait, DbBackend};
use sea_orm_migration::sea_query::{ColumnDef, Index, Table};
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::create_index;

/// The tables whose rows callers write: a row says who changed it last, its events say who changed it when.
const WRITTEN: [&str; 11] = [
    "sites",
    "rate_cards",
    "contractors",
    "surfaces",
    "plans",
    "estimates",
    "completions",
    "readings",
    "observations",
    "products",
    "outbox",
];

/// The program that wrote a row last, and on whose behalf.
const COLUMNS: [&str; 2] = ["by_client", "by_subject"];

/// By which PostgreSQL finds completions by their time.
const STARTED: [&str; 3] = ["tenant_id", "started_at", "id"];

/// The tables whose rows are recorded, corrected by others and never changed.
const RECORDED: [&str; 3] = ["completions", "readings", "observations"];

/// The step.
pub(crate) struct AddProvenance;

impl MigrationName for AddProvenance {
    fn name(&self) -> &'static str {
        "m20261125_007_add_provenance"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for AddProvenance {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        for table in WRITTEN {
            for column in COLUMNS {
                let mut definition = ColumnDef::new(column).text().take();
                if manager.get_database_backend() == DbBackend::Postgres {
                    definition.extra(r#"COLLATE "C""#);
                }
                let add = Table::alter().table(table).add_column(definition).take();
                manager.alter_table(add).await?;
            }
        }
        for table in RECORDED {
            // Raw, because a partial index has no other spelling that both databases share.
            let sql = format!(
                r#"CREATE UNIQUE INDEX "uq_{table}_external" ON "{table}" ("tenant_id", "external_system", "external_id")
                WHERE "status" = 'recorded' AND "external_system" IS NOT NULL"#
            );
            manager.get_connection().execute_unprepared(&sql).await?;
        }
        // SQLite would take it for any `started_from`, however wide, and sort all that it finds for each page.
        if manager.get_database_backend() == DbBackend::Postgres {
            create_index(manager, "completions", "started", &STARTED).await?;
        }
        Ok(())
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        if manager.get_database_backend() == DbBackend::Postgres {
            drop_index(manager, "completions", "ix_completions_started").await?;
        }
        for table in RECORDED {
            drop_index(manager, table, &format!("uq_{table}_external")).await?;
        }
        for table in WRITTEN {
            for column in COLUMNS {
                let drop = Table::alter().table(table).drop_column(column).take();
                manager.alter_table(drop).await?;
            }
        }
        Ok(())
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

async fn drop_index(
    manager: &SchemaManager<'_>,
    table: &'static str,
    name: &str,
) -> Result<(), DbErr> {
    let mut drop = Index::drop();
    drop.name(name).table(table);
    manager.drop_index(drop).await
}

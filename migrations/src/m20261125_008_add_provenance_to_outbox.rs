//! Adds to each event who made it true: a row says who changed it last, its events say who changed it when.

use sea_orm_migration::sea_orm::DbBackend;
use sea_orm_migration::sea_query::{ColumnDef, Table};
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

const COLUMNS: [&str; 2] = ["by_client", "by_subject"];

/// The step.
pub(crate) struct AddProvenanceToOutbox;

impl MigrationName for AddProvenanceToOutbox {
    fn name(&self) -> &'static str {
        "m20261125_008_add_provenance_to_outbox"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for AddProvenanceToOutbox {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        for column in COLUMNS {
            let mut definition = ColumnDef::new(column).text().take();
            if manager.get_database_backend() == DbBackend::Postgres {
                definition.extra(r#"COLLATE "C""#);
            }
            let add = Table::alter().table("outbox").add_column(definition).take();
            manager.alter_table(add).await?;
        }
        Ok(())
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        for column in COLUMNS {
            let drop = Table::alter().table("outbox").drop_column(column).take();
            manager.alter_table(drop).await?;
        }
        Ok(())
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

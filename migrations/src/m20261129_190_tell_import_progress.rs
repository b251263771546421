//! Adds how far whoever works on a file is: the stage, and how many of its spaces are done of how many.

use sea_orm_migration::sea_query::Table;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::{add_integer, add_text};

const TABLE: &str = "imports";
const COLUMNS: [&str; 3] = ["stage", "n_done", "n_total"];

/// The step.
pub(crate) struct TellImportProgress;

impl MigrationName for TellImportProgress {
    fn name(&self) -> &'static str {
        "m20261129_190_tell_import_progress"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for TellImportProgress {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let [stage, n_done, n_total] = COLUMNS;
        add_text(manager, TABLE, stage, "waiting").await?;
        add_integer(manager, TABLE, n_done).await?;
        add_integer(manager, TABLE, n_total).await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        for column in COLUMNS.iter().rev() {
            let drop = Table::alter().table(TABLE).drop_column(*column).take();
            manager.alter_table(drop).await?;
        }
        Ok(())
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

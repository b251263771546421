//! Lets completions tell of coverage and of drying beside production rates.
//!
//! What was told before is of rates. The column `activity` then names a class of product: to rename it would break replicas
//! that have not been replaced yet.

use sea_orm_migration::sea_orm::{ConnectionTrait, DbBackend};
use sea_orm_migration::sea_query::{ColumnDef, Index, Table};
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::create_index;

/// By which the last figures of a kind are found: of one that is rarely told the others are not read.
const LAST: [&str; 3] = ["tenant_id", "kind", "completion_id"];

/// The step.
pub(crate) struct CompletionsTellMore;

impl MigrationName for CompletionsTellMore {
    fn name(&self) -> &'static str {
        "m20261129_160_completions_tell_more"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CompletionsTellMore {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let mut kind = ColumnDef::new("kind");
        kind.text().not_null().default("rate");
        if manager.get_database_backend() == DbBackend::Postgres {
            kind.extra(r#"COLLATE "C""#);
        }
        let add = Table::alter()
            .table("completion_paces")
            .add_column(kind)
            .take();
        manager.alter_table(add).await?;
        create_index(manager, "completion_paces", "kind", &LAST).await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let mut drop = Index::drop();
        drop.name("ix_completion_paces_kind")
            .table("completion_paces");
        manager.drop_index(drop).await?;
        // What an older release would take for rates is forgotten.
        let sql = r#"DELETE FROM "completion_paces" WHERE "kind" <> 'rate'"#;
        manager.get_connection().execute_unprepared(sql).await?;
        let drop = Table::alter()
            .table("completion_paces")
            .drop_column("kind")
            .take();
        manager.alter_table(drop).await
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

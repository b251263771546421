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

/// By which those of a site are found.
const OF_SITE: [&str; 4] = ["tenant_id", "site_id", "kind", "completion_id"];

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
        create_index(manager, "completion_paces", "kind", &LAST).await?;
        create_index(manager, "completion_paces", "site_kind", &OF_SITE).await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        for name in ["ix_completion_paces_kind", "ix_completion_paces_site_kind"] {
            let mut drop = Index::drop();
            drop.name(name).table("completion_paces");
            manager.drop_index(drop).await?;
        }
        // What an older release would take for rates is forgotten, whosever it is.
        let mut forget = vec![r#"DELETE FROM "completion_paces" WHERE "kind" <> 'rate'"#];
        if manager.get_database_backend() == DbBackend::Postgres {
            forget.insert(
                0,
                "ALTER TABLE completion_paces NO FORCE ROW LEVEL SECURITY",
            );
            forget.push("ALTER TABLE completion_paces FORCE ROW LEVEL SECURITY");
        }
        for sql in forget {
            manager.get_connection().execute_unprepared(sql).await?;
        }
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

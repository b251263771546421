//! On PostgreSQL: long columns are compressed by lz4 where the server can. A plan is some tens of kilobytes and is kept with
//! each of its answers; the server's own way of compressing (pglz) took most of the time of such a write.

use sea_orm_migration::sea_orm::{ConnectionTrait, DbBackend};
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

/// The step.
pub(crate) struct CompressDocuments;

impl MigrationName for CompressDocuments {
    fn name(&self) -> &'static str {
        "m20261125_033_compress_documents"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CompressDocuments {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        compress(manager, "lz4").await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        compress(manager, "default").await
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

/// Rows that are there keep what they have; new ones are written the new way. A server built without lz4 is left as it is.
async fn compress(manager: &SchemaManager<'_>, method: &str) -> Result<(), DbErr> {
    if manager.get_database_backend() != DbBackend::Postgres {
        return Ok(());
    }
    let sql = format!(
        "DO $$
        DECLARE long record;
        BEGIN
            IF 'lz4' = ANY ((SELECT enumvals FROM pg_settings WHERE name = 'default_toast_compression')::text[]) THEN
                FOR long IN
                    SELECT table_name, column_name FROM information_schema.columns
                    WHERE table_schema = current_schema()
                        AND column_name IN ('document', 'request_document', 'payload', 'body')
                        AND data_type IN ('text', 'bytea')
                LOOP
                    EXECUTE format('ALTER TABLE %I ALTER COLUMN %I SET COMPRESSION {method}', long.table_name, long.column_name);
                END LOOP;
            END IF;
        END $$"
    );
    manager.get_connection().execute_unprepared(&sql).await?;
    Ok(())
}

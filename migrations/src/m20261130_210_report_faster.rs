//! Lets reports add whole numbers as whole numbers, and read the floors of a month from an index.
//!
//! The SUM of bigint on `PostgreSQL` is a numeric that is made of each group and column and turned back into a bigint; reports of many groups
//! spend much of their time on that. `whole_sum` adds bigint to bigint, and refuses what does not fit as the other way does.

use sea_orm_migration::sea_orm::{ConnectionTrait, DbBackend};
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

/// The step.
pub(crate) struct ReportFaster;

impl MigrationName for ReportFaster {
    fn name(&self) -> &'static str {
        "m20261130_210_report_faster"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for ReportFaster {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let connection = manager.get_connection();
        if manager.get_database_backend() == DbBackend::Postgres {
            connection
                .execute_unprepared(
                    "CREATE AGGREGATE whole_sum(bigint) (SFUNC = int8pl, STYPE = bigint, COMBINEFUNC = int8pl, PARALLEL = SAFE)",
                )
                .await?;
        }
        // Rows that came to nothing again stay for the sake of their versions, and no report counts their floors.
        connection
            .execute_unprepared(
                "CREATE INDEX ix_cost_rollups_floors ON cost_rollups
                    (tenant_id, month, site_id, material, currency, surface_id) WHERE n_completions > 0",
            )
            .await?;
        Ok(())
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let connection = manager.get_connection();
        connection
            .execute_unprepared("DROP INDEX ix_cost_rollups_floors")
            .await?;
        if manager.get_database_backend() == DbBackend::Postgres {
            connection
                .execute_unprepared("DROP AGGREGATE whole_sum(bigint)")
                .await?;
        }
        Ok(())
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

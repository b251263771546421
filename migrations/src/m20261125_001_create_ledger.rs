//! Creates every table of the first edition: the estate, what is planned for it, what was done, and the plumbing.

mod estate;
mod planning;
mod plumbing;
mod record;

use sea_orm_migration::sea_query::Table;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

/// The tables in the order in which they are created; they are dropped the other way round.
const TABLES: &[&str] = &[
    "tenants",
    "sites",
    "rate_cards",
    "contractors",
    "surfaces",
    "plans",
    "plan_lines",
    "estimates",
    "completions",
    "completion_lines",
    "outbox",
    "idempotency_keys",
];

/// What a line of a plan or of a completion is for.
const LINE_KINDS: &[&str] = &[
    "labour",
    "allowance",
    "product",
    "consumable",
    "machine",
    "waste",
    "contingency",
    "overhead",
    "margin",
    "tax",
];

/// The three parts of floor care.
const STAGES: &[&str] = &["prepare", "protect", "maintain"];

/// The step.
pub(crate) struct CreateLedger;

impl MigrationName for CreateLedger {
    fn name(&self) -> &'static str {
        "m20261125_001_create_ledger"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CreateLedger {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        estate::create(manager).await?;
        planning::create(manager).await?;
        record::create(manager).await?;
        plumbing::create(manager).await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        for table in TABLES.iter().rev() {
            manager
                .drop_table(Table::drop().table(*table).take())
                .await?;
        }
        Ok(())
    }

    fn use_transaction(&self) -> Option<bool> {
        // On SQLite too: half a ledger is worse than none.
        Some(true)
    }
}

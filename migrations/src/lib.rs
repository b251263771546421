//! The database schema, step by step, by one definition for SQLite and PostgreSQL.
//!
//! Refuses to know what a row means: no type of another crate appears here, so a released step never changes
//! when the code above it does. The rule for a new step is in `README.md`.

mod definition;
mod m20261125_001_create_ledger;
mod m20261125_002_records_commitments;
mod m20261125_003_records_readings;
mod m20261125_004_records_observations;
mod m20261125_006_add_list_indexes;
mod m20261125_007_add_provenance;
mod m20261125_020_create_products;
mod m20261125_030_create_stock_items;
mod m20261125_031_create_estimate_jobs;
mod m20261125_032_create_contractor_sources;
mod m20261125_033_compress_documents;
mod m20261125_040_create_subscriptions;
mod m20261125_045_add_change_indexes;
mod m20261128_050_create_audit;
mod m20261128_060_create_cost_rollups;
mod m20261128_061_create_report_links;
mod m20261128_070_create_due;
mod m20261128_090_create_completion_paces;
mod m20261129_080_create_imports;
mod m20261129_100_create_schedules;
mod m20261129_110_create_completion_links;
mod m20261129_140_create_schedule_revisions;
mod m20261129_150_create_revocations;
mod m20261129_160_completions_tell_more;
mod m20261129_190_tell_import_progress;
mod m20261130_200_create_cost_part_rollups;
mod m20261130_210_report_faster;

use std::collections::BTreeSet;

use sea_orm_migration::{
    DbErr, MigrationTrait, MigratorTrait, SchemaManager, async_trait,
    sea_orm::{ConnectionTrait, Statement, TransactionTrait},
};

/// The ordered list of steps.
struct Migrator;

#[async_trait::async_trait]
impl MigratorTrait for Migrator {
    fn migrations() -> Vec<Box<dyn MigrationTrait>> {
        vec![
            Box::new(m20261125_001_create_ledger::CreateLedger),
            Box::new(m20261125_002_records_commitments::CreateCommitments),
            Box::new(m20261125_003_records_readings::CreateReadings),
            Box::new(m20261125_004_records_observations::CreateObservations),
            Box::new(m20261125_006_add_list_indexes::AddListIndexes),
            Box::new(m20261125_020_create_products::CreateProducts),
            Box::new(m20261125_007_add_provenance::AddProvenance),
            Box::new(m20261125_030_create_stock_items::CreateStockItems),
            Box::new(m20261125_031_create_estimate_jobs::CreateEstimateJobs),
            Box::new(m20261125_032_create_contractor_sources::CreateContractorSources),
            Box::new(m20261125_033_compress_documents::CompressDocuments),
            Box::new(m20261125_040_create_subscriptions::CreateSubscriptions),
            Box::new(m20261125_045_add_change_indexes::AddChangeIndexes),
            Box::new(m20261128_050_create_audit::CreateAudit),
            Box::new(m20261128_060_create_cost_rollups::CreateCostRollups),
            Box::new(m20261128_061_create_report_links::CreateReportLinks),
            Box::new(m20261128_070_create_due::CreateDue),
            Box::new(m20261128_090_create_completion_paces::CreateCompletionPaces),
            Box::new(m20261129_080_create_imports::CreateImports),
            Box::new(m20261129_100_create_schedules::CreateSchedules),
            Box::new(m20261129_110_create_completion_links::CreateCompletionLinks),
            Box::new(m20261129_140_create_schedule_revisions::CreateScheduleRevisions),
            Box::new(m20261129_150_create_revocations::CreateRevocations),
            Box::new(m20261129_160_completions_tell_more::CompletionsTellMore),
            Box::new(m20261129_190_tell_import_progress::TellImportProgress),
            Box::new(m20261130_200_create_cost_part_rollups::CreateCostPartRollups),
            Box::new(m20261130_210_report_faster::ReportFaster),
        ]
    }
}

/// The text of every step: a database that was built from another text is not the same template.
const TEXTS: &[&str] = &[
    include_str!("definition.rs"),
    include_str!("m20261125_001_create_ledger.rs"),
    include_str!("m20261125_001_create_ledger/estate.rs"),
    include_str!("m20261125_001_create_ledger/planning.rs"),
    include_str!("m20261125_001_create_ledger/plumbing.rs"),
    include_str!("m20261125_001_create_ledger/record.rs"),
    include_str!("m20261125_002_records_commitments.rs"),
    include_str!("m20261125_003_records_readings.rs"),
    include_str!("m20261125_004_records_observations.rs"),
    include_str!("m20261125_006_add_list_indexes.rs"),
    include_str!("m20261125_020_create_products.rs"),
    include_str!("m20261125_007_add_provenance.rs"),
    include_str!("m20261125_030_create_stock_items.rs"),
    include_str!("m20261125_031_create_estimate_jobs.rs"),
    include_str!("m20261125_032_create_contractor_sources.rs"),
    include_str!("m20261125_033_compress_documents.rs"),
    include_str!("m20261125_040_create_subscriptions.rs"),
    include_str!("m20261125_045_add_change_indexes.rs"),
    include_str!("m20261128_050_create_audit.rs"),
    include_str!("m20261128_060_create_cost_rollups.rs"),
    include_str!("m20261128_061_create_report_links.rs"),
    include_str!("m20261128_070_create_due.rs"),
    include_str!("m20261128_090_create_completion_paces.rs"),
    include_str!("m20261129_080_create_imports.rs"),
    include_str!("m20261129_100_create_schedules.rs"),
    include_str!("m20261129_110_create_completion_links.rs"),
    include_str!("m20261129_140_create_schedule_revisions.rs"),
    include_str!("m20261129_150_create_revocations.rs"),
    include_str!("m20261129_160_completions_tell_more.rs"),
    include_str!("m20261129_190_tell_import_progress.rs"),
    include_str!("m20261130_200_create_cost_part_rollups.rs"),
    include_str!("m20261130_210_report_faster.rs"),
];

/// A connection or transaction on which steps can be applied.
///
/// Give one that holds a lock against a second runner: the steps take none themselves.
pub trait Target: ConnectionTrait + TransactionTrait + Send {}

impl<C: ConnectionTrait + TransactionTrait + Send> Target for C {}

/// Applies all pending steps and returns how many there were. A database that is ahead of this build stays as it is.
///
/// # Errors
/// What the database answered, or that steps are pending in a database that has seen some that this build does not
/// know; on PostgreSQL the failed step has left nothing behind.
pub async fn up<'c, C>(db: &'c C) -> Result<usize, DbErr>
where
    C: Target,
    &'c C: sea_orm_migration::IntoSchemaManagerConnection<'c>,
{
    let n_pending = standing(db).await?.pending.len();
    if n_pending > 0 {
        Migrator::up(db, None).await?;
    }
    Ok(n_pending)
}

/// Takes back all applied steps, newest first. Every row is lost.
///
/// # Errors
/// What the database answered.
pub async fn down<'c, C>(db: &'c C) -> Result<(), DbErr>
where
    C: Target,
    &'c C: sea_orm_migration::IntoSchemaManagerConnection<'c>,
{
    Migrator::down(db, None).await
}

/// Where a database stands among the steps of this build.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Standing {
    /// The steps that it has not seen, in their order.
    pub pending: Vec<String>,
    /// The steps that it has seen and this build does not know: those of a newer release, which every step leaves this
    /// one working with.
    pub unknown: Vec<String>,
}

/// Where a database stands, without changing it.
///
/// # Errors
/// What the database answered.
pub async fn standing<'c, C>(db: &'c C) -> Result<Standing, DbErr>
where
    C: Target,
    &'c C: sea_orm_migration::IntoSchemaManagerConnection<'c>,
{
    const SEEN: &str = "seaql_migrations";
    let mut seen = BTreeSet::new();
    if SchemaManager::new(db).has_table(SEEN).await? {
        let sql = format!("SELECT version FROM {SEEN}");
        let statement = Statement::from_string(db.get_database_backend(), sql);
        for row in db.query_all_raw(statement).await? {
            seen.insert(row.try_get_by_index::<String>(0)?);
        }
    }
    let known = Migrator::migrations();
    let known: Vec<&str> = known.iter().map(|step| step.name()).collect();
    let pending = known.iter().filter(|name| !seen.contains(**name));
    let unknown = seen.iter().filter(|name| !known.contains(&name.as_str()));
    Ok(Standing {
        pending: pending.map(|name| (*name).to_owned()).collect(),
        unknown: unknown.cloned().collect(),
    })
}

/// A number that changes with the text of any step: names the template database of tests.
pub fn fingerprint() -> u64 {
    // FNV-1a, 64 bit: stable between builds, which the standard hasher does not promise.
    TEXTS
        .iter()
        .flat_map(|text| text.bytes())
        .fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
        })
}

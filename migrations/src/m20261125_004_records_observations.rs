//! Creates the tables of observations (what was known of a floor's film at a moment) and of what happened to each
//! surface, and lets a reading be superseded.
//!
//! `superseded_by` has no foreign key: it points from the older row to the newer one. SQLite adds no foreign key of two
//! columns to a table that is there, so a reading's `supersedes` has none either; the unique index holds it to one.

use sea_orm_migration::sea_query::{Index, Table};
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::{Null, TenantTable, add_text, add_uuid, create_index, create_unique};

const STATUSES: &[&str] = &["recorded", "superseded", "voided"];
const WORDS: &[&str] = &["measured", "seen", "told", "document", "survey"];
const KINDS: &[&str] = &[
    "bare",
    "factory_finish",
    "seal",
    "polish",
    "seal_and_polish",
    "wax_or_oil",
];
const CONDITIONS: &[&str] = &[
    "sound",
    "soiled",
    "scuffed",
    "worn",
    "yellowed",
    "peeling",
    "powdering",
    "sticky",
];
/// The columns that readings gain, besides `status`.
const LINKS: [&str; 2] = ["supersedes", "superseded_by"];

/// The step.
pub(crate) struct CreateObservations;

impl MigrationName for CreateObservations {
    fn name(&self) -> &'static str {
        "m20261125_004_records_observations"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CreateObservations {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        observations(manager).await?;
        history(manager).await?;
        for column in LINKS {
            add_uuid(manager, "readings", column).await?;
        }
        add_text(manager, "readings", "status", "recorded").await?;
        for table in ["readings", "observations"] {
            add_text(manager, table, "voided", "").await?;
        }
        let supersedes = ["tenant_id", "supersedes"];
        create_unique(manager, "readings", "supersedes", &supersedes).await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        for (table, index) in [
            ("completions", "ix_completions_process"),
            ("readings", "uq_readings_supersedes"),
        ] {
            let drop = Index::drop().name(index).table(table).to_owned();
            manager.drop_index(drop).await?;
        }
        for column in ["voided", "status", "superseded_by", "supersedes"] {
            let drop = Table::alter().table("readings").drop_column(column).take();
            manager.alter_table(drop).await?;
        }
        for table in ["surface_history", "observations"] {
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

async fn observations(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    TenantTable::new(manager, "observations")
        .uuids(&["id", "site_id", "surface_id"], Null::Never)
        .texts(&["status"], Null::Never)
        .uuids(&LINKS, Null::Allowed)
        .texts(&["word"], Null::Never)
        .moments(&["observed_at"], Null::Never)
        .texts(&["kind", "condition"], Null::Allowed)
        .integers(&["coats", "seal_coats"], Null::Allowed)
        .texts(&["stripped_on", "note"], Null::Allowed)
        .external()
        .moments(&["created_at"], Null::Never)
        .key(&["tenant_id", "id"])
        .refers("surface_id", "surfaces")
        .refers("supersedes", "observations")
        .one_of("status", STATUSES)
        .one_of("word", WORDS)
        .one_of("kind", KINDS)
        .one_of("condition", CONDITIONS)
        .check(
            "superseded",
            r#"("status" = 'superseded') = ("superseded_by" IS NOT NULL)"#,
        )
        .not_negative(&["coats", "seal_coats"])
        .create(manager)
        .await?;
    let surface = ["tenant_id", "surface_id", "id"];
    create_index(manager, "observations", "surface", &surface).await?;
    // Two corrections of one observation cannot both stand.
    let supersedes = ["tenant_id", "supersedes"];
    create_unique(manager, "observations", "supersedes", &supersedes).await
}

/// What happened to each surface, one row for each event, in the order of happening.
async fn history(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    TenantTable::new(manager, "surface_history")
        .uuids(&["id", "surface_id"], Null::Never)
        .moments(&["at"], Null::Never)
        .texts(&["kind", "subject"], Null::Never)
        .integers(&["version"], Null::Never)
        .texts(&["statement"], Null::Never)
        .moments(&["created_at"], Null::Never)
        .texts(&["changes"], Null::Allowed)
        .key(&["tenant_id", "id"])
        .refers("surface_id", "surfaces")
        .create(manager)
        .await?;
    let surface = ["tenant_id", "surface_id", "at", "id"];
    create_index(manager, "surface_history", "surface", &surface).await?;
    let process = ["tenant_id", "surface_id", "process", "id"];
    create_index(manager, "completions", "process", &process).await
}

//! Creates the table of readings: measured values of floors and of the air over them. A row is never changed.

use sea_orm_migration::sea_query::Table;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::{Null, TenantTable, create_index};

const KINDS: &[&str] = &[
    "surface_ph",
    "gloss_gu",
    "ptv_wet",
    "moisture_rh_pct",
    "film_resistance_ohm",
    "footfall",
    "air_c",
    "floor_c",
    "humidity_pct",
];

/// The step.
pub(crate) struct CreateReadings;

impl MigrationName for CreateReadings {
    fn name(&self) -> &'static str {
        "m20261125_003_records_readings"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CreateReadings {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        TenantTable::new(manager, "readings")
            .uuids(&["id", "site_id", "surface_id"], Null::Never)
            .uuids(&["completion_id"], Null::Allowed)
            .texts(&["kind"], Null::Never)
            .integers(&["thousandths"], Null::Never)
            .moments(&["taken_at"], Null::Never)
            .external()
            .texts(&["document"], Null::Never)
            .moments(&["created_at", "changed_at"], Null::Never)
            .key(&["tenant_id", "id"])
            .refers("surface_id", "surfaces")
            .refers("completion_id", "completions")
            .one_of("kind", KINDS)
            .create(manager)
            .await?;
        let surface = ["tenant_id", "surface_id", "id"];
        create_index(manager, "readings", "surface", &surface).await?;
        let completion = ["tenant_id", "completion_id", "id"];
        create_index(manager, "readings", "completion", &completion).await?;
        let external = ["tenant_id", "external_system", "external_id", "id"];
        create_index(manager, "readings", "external", &external).await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let drop = Table::drop().table("readings").take();
        manager.drop_table(drop).await
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

//! Creates the sums of completions by month, and gives their lines what tells a variance apart, water and vapour.
//!
//! What is recorded already is added up here; of older lines the parts of the variance, water and vapour are not known and stay
//! zero, so all of their variance is price.

use sea_orm_migration::sea_orm::{ConnectionTrait, DbBackend};
use sea_orm_migration::sea_query::Table;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::{Null, TenantTable, add_integer, create_index};

/// What lines get.
const ADDED: [&str; 5] = [
    "quantity_amount",
    "productivity_amount",
    "water_ml",
    "voc_mg",
    "voc_unknown_ml",
];

/// The sums of a rollup that are never negative. The table does not check it: a row that takes something away is checked
/// before it is added to the one that is there.
const COUNTED: [&str; 10] = [
    "n_completions",
    "n_unplanned",
    "area_mm2",
    "planned_seconds",
    "actual_seconds",
    "planned_ml",
    "actual_ml",
    "water_ml",
    "voc_mg",
    "voc_unknown_ml",
];

/// The others: money.
const MONEY: [&str; 9] = [
    "planned_net",
    "computed_net",
    "actual_net",
    "planned_tax",
    "actual_tax",
    "quantity_net",
    "productivity_net",
    "overheads_net",
    "unplanned_net",
];

/// Adds up what is recorded. Nobody named is the nil id, because a key holds no NULL.
const FILL: &str = "INSERT INTO cost_rollups (tenant_id, month, site_id, surface_id, storey, material, process, contractor_id,
        currency, n_completions, n_unplanned, area_mm2, planned_seconds, actual_seconds, planned_ml, actual_ml, water_ml,
        voc_mg, voc_unknown_ml, planned_net, computed_net, actual_net, planned_tax, actual_tax, quantity_net,
        productivity_net, overheads_net, unplanned_net, version)
    SELECT tenant_id, month, site_id, surface_id, storey, material, process, contractor_id, currency, COUNT(*),
        CAST(SUM(n_unplanned) AS bigint), CAST(SUM(area_mm2) AS bigint), CAST(SUM(planned_seconds) AS bigint),
        CAST(SUM(actual_seconds) AS bigint), CAST(SUM(planned_ml) AS bigint), CAST(SUM(actual_ml) AS bigint), 0, 0, 0,
        CAST(SUM(planned_net) AS bigint), CAST(SUM(computed_net) AS bigint), CAST(SUM(actual_net) AS bigint),
        CAST(SUM(planned_tax) AS bigint), CAST(SUM(actual_tax) AS bigint), 0, 0,
        CAST(SUM(overheads_net) AS bigint), CAST(SUM(unplanned_net) AS bigint), 1
    FROM (
        SELECT l.tenant_id, l.completion_id, l.month, l.site_id, l.surface_id, l.storey, l.material, l.process,
            COALESCE(l.contractor_id, NOBODY) AS contractor_id, l.currency,
            MAX(CASE WHEN c.plan_id IS NULL THEN 1 ELSE 0 END) AS n_unplanned, MAX(c.area_mm2) AS area_mm2,
            SUM(l.planned_seconds) AS planned_seconds, SUM(l.actual_seconds) AS actual_seconds,
            SUM(l.planned_ml) AS planned_ml, SUM(l.actual_ml) AS actual_ml,
            SUM(CASE WHEN l.kind = 'tax' THEN 0 ELSE l.planned_amount END) AS planned_net,
            SUM(CASE WHEN l.kind = 'tax' THEN 0 ELSE l.computed_amount END) AS computed_net,
            SUM(CASE WHEN l.kind = 'tax' THEN 0 ELSE l.actual_amount END) AS actual_net,
            SUM(CASE WHEN l.kind = 'tax' THEN l.planned_amount ELSE 0 END) AS planned_tax,
            SUM(CASE WHEN l.kind = 'tax' THEN l.actual_amount ELSE 0 END) AS actual_tax,
            SUM(CASE WHEN c.planned_share_ppm > 0 AND l.kind IN ('contingency', 'overhead', 'margin')
                THEN l.computed_amount - l.planned_amount ELSE 0 END) AS overheads_net,
            SUM(CASE WHEN c.planned_share_ppm > 0 OR l.kind = 'tax' THEN 0
                ELSE l.actual_amount - l.planned_amount END) AS unplanned_net
        FROM completion_lines AS l
        JOIN completions AS c ON c.tenant_id = l.tenant_id AND c.id = l.completion_id AND c.status = 'recorded'
        GROUP BY l.tenant_id, l.completion_id, l.month, l.site_id, l.surface_id, l.storey, l.material, l.process,
            COALESCE(l.contractor_id, NOBODY), l.currency
    ) AS once
    GROUP BY tenant_id, month, site_id, surface_id, storey, material, process, contractor_id, currency";

/// The step.
pub(crate) struct CreateCostRollups;

impl MigrationName for CreateCostRollups {
    fn name(&self) -> &'static str {
        "m20261128_060_create_cost_rollups"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CreateCostRollups {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        for column in ADDED {
            add_integer(manager, "completion_lines", column).await?;
        }
        TenantTable::new(manager, "cost_rollups")
            .texts(&["month"], Null::Never)
            .uuids(&["site_id", "surface_id"], Null::Never)
            .texts(&["storey", "material", "process"], Null::Never)
            .uuids(&["contractor_id"], Null::Never)
            .texts(&["currency"], Null::Never)
            .integers(&COUNTED, Null::Never)
            .integers(&MONEY, Null::Never)
            .integers(&["version"], Null::Never)
            .key(&[
                "tenant_id",
                "month",
                "site_id",
                "surface_id",
                "storey",
                "material",
                "process",
                "contractor_id",
                "currency",
            ])
            .refers("site_id", "sites")
            .refers("surface_id", "surfaces")
            .create(manager)
            .await?;
        // By which a floor is deleted with its tenant.
        let surface = ["tenant_id", "surface_id"];
        create_index(manager, "cost_rollups", "surface", &surface).await?;
        let nobody = match manager.get_database_backend() {
            DbBackend::Postgres => "CAST('00000000-0000-0000-0000-000000000000' AS uuid)",
            _ => "zeroblob(16)",
        };
        let fill = FILL.replace("NOBODY", nobody);
        manager.get_connection().execute_unprepared(&fill).await?;
        Ok(())
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let drop = Table::drop().table("cost_rollups").take();
        manager.drop_table(drop).await?;
        for column in ADDED.iter().rev() {
            let drop = Table::alter()
                .table("completion_lines")
                .drop_column(*column)
                .take();
            manager.alter_table(drop).await?;
        }
        Ok(())
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

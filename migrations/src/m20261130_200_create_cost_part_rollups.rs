//! Creates the parts of the sums of completions by month: by stage and class of product of their lines.
//!
//! What is recorded already is added up here. A replica of the release before, which writes none of them, may still run beside this one:
//! when the last has gone, `wearcourse rollup verify` tells whether it recorded something, and `rollup rebuild` adds it.

use sea_orm_migration::sea_orm::{ConnectionTrait, DbBackend};
use sea_orm_migration::sea_query::Table;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::{Null, TenantTable, create_index};

/// How many completions count, by what rows are told apart.
const COUNTED: [&str; 9] = [
    "n_completions",
    "n_unplanned",
    "area_mm2",
    "n_stage_completions",
    "n_stage_unplanned",
    "stage_area_mm2",
    "n_class_completions",
    "n_class_unplanned",
    "class_area_mm2",
];

/// The sums of lines.
const SUMS: [&str; 16] = [
    "planned_seconds",
    "actual_seconds",
    "planned_ml",
    "actual_ml",
    "water_ml",
    "voc_mg",
    "voc_unknown_ml",
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

/// The tables whose fences would hide rows from the step, or refuse them.
const FENCED: [&str; 3] = ["completions", "completion_lines", "cost_part_rollups"];

const KEY: &str = "tenant_id, month, site_id, surface_id, storey, material, process, contractor_id, currency, stage, product_class";

/// What lines come to by completion, stage and class of product. Nobody named is the nil id, and what is missing the empty text,
/// because a key holds no NULL.
const PARTS: &str = "SELECT l.tenant_id, l.completion_id, l.month, l.site_id, l.surface_id, l.storey, l.material, l.process,
        COALESCE(l.contractor_id, NOBODY) AS contractor_id, l.currency, COALESCE(l.stage, '') AS stage,
        COALESCE(l.product_class, '') AS product_class,
        1 AS n_completions, MAX(CASE WHEN c.plan_id IS NULL THEN 1 ELSE 0 END) AS n_unplanned, MAX(c.area_mm2) AS area_mm2,
        SUM(l.planned_seconds) AS planned_seconds, SUM(l.actual_seconds) AS actual_seconds,
        SUM(l.planned_ml) AS planned_ml, SUM(l.actual_ml) AS actual_ml,
        SUM(l.water_ml) AS water_ml, SUM(l.voc_mg) AS voc_mg, SUM(l.voc_unknown_ml) AS voc_unknown_ml,
        SUM(CASE WHEN l.kind = 'tax' THEN 0 ELSE l.planned_amount END) AS planned_net,
        SUM(CASE WHEN l.kind = 'tax' THEN 0 ELSE l.computed_amount END) AS computed_net,
        SUM(CASE WHEN l.kind = 'tax' THEN 0 ELSE l.actual_amount END) AS actual_net,
        SUM(CASE WHEN l.kind = 'tax' THEN l.planned_amount ELSE 0 END) AS planned_tax,
        SUM(CASE WHEN l.kind = 'tax' THEN l.actual_amount ELSE 0 END) AS actual_tax,
        SUM(CASE WHEN c.planned_share_ppm > 0 THEN l.quantity_amount ELSE 0 END) AS quantity_net,
        SUM(CASE WHEN c.planned_share_ppm > 0 THEN l.productivity_amount ELSE 0 END) AS productivity_net,
        SUM(CASE WHEN c.planned_share_ppm > 0 AND l.kind IN ('contingency', 'overhead', 'margin')
            THEN l.computed_amount - l.planned_amount ELSE 0 END) AS overheads_net,
        SUM(CASE WHEN c.planned_share_ppm > 0 OR l.kind = 'tax' THEN 0
            ELSE l.actual_amount - l.planned_amount END) AS unplanned_net
    FROM completion_lines AS l
    JOIN completions AS c ON c.tenant_id = l.tenant_id AND c.id = l.completion_id AND c.status = 'recorded'
    GROUP BY l.tenant_id, l.completion_id, l.month, l.site_id, l.surface_id, l.storey, l.material, l.process,
        COALESCE(l.contractor_id, NOBODY), l.currency, COALESCE(l.stage, ''), COALESCE(l.product_class, '')";

/// Where a completion counts by stage, and where by class: in the first of its parts that agree in it.
const FIRSTS: &str =
    "CASE WHEN nth_of_stage = 1 THEN n_completions ELSE 0 END AS n_stage_completions,
        CASE WHEN nth_of_stage = 1 THEN n_unplanned ELSE 0 END AS n_stage_unplanned,
        CASE WHEN nth_of_stage = 1 THEN area_mm2 ELSE 0 END AS stage_area_mm2,
        CASE WHEN nth_of_class = 1 THEN n_completions ELSE 0 END AS n_class_completions,
        CASE WHEN nth_of_class = 1 THEN n_unplanned ELSE 0 END AS n_class_unplanned,
        CASE WHEN nth_of_class = 1 THEN area_mm2 ELSE 0 END AS class_area_mm2";

/// The step.
pub(crate) struct CreateCostPartRollups;

impl MigrationName for CreateCostPartRollups {
    fn name(&self) -> &'static str {
        "m20261130_200_create_cost_part_rollups"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CreateCostPartRollups {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let key: Vec<&'static str> = KEY.split(", ").collect();
        TenantTable::new(manager, "cost_part_rollups")
            .texts(&["month"], Null::Never)
            .uuids(&["site_id", "surface_id"], Null::Never)
            .texts(&["storey", "material", "process"], Null::Never)
            .uuids(&["contractor_id"], Null::Never)
            .texts(&["currency", "stage", "product_class"], Null::Never)
            .integers(&COUNTED, Null::Never)
            .integers(&SUMS, Null::Never)
            .key(&key)
            .refers("site_id", "sites")
            .refers("surface_id", "surfaces")
            .create(manager)
            .await?;
        // By which a floor is deleted with its tenant.
        let surface = ["tenant_id", "surface_id"];
        create_index(manager, "cost_part_rollups", "surface", &surface).await?;
        fill(manager).await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let drop = Table::drop().table("cost_part_rollups").take();
        manager.drop_table(drop).await
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

async fn fill(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    let connection = manager.get_connection();
    let is_server = manager.get_database_backend() == DbBackend::Postgres;
    let nobody = if is_server {
        "CAST('00000000-0000-0000-0000-000000000000' AS uuid)"
    } else {
        "zeroblob(16)"
    };
    let parts = PARTS.replace("NOBODY", nobody);
    let columns = [&COUNTED[..], &SUMS].concat();
    let named = columns.join(", ");
    let sums: Vec<String> = columns
        .iter()
        .map(|column| format!("CAST(SUM({column}) AS bigint)"))
        .collect();
    let sums = sums.join(", ");
    let fill = format!(
        "INSERT INTO cost_part_rollups ({KEY}, {named})
        SELECT {KEY}, {sums} FROM (
            SELECT numbered.*, {FIRSTS} FROM (
                SELECT parts.*,
                    ROW_NUMBER() OVER (PARTITION BY tenant_id, completion_id, stage ORDER BY product_class) AS nth_of_stage,
                    ROW_NUMBER() OVER (PARTITION BY tenant_id, completion_id, product_class ORDER BY stage) AS nth_of_class
                FROM ({parts}) AS parts
            ) AS numbered
        ) AS counted
        GROUP BY {KEY}"
    );
    for table in FENCED.into_iter().filter(|_| is_server) {
        let sql = format!("ALTER TABLE {table} NO FORCE ROW LEVEL SECURITY");
        connection.execute_unprepared(&sql).await?;
    }
    connection.execute_unprepared(&fill).await?;
    for table in FENCED.into_iter().filter(|_| is_server) {
        let sql = format!("ALTER TABLE {table} FORCE ROW LEVEL SECURITY");
        connection.execute_unprepared(&sql).await?;
    }
    Ok(())
}

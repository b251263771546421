//! What was done: completions with their lines.
//!
//! A line repeats the words that reports group by, so a report reads one table. `superseded_by` has no foreign key:
//! it points from the older row to the newer one, whose own `supersedes` is checked.

use sea_orm_migration::{DbErr, SchemaManager};

use super::{LINE_KINDS, STAGES};
use crate::definition::{Null, TenantTable, create_index, create_unique};

const STATUSES: &[&str] = &["recorded", "superseded", "voided"];
const DEVIATION_STATES: &[&str] = &["none", "open", "acknowledged"];

pub(super) async fn create(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    completions(manager).await?;
    completion_indexes(manager).await?;
    completion_lines(manager).await
}

async fn completions(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    TenantTable::new(manager, "completions")
        .uuids(&["id", "site_id", "surface_id"], Null::Never)
        .uuids(&["plan_id", "contractor_id"], Null::Allowed)
        .texts(&["status"], Null::Never)
        .uuids(&["supersedes", "superseded_by"], Null::Allowed)
        .texts(&["process"], Null::Never)
        .uuids(&["rate_card_id"], Null::Never)
        .integers(&["rate_card_number"], Null::Never)
        .moments(&["started_at", "finished_at"], Null::Never)
        .texts(&["month"], Null::Never)
        .integers(&["area_mm2", "planned_share_ppm"], Null::Never)
        .texts(&["currency"], Null::Never)
        .external()
        .texts(&["document", "deviation_state", "deviations"], Null::Never)
        .moments(&["created_at", "changed_at"], Null::Never)
        .key(&["tenant_id", "id"])
        .refers("site_id", "sites")
        .refers("surface_id", "surfaces")
        .refers("plan_id", "plans")
        .refers("contractor_id", "contractors")
        .refers("supersedes", "completions")
        .one_of("status", STATUSES)
        .one_of("deviation_state", DEVIATION_STATES)
        .check(
            "superseded",
            r#"("status" = 'superseded') = ("superseded_by" IS NOT NULL)"#,
        )
        .check("finished_at", r#""finished_at" >= "started_at""#)
        .check("month", r#"length("month") = 7"#)
        .check("currency", r#"length("currency") = 3"#)
        .not_negative(&["area_mm2", "planned_share_ppm"])
        .create(manager)
        .await
}

async fn completion_indexes(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    for column in ["site_id", "surface_id", "plan_id", "contractor_id"] {
        let columns = ["tenant_id", column, "id"];
        create_index(manager, "completions", column, &columns).await?;
    }
    let external = ["tenant_id", "external_system", "external_id", "id"];
    create_index(manager, "completions", "external", &external).await?;
    // Two corrections of one completion cannot both stand.
    create_unique(
        manager,
        "completions",
        "supersedes",
        &["tenant_id", "supersedes"],
    )
    .await
}

async fn completion_lines(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    let kinds = [LINE_KINDS, &["charged"]].concat();
    TenantTable::new(manager, "completion_lines")
        .uuids(&["completion_id"], Null::Never)
        .integers(&["line_no"], Null::Never)
        .uuids(&["site_id", "surface_id"], Null::Never)
        .texts(&["storey", "material", "process"], Null::Never)
        .texts(&["stage", "product_class"], Null::Allowed)
        .texts(&["kind"], Null::Never)
        .uuids(&["contractor_id"], Null::Allowed)
        .texts(&["month"], Null::Never)
        .integers(&["rate_card_number"], Null::Never)
        .texts(&["currency"], Null::Never)
        .integers(&["planned_seconds", "actual_seconds"], Null::Never)
        .integers(&["planned_ml", "actual_ml"], Null::Never)
        .integers(
            &["planned_amount", "computed_amount", "actual_amount"],
            Null::Never,
        )
        .key(&["tenant_id", "completion_id", "line_no"])
        .refers("completion_id", "completions")
        .one_of("kind", &kinds)
        .one_of("stage", STAGES)
        .check("month", r#"length("month") = 7"#)
        .check("currency", r#"length("currency") = 3"#)
        .not_negative(&[
            "planned_seconds",
            "actual_seconds",
            "planned_ml",
            "actual_ml",
        ])
        .create(manager)
        .await?;
    create_index(
        manager,
        "completion_lines",
        "month",
        &["tenant_id", "month", "site_id"],
    )
    .await
}

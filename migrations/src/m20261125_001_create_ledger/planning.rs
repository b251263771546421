//! What is to be done: plans with their lines, estimates.
//!
//! A plan's `site_id` and `rate_card_id` have no foreign key: the surface already ties the plan to its site, rate
//! cards are never deleted on their own, and each further key costs an index and a row lock per plan.

use sea_orm_migration::{DbErr, SchemaManager};

use super::{LINE_KINDS, STAGES};
use crate::definition::{Null, TenantTable, create_index};

const STATUSES: &[&str] = &["proposed", "accepted", "superseded", "withdrawn"];
const VERDICTS: &[&str] = &[
    "allowed",
    "allowed_with_warnings",
    "needs_information",
    "refused",
];

pub(super) async fn create(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    plans(manager).await?;
    plan_lines(manager).await?;
    estimates(manager).await
}

async fn plans(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    TenantTable::new(manager, "plans")
        .uuids(&["id", "site_id", "surface_id"], Null::Never)
        .integers(&["surface_version", "version"], Null::Never)
        .texts(&["status", "goal", "verdict"], Null::Never)
        .texts(&["process"], Null::Allowed)
        .texts(&["knowledge_version"], Null::Never)
        .uuids(&["rate_card_id"], Null::Allowed)
        .texts(&["planned_on"], Null::Never)
        .integers(&["area_mm2"], Null::Never)
        .integers(&["net_amount"], Null::Allowed)
        .texts(&["currency", "request_document", "document"], Null::Never)
        .moments(&["created_at", "changed_at"], Null::Never)
        .key(&["tenant_id", "id"])
        .refers("surface_id", "surfaces")
        .check("version", r#""version" >= 1"#)
        .one_of("status", STATUSES)
        .one_of("verdict", VERDICTS)
        .check("currency", r#"length("currency") = 3"#)
        .create(manager)
        .await?;
    create_index(manager, "plans", "site", &["tenant_id", "site_id", "id"]).await?;
    create_index(
        manager,
        "plans",
        "surface",
        &["tenant_id", "surface_id", "id"],
    )
    .await
}

async fn plan_lines(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    TenantTable::new(manager, "plan_lines")
        .uuids(&["plan_id"], Null::Never)
        .integers(&["line_no"], Null::Never)
        .texts(&["kind"], Null::Never)
        .texts(&["stage", "product_class"], Null::Allowed)
        .integers(&["seconds", "ml", "amount"], Null::Never)
        .key(&["tenant_id", "plan_id", "line_no"])
        .refers("plan_id", "plans")
        .one_of("kind", LINE_KINDS)
        .one_of("stage", STAGES)
        .not_negative(&["seconds", "ml"])
        .create(manager)
        .await
}

async fn estimates(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    TenantTable::new(manager, "estimates")
        .uuids(&["id", "site_id"], Null::Never)
        .integers(&["n_surfaces", "area_mm2", "net_amount"], Null::Never)
        .texts(&["currency", "knowledge_version", "document"], Null::Never)
        .moments(&["created_at"], Null::Never)
        .key(&["tenant_id", "id"])
        .refers("site_id", "sites")
        .not_negative(&["n_surfaces", "area_mm2"])
        .check("currency", r#"length("currency") = 3"#)
        .create(manager)
        .await?;
    create_index(
        manager,
        "estimates",
        "site",
        &["tenant_id", "site_id", "id"],
    )
    .await
}

//! What exists: tenants, sites with their rate cards, contractors, surfaces.

use sea_orm_migration::{DbErr, SchemaManager};

use crate::definition::{Null, TenantTable, create_index, create_unique};

pub(super) async fn create(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    tenants(manager).await?;
    sites(manager).await?;
    rate_cards(manager).await?;
    contractors(manager).await?;
    surfaces(manager).await
}

async fn tenants(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    TenantTable::bare(manager, "tenants")
        .uuids(&["id"], Null::Never)
        .texts(&["key", "name"], Null::Never)
        .moments(&["created_at"], Null::Never)
        .key(&["id"])
        .create(manager)
        .await?;
    create_unique(manager, "tenants", "key", &["key"]).await
}

async fn sites(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    TenantTable::new(manager, "sites")
        .uuids(&["id"], Null::Never)
        .integers(&["version"], Null::Never)
        .texts(&["name", "time_zone", "currency", "country"], Null::Never)
        .external()
        .texts(&["document"], Null::Never)
        .moments(&["created_at", "updated_at"], Null::Never)
        .key(&["tenant_id", "id"])
        .of_tenant()
        .check("version", r#""version" >= 1"#)
        .check("currency", r#"length("currency") = 3"#)
        .create(manager)
        .await?;
    unique_external(manager, "sites").await
}

async fn rate_cards(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    TenantTable::new(manager, "rate_cards")
        .uuids(&["id", "site_id"], Null::Never)
        .integers(&["number"], Null::Never)
        .texts(&["valid_from", "document"], Null::Never)
        .moments(&["created_at"], Null::Never)
        .key(&["tenant_id", "id"])
        .refers("site_id", "sites")
        .check("number", r#""number" >= 1"#)
        .check("valid_from", r#"length("valid_from") = 10"#)
        .create(manager)
        .await?;
    create_unique(
        manager,
        "rate_cards",
        "number",
        &["tenant_id", "site_id", "number"],
    )
    .await
}

async fn contractors(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    TenantTable::new(manager, "contractors")
        .uuids(&["id"], Null::Never)
        .integers(&["version"], Null::Never)
        .texts(&["name"], Null::Never)
        .external()
        .texts(&["document"], Null::Never)
        .moments(&["created_at", "updated_at"], Null::Never)
        .key(&["tenant_id", "id"])
        .of_tenant()
        .check("version", r#""version" >= 1"#)
        .create(manager)
        .await?;
    unique_external(manager, "contractors").await
}

async fn surfaces(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    TenantTable::new(manager, "surfaces")
        .uuids(&["id", "site_id"], Null::Never)
        .integers(&["version"], Null::Never)
        .texts(&["name", "storey", "material"], Null::Never)
        .integers(&["area_mm2"], Null::Never)
        .integers(&["perimeter_mm"], Null::Allowed)
        .external()
        .texts(&["document"], Null::Never)
        .moments(&["created_at", "updated_at"], Null::Never)
        .key(&["tenant_id", "id"])
        .refers("site_id", "sites")
        .check("version", r#""version" >= 1"#)
        .check("area_mm2", r#""area_mm2" > 0"#)
        .check("perimeter_mm", r#""perimeter_mm" > 0"#)
        .create(manager)
        .await?;
    unique_external(manager, "surfaces").await?;
    create_index(manager, "surfaces", "site", &["tenant_id", "site_id", "id"]).await?;
    create_index(
        manager,
        "surfaces",
        "storey",
        &["tenant_id", "site_id", "storey", "id"],
    )
    .await?;
    create_index(
        manager,
        "surfaces",
        "material",
        &["tenant_id", "material", "id"],
    )
    .await
}

async fn unique_external(manager: &SchemaManager<'_>, table: &'static str) -> Result<(), DbErr> {
    let columns = ["tenant_id", "external_system", "external_id"];
    create_unique(manager, table, "external", &columns).await
}

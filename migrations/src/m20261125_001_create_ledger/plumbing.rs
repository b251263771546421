//! What carries the service: events on their way out, and the answers kept for repeated requests.
//!
//! Both are written with nearly every effect, so they have no foreign key to the tenant: each would lock the
//! tenant's one row in every transaction. Erasing a tenant deletes them by `tenant_id` like everything else.

use sea_orm_migration::sea_orm::ConnectionTrait;
use sea_orm_migration::{DbErr, SchemaManager};

use crate::definition::{Null, TenantTable, create_index};

pub(super) async fn create(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    outbox(manager).await?;
    idempotency_keys(manager).await
}

async fn outbox(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    TenantTable::new(manager, "outbox")
        .read_by_worker()
        .uuids(&["id"], Null::Never)
        .texts(&["type", "subject"], Null::Never)
        .integers(&["version"], Null::Never)
        .texts(&["payload"], Null::Never)
        .moments(&["created_at"], Null::Never)
        .uuids(&["site_id"], Null::Allowed)
        .moments(&["handed_out_at"], Null::Allowed)
        .key(&["tenant_id", "id"])
        .create(manager)
        .await?;
    // Raw, because a partial index has no other spelling that both databases share.
    let waiting = r#"CREATE INDEX "ix_outbox_waiting" ON "outbox" ("tenant_id", "id") WHERE "handed_out_at" IS NULL"#;
    manager.get_connection().execute_unprepared(waiting).await?;
    Ok(())
}

async fn idempotency_keys(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    TenantTable::new(manager, "idempotency_keys")
        .texts(&["client_id", "key", "fingerprint"], Null::Never)
        .integers(&["status"], Null::Allowed)
        .texts(&["headers"], Null::Allowed)
        .bytes("body", Null::Allowed)
        .moments(&["created_at"], Null::Never)
        .key(&["tenant_id", "client_id", "key"])
        .check("status", r#""status" BETWEEN 200 AND 299"#)
        .create(manager)
        .await?;
    create_index(
        manager,
        "idempotency_keys",
        "age",
        &["tenant_id", "created_at"],
    )
    .await
}

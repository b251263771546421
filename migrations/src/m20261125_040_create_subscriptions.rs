//! Creates the tables of events on their way out: who wants to be told, each event on its way to each of them, and every
//! attempt.

use sea_orm_migration::sea_orm::ConnectionTrait;
use sea_orm_migration::sea_query::Table;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::{Null, TenantTable, create_index, create_unique};

/// The step.
pub(crate) struct CreateSubscriptions;

impl MigrationName for CreateSubscriptions {
    fn name(&self) -> &'static str {
        "m20261125_040_create_subscriptions"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CreateSubscriptions {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        subscriptions(manager).await?;
        deliveries(manager).await?;
        TenantTable::new(manager, "delivery_attempts")
            .uuids(&["delivery_id"], Null::Never)
            .integers(&["number"], Null::Never)
            .moments(&["started_at"], Null::Never)
            .integers(&["duration_ms", "http_status"], Null::Allowed)
            .texts(&["outcome"], Null::Never)
            .texts(&["answer"], Null::Allowed)
            .key(&["tenant_id", "delivery_id", "number"])
            .refers("delivery_id", "deliveries")
            .check("number", r#""number" >= 1"#)
            .create(manager)
            .await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        for table in ["delivery_attempts", "deliveries", "subscriptions"] {
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

async fn subscriptions(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    TenantTable::new(manager, "subscriptions")
        .read_by_worker()
        .uuids(&["id"], Null::Never)
        .integers(&["version"], Null::Never)
        .texts(&["name", "status", "document", "secret"], Null::Never)
        .texts(&["disabled_because", "previous_secret"], Null::Allowed)
        .moments(&["previous_until", "failing_since"], Null::Allowed)
        .moments(&["created_at", "updated_at"], Null::Never)
        .texts(&["by_client", "by_subject"], Null::Allowed)
        .key(&["tenant_id", "id"])
        .of_tenant()
        .check("version", r#""version" >= 1"#)
        .check(
            "previous",
            r#"("previous_secret" IS NULL) = ("previous_until" IS NULL)"#,
        )
        .one_of("status", &["enabled", "disabled", "deleted"])
        .one_of("disabled_because", &["asked", "gone", "failing"])
        .create(manager)
        .await
}

async fn deliveries(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    TenantTable::new(manager, "deliveries")
        .read_by_worker()
        .uuids(&["id", "subscription_id", "event_id"], Null::Never)
        .integers(&["version", "n_attempts", "n_round"], Null::Never)
        .texts(&["event_type", "status"], Null::Never)
        .moments(&["event_at", "created_at"], Null::Never)
        .moments(&["due_at", "finished_at"], Null::Allowed)
        .uuids(&["lease"], Null::Allowed)
        .key(&["tenant_id", "id"])
        .refers("subscription_id", "subscriptions")
        .refers("event_id", "outbox")
        .check("version", r#""version" >= 1"#)
        .not_negative(&["n_attempts", "n_round"])
        .one_of("status", &["pending", "delivered", "dead", "cancelled"])
        // What waits has a moment at which it is looked at again, and nothing else has one.
        .check("due", r#"("status" = 'pending') = ("due_at" IS NOT NULL)"#)
        .check("leased", r#""lease" IS NULL OR "status" = 'pending'"#)
        .create(manager)
        .await?;
    let once = ["tenant_id", "subscription_id", "event_id"];
    create_unique(manager, "deliveries", "event", &once).await?;
    for (what, columns) in [
        ("event", ["tenant_id", "event_id", "id"]),
        ("subscription", ["tenant_id", "subscription_id", "id"]),
        ("status", ["tenant_id", "status", "id"]),
        ("age", ["tenant_id", "created_at", "id"]),
    ] {
        create_index(manager, "deliveries", what, &columns).await?;
    }
    // Raw, because a partial index has no other spelling that both databases share.
    for index in [
        r#"CREATE INDEX "ix_deliveries_due" ON "deliveries" ("tenant_id", "subscription_id", "due_at", "id") WHERE "due_at" IS NOT NULL"#,
        r#"CREATE INDEX "ix_deliveries_leased" ON "deliveries" ("tenant_id", "subscription_id", "due_at") WHERE "lease" IS NOT NULL"#,
    ] {
        manager.get_connection().execute_unprepared(index).await?;
    }
    Ok(())
}

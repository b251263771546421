//! What the courier asks of all tenants at once: where there is something to do. What it then does, it does in
//! transactions of one tenant each.
//!
//! These are, with [`Tenants`](super::Tenants) and the jobs that are due, the only statements without a tenant. They read
//! ids and count; they change nothing.

use chrono::{DateTime, TimeDelta, Utc};
use domain::id::{SubscriptionId, TenantId};
use sea_orm::sea_query::{Expr, ExprTrait, Order, Query, SelectStatement};
use sea_orm::{ConnectionTrait, QueryResult};
use uuid::Uuid;

use super::tenant::{BATCH, delete_some};
use super::{Store, StoreError};
use crate::clock::truncate_to_millis;
use crate::row::SubscriptionStatus;

/// How many tenants or subscriptions with something to do are looked at in one go.
const LOOKED_AT: u64 = 200;

/// How events stand on their way out.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Backlog {
    /// Events that were not handed out yet, of tenants that have a subscription.
    pub n_events: i64,
    /// Deliveries that wait for an attempt.
    pub n_deliveries: i64,
    /// How long the oldest event waits to be handed out.
    pub oldest_event: TimeDelta,
    /// How long the delivery that should have been tried first waits for it.
    pub oldest_due: TimeDelta,
}

impl Store {
    /// Tenants with a subscription and with events that were not handed out yet.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn tenants_with_events(&self) -> Result<Vec<TenantId>, StoreError> {
        let waiting = Query::select()
            .expr(Expr::val(1))
            .from("outbox")
            .and_where(Expr::col(("outbox", "tenant_id")).equals(("subscriptions", "tenant_id")))
            .and_where(Expr::col("handed_out_at").is_null())
            .take();
        let tenants = Query::select()
            .distinct()
            .column("tenant_id")
            .from("subscriptions")
            .and_where(Expr::exists(waiting))
            .limit(LOOKED_AT)
            .take();
        let rows = self.look_for_work().await?.query_all(&tenants).await?;
        rows.iter().map(|row| tenant(row, 0)).collect()
    }

    /// Enabled subscriptions of any tenant with a delivery that is due and fewer than `most` that are being tried, those
    /// first that wait longest; each is named once, however much waits for it.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn due_subscriptions(
        &self,
        now: DateTime<Utc>,
        most: u64,
    ) -> Result<Vec<(TenantId, SubscriptionId)>, StoreError> {
        let n_leased = of_subscription()
            .expr(Expr::col("id").count())
            .and_where(Expr::col("lease").is_not_null())
            .and_where(Expr::col("due_at").gt(truncate_to_millis(now)))
            .take();
        let n_leased = Expr::SubQuery(None, Box::new(n_leased.into()));
        let first_due = of_subscription()
            .expr(Expr::col("due_at").min())
            .and_where(Expr::col("due_at").lte(truncate_to_millis(now)))
            .take();
        let due = of_subscription()
            .expr(Expr::val(1))
            .and_where(Expr::col("due_at").lte(truncate_to_millis(now)))
            .take();
        let subscriptions = Query::select()
            .columns(["tenant_id", "id"])
            .from("subscriptions")
            .and_where(Expr::col("status").eq(SubscriptionStatus::Enabled.as_str()))
            .and_where(Expr::exists(due))
            .and_where(n_leased.lt(i64::try_from(most).unwrap_or(i64::MAX)))
            .order_by_expr(Expr::SubQuery(None, Box::new(first_due.into())), Order::Asc)
            .limit(LOOKED_AT)
            .take();
        let rows = self
            .look_for_work()
            .await?
            .query_all(&subscriptions)
            .await?;
        let read = |row: &QueryResult| {
            let id: Uuid = row.try_get_by_index(1)?;
            Ok((tenant(row, 0)?, SubscriptionId::from_uuid(id)))
        };
        rows.iter().map(read).collect()
    }

    /// How much waits to go out.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn backlog(&self, now: DateTime<Utc>) -> Result<Backlog, StoreError> {
        let subscribed = Query::select()
            .column("tenant_id")
            .from("subscriptions")
            .take();
        let events = Query::select()
            .expr(Expr::col("id").count())
            .expr(Expr::col("created_at").min())
            .from("outbox")
            .and_where(Expr::col("handed_out_at").is_null())
            .and_where(Expr::col("tenant_id").in_subquery(subscribed))
            .take();
        let deliveries = Query::select()
            .expr(Expr::col("id").count())
            .expr(Expr::col("due_at").min())
            .from("deliveries")
            .and_where(Expr::col("due_at").is_not_null())
            .take();
        let (n_events, first) = self.count_and_first(&events).await?;
        let (n_deliveries, due) = self.count_and_first(&deliveries).await?;
        let since = |moment: Option<DateTime<Utc>>| {
            let age = moment.map(|moment| now.signed_duration_since(moment));
            age.unwrap_or_default().max(TimeDelta::zero())
        };
        Ok(Backlog {
            n_events,
            n_deliveries,
            oldest_event: since(first),
            oldest_due: since(due),
        })
    }

    async fn count_and_first(
        &self,
        select: &SelectStatement,
    ) -> Result<(i64, Option<DateTime<Utc>>), StoreError> {
        let Some(row) = self.look_for_work().await?.query_one(select).await? else {
            return Ok((0, None));
        };
        Ok((row.try_get_by_index(0)?, row.try_get_by_index(1)?))
    }

    /// Forgets up to a batch of what a tenant's log of deliveries holds from before a moment: attempts, deliveries that
    /// came to their end, events that no delivery names, and deleted subscriptions that none names. Says how many rows
    /// went; call it again until none does.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn sweep_deliveries(
        &self,
        tenant: TenantId,
        before: DateTime<Utc>,
    ) -> Result<u64, StoreError> {
        let before = truncate_to_millis(before);
        let ended = |column: &'static str| {
            Expr::col(column)
                .lt(before)
                .and(Expr::col("due_at").is_null())
        };
        let old = Query::select()
            .column("id")
            .from("deliveries")
            .and_where(Expr::col("tenant_id").eq(tenant.uuid()))
            .and_where(ended("created_at"))
            .order_by("created_at", Order::Asc)
            .limit(BATCH)
            .take();
        let attempts = Expr::col("delivery_id").in_subquery(old);
        // Attempts first: a delivery whose attempts fill more than a batch goes with the last of them.
        let unnamed = |table: &'static str, column: &'static str| {
            let named = Query::select()
                .expr(Expr::val(1))
                .from("deliveries")
                .and_where(Expr::col(("deliveries", "tenant_id")).equals((table, "tenant_id")))
                .and_where(Expr::col(("deliveries", column)).equals((table, "id")))
                .take();
            Expr::exists(named).not()
        };
        let tried = Query::select()
            .expr(Expr::val(1))
            .from("delivery_attempts")
            .and_where(
                Expr::col(("delivery_attempts", "tenant_id")).equals(("deliveries", "tenant_id")),
            )
            .and_where(Expr::col(("delivery_attempts", "delivery_id")).equals(("deliveries", "id")))
            .take();
        let untried = Expr::exists(tried).not();
        let steps = [
            ("delivery_attempts", attempts),
            ("deliveries", ended("created_at").and(untried)),
            (
                "outbox",
                Expr::col("id")
                    .lt(first_id_of(before))
                    .and(Expr::col("created_at").lt(before))
                    .and(unnamed("outbox", "event_id")),
            ),
            (
                "subscriptions",
                Expr::col("status")
                    .eq(SubscriptionStatus::Deleted.as_str())
                    .and(unnamed("subscriptions", "subscription_id")),
            ),
        ];
        let mut n_swept = 0_u64;
        for (table, only) in steps {
            let tx = self.begin(tenant).await?;
            n_swept = n_swept.saturating_add(delete_some(&tx, table, Some(only)).await?);
            tx.commit().await?;
        }
        Ok(n_swept)
    }
}

/// A query of the deliveries of the subscription that the statement around it is at.
fn of_subscription() -> SelectStatement {
    Query::select()
        .from("deliveries")
        .and_where(Expr::col(("deliveries", "tenant_id")).equals(("subscriptions", "tenant_id")))
        .and_where(Expr::col(("deliveries", "subscription_id")).equals(("subscriptions", "id")))
        .take()
}

fn tenant(row: &QueryResult, index: usize) -> Result<TenantId, StoreError> {
    let id: Uuid = row.try_get_by_index(index)?;
    Ok(TenantId::from_uuid(id))
}

/// The id before every one that is made from a moment on: ids begin with the milliseconds of their making.
fn first_id_of(moment: DateTime<Utc>) -> Uuid {
    let milliseconds = u128::try_from(moment.timestamp_millis()).unwrap_or_default();
    Uuid::from_u128(milliseconds << 80)
}

#[cfg(test)]
mod tests {
    use super::first_id_of;
    use crate::clock::{Clock as _, IdSource as _, SystemClock, UuidV7Source};
    use chrono::TimeDelta;

    #[test]
    fn ids_stand_in_the_order_of_the_moments_of_their_making() {
        let now = SystemClock.now();
        let id = UuidV7Source.uuid();
        assert!(first_id_of(now) <= id);
        assert!(id < first_id_of(now + TimeDelta::hours(1)));
    }
}

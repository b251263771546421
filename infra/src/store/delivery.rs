//! Events on their way to those who want to be told of them.
//!
//! Whoever tries a delivery holds it by a lease, a number that nobody else has: what came of the attempt is written only
//! where the lease is still found, in the statement that writes. A lease that has run out makes the delivery due again.

use chrono::{DateTime, Utc};
use domain::id::{DeliveryId, EventId, SubscriptionId};
use sea_orm::sea_query::{Expr, ExprTrait, Order};
use sea_orm::{Condition, EntityTrait, PaginatorTrait, QueryFilter, QueryOrder, QuerySelect};
use uuid::Uuid;

use super::{Access, Page, StoreError, Tx, table};
use crate::clock::truncate_to_millis;
use crate::row::{AttemptRow, DeliveryRow, DeliveryStatus, delivery};

/// Which deliveries to list.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct DeliveryFilter {
    /// To this subscription.
    pub subscription_id: Option<SubscriptionId>,
    /// Of this event.
    pub event_id: Option<EventId>,
    /// That stand here.
    pub status: Option<DeliveryStatus>,
}

/// What becomes of a delivery after an attempt.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Recorded {
    /// Where it stands.
    pub status: DeliveryStatus,
    /// When it is tried again, if it is.
    pub due_at: Option<DateTime<Utc>>,
    /// When the attempt came to its end.
    pub now: DateTime<Utc>,
}

/// Which deliveries of a subscription are sent again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span {
    /// Events from this moment on.
    pub from: DateTime<Utc>,
    /// Events before this moment.
    pub to: DateTime<Utc>,
    /// Whether those that arrived are sent again too.
    pub with_delivered: bool,
}

/// The deliveries of the tenant.
#[derive(Debug, Clone, Copy)]
pub struct Deliveries<'a, A = Tx>(pub(super) &'a A);

impl Deliveries<'_> {
    /// Adds deliveries, hundreds by each statement.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: an event has one to the same subscription already, or one of the two is not there.
    pub async fn insert(&self, rows: &[DeliveryRow]) -> Result<(), StoreError> {
        table::insert_many(self.0, rows).await
    }

    /// Leases the deliveries of a subscription that are due longest, no more than leaves `most` leased in all. The caller
    /// must have taken the subscription, or two could lease too many.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn lease(
        &self,
        subscription: SubscriptionId,
        (lease, until): (Uuid, DateTime<Utc>),
        now: DateTime<Utc>,
        most: u64,
    ) -> Result<Vec<DeliveryRow>, StoreError> {
        let now = truncate_to_millis(now);
        let own = || {
            table::rows::<DeliveryRow>(self.0)
                .filter(table::is("subscription_id", subscription.uuid()))
        };
        let n_leased = own().filter(is_leased(now)).count(&self.0.inner).await?;
        let due = own()
            .filter(Expr::col("due_at").lte(now))
            .order_by(Expr::col("due_at"), Order::Asc)
            .order_by(Expr::col("id"), Order::Asc)
            .limit(most.saturating_sub(n_leased));
        let mut due: Vec<DeliveryRow> = table::all(self.0, due).await?;
        if due.is_empty() {
            return Ok(due);
        }
        let ids = due.iter().map(|row| row.id.uuid());
        delivery::Entity::update_many()
            .col_expr("lease", Expr::val(lease))
            .col_expr("due_at", Expr::val(truncate_to_millis(until)))
            .filter(table::is("tenant_id", self.0.tenant.uuid()))
            .filter(Expr::col("id").is_in(ids))
            .exec(&self.0.inner)
            .await?;
        for row in &mut due {
            (row.lease, row.due_at) = (Some(lease), Some(truncate_to_millis(until)));
        }
        Ok(due)
    }

    /// Writes down what came of an attempt; false if the lease is not there any more, and then nothing is written.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn record(
        &self,
        lease: Uuid,
        attempt: &AttemptRow,
        after: Recorded,
    ) -> Result<bool, StoreError> {
        let finished = (after.status != DeliveryStatus::Pending).then_some(after.now);
        let update = delivery::Entity::update_many()
            .col_expr("version", Expr::col("version").add(1))
            .col_expr("n_attempts", Expr::val(attempt.number))
            .col_expr("n_round", Expr::col("n_round").add(1))
            .col_expr("status", Expr::val(after.status.as_str()))
            .col_expr("due_at", Expr::val(after.due_at.map(truncate_to_millis)))
            .col_expr("finished_at", Expr::val(finished.map(truncate_to_millis)))
            .col_expr("lease", Expr::val(Option::<Uuid>::None));
        let done = update
            .filter(table::is("tenant_id", self.0.tenant.uuid()))
            .filter(table::is("id", attempt.delivery_id.uuid()))
            .filter(table::is("lease", lease))
            .exec(&self.0.inner)
            .await?;
        if done.rows_affected != 1 {
            return Ok(false);
        }
        table::insert(self.0, attempt).await?;
        Ok(true)
    }

    /// Makes a delivery due now, whatever came of it, with all its attempts before it again; one that is being tried is
    /// left to whoever tries it.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn replay(&self, id: DeliveryId, now: DateTime<Utc>) -> Result<(), StoreError> {
        let one = Condition::all().add(table::is("id", id.uuid()));
        self.make_due(one, now).await?;
        Ok(())
    }

    /// How many deliveries of a subscription [`Deliveries::replay_span`] would make due.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn count_span(
        &self,
        subscription: SubscriptionId,
        span: Span,
    ) -> Result<u64, StoreError> {
        let rows = table::rows::<DeliveryRow>(self.0).filter(in_span(subscription, span));
        Ok(rows.count(&self.0.inner).await?)
    }

    /// Makes deliveries of a subscription due now that came to nothing and, if so wished, those that arrived; says how
    /// many.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn replay_span(
        &self,
        subscription: SubscriptionId,
        span: Span,
        now: DateTime<Utc>,
    ) -> Result<u64, StoreError> {
        self.make_due(in_span(subscription, span), now).await
    }

    async fn make_due(&self, which: Condition, now: DateTime<Utc>) -> Result<u64, StoreError> {
        let now = truncate_to_millis(now);
        let done = delivery::Entity::update_many()
            .col_expr("version", Expr::col("version").add(1))
            .col_expr("n_round", Expr::val(0_i64))
            .col_expr("status", Expr::val(DeliveryStatus::Pending.as_str()))
            .col_expr("due_at", Expr::val(now))
            .col_expr("finished_at", Expr::val(Option::<DateTime<Utc>>::None))
            .col_expr("lease", Expr::val(Option::<Uuid>::None))
            .filter(table::is("tenant_id", self.0.tenant.uuid()))
            .filter(which)
            .filter(is_leased(now).not())
            .exec(&self.0.inner)
            .await?;
        Ok(done.rows_affected)
    }

    /// Cancels what waits for a subscription, also what is being tried: its outcome is not written down any more.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn cancel(
        &self,
        subscription: SubscriptionId,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        delivery::Entity::update_many()
            .col_expr("version", Expr::col("version").add(1))
            .col_expr("status", Expr::val(DeliveryStatus::Cancelled.as_str()))
            .col_expr("due_at", Expr::val(Option::<DateTime<Utc>>::None))
            .col_expr("lease", Expr::val(Option::<Uuid>::None))
            .col_expr("finished_at", Expr::val(truncate_to_millis(now)))
            .filter(table::is("tenant_id", self.0.tenant.uuid()))
            .filter(table::is("subscription_id", subscription.uuid()))
            .filter(table::is("status", DeliveryStatus::Pending.as_str()))
            .exec(&self.0.inner)
            .await?;
        Ok(())
    }
}

impl<A: Access> Deliveries<'_, A> {
    /// The delivery with this id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn get(&self, id: DeliveryId) -> Result<Option<DeliveryRow>, StoreError> {
        table::get(self.0, id.uuid()).await
    }

    /// The last attempts of a delivery, the newest first.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn attempts(
        &self,
        id: DeliveryId,
        limit: u64,
    ) -> Result<Vec<AttemptRow>, StoreError> {
        let select = table::rows::<AttemptRow>(self.0)
            .filter(table::is("delivery_id", id.uuid()))
            .order_by(Expr::col("number"), Order::Desc)
            .limit(limit);
        table::all(self.0, select).await
    }

    /// Deliveries in the order of their ids, which is that of their making.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list(
        &self,
        filter: &DeliveryFilter,
        (after, limit): (Option<DeliveryId>, u64),
    ) -> Result<Page<DeliveryRow, DeliveryId>, StoreError> {
        let subscription = filter.subscription_id;
        let condition = Condition::all()
            .add_option(subscription.map(|id| table::is("subscription_id", id.uuid())))
            .add_option(filter.event_id.map(|id| table::is("event_id", id.uuid())))
            .add_option(filter.status.map(|word| table::is("status", word.as_str())));
        let after = after.map(DeliveryId::uuid);
        let rows = table::list(self.0, condition, after, limit).await?;
        Ok(Page::cut(rows, limit, |row: &DeliveryRow| row.id))
    }
}

/// Somebody tries it at this moment.
fn is_leased(now: DateTime<Utc>) -> Condition {
    Condition::all()
        .add(Expr::col("lease").is_not_null())
        .add(Expr::col("due_at").gt(now))
}

fn in_span(subscription: SubscriptionId, span: Span) -> Condition {
    let ended = [DeliveryStatus::Dead, DeliveryStatus::Delivered];
    let n_ended = if span.with_delivered { 2 } else { 1 };
    let statuses = ended.iter().take(n_ended).map(|word| word.as_str());
    Condition::all()
        .add(table::is("subscription_id", subscription.uuid()))
        .add(Expr::col("event_at").gte(truncate_to_millis(span.from)))
        .add(Expr::col("event_at").lt(truncate_to_millis(span.to)))
        .add(Expr::col("status").is_in(statuses))
}

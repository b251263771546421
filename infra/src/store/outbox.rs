//! Events on their way out.

use chrono::{DateTime, Utc};
use domain::id::{EventId, SubscriptionId};
use sea_orm::sea_query::{Expr, ExprTrait, LockBehavior, LockType, Order, Query};
use sea_orm::{Condition, EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use uuid::Uuid;

use super::{Page, StoreError, Tx, table};
use crate::clock::truncate_to_millis;
use crate::row::{EventRow, outbox};

/// The events of the tenant.
#[derive(Debug, Clone, Copy)]
pub struct Outbox<'a>(pub(super) &'a Tx);

impl Outbox<'_> {
    /// Adds an event. It goes out only if the transaction that made it true commits.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id is taken.
    pub async fn append(&self, event: &EventRow) -> Result<(), StoreError> {
        table::insert(self.0, event).await
    }

    /// Adds events, hundreds by each statement.
    ///
    /// # Errors
    /// As [`Outbox::append`], for any of them.
    pub async fn append_many(&self, events: &[EventRow]) -> Result<(), StoreError> {
        table::insert_many(self.0, events).await
    }

    /// The oldest events that are kept, whether they were handed out or not.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn list(&self, limit: u64) -> Result<Vec<EventRow>, StoreError> {
        let events = table::list(self.0, Condition::all(), None, limit).await?;
        Ok(Page::cut(events, limit, |event: &EventRow| -> EventId { event.id }).items)
    }

    /// The oldest events that were not handed out yet. Nobody else gets them until the transaction ends, and those that
    /// somebody else has are passed over.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn take_waiting(&self, limit: u64) -> Result<Vec<EventRow>, StoreError> {
        let select = table::rows::<EventRow>(self.0)
            .filter(Expr::col("handed_out_at").is_null())
            .order_by(Expr::col("id"), Order::Asc)
            .limit(limit)
            .lock_with_behavior(LockType::NoKeyUpdate, LockBehavior::SkipLocked);
        table::all(self.0, select).await
    }

    /// Notes that those who want to be told of these events have their deliveries.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn set_handed_out(
        &self,
        ids: &[EventId],
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        let ids: Vec<Uuid> = ids.iter().map(|id| id.uuid()).collect();
        for chunk in ids.chunks(table::MAX_KEYS) {
            outbox::Entity::update_many()
                .col_expr("handed_out_at", Expr::val(truncate_to_millis(now)))
                .filter(table::is("tenant_id", self.0.tenant.uuid()))
                .filter(Expr::col("id").is_in(chunk.iter().copied()))
                .exec(&self.0.inner)
                .await?;
        }
        Ok(())
    }

    /// The events with these ids.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn get_many(&self, ids: &[EventId]) -> Result<Vec<EventRow>, StoreError> {
        let ids: Vec<Uuid> = ids.iter().map(|id| id.uuid()).collect();
        table::get_many(self.0, &ids).await
    }

    /// The oldest events of a span of time that were handed out while a subscription got no delivery of them, after one
    /// of them.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn list_missed(
        &self,
        subscription: SubscriptionId,
        (from, to): (DateTime<Utc>, DateTime<Utc>),
        after: Option<EventId>,
        limit: u64,
    ) -> Result<Vec<EventRow>, StoreError> {
        let told = Query::select()
            .expr(Expr::val(1))
            .from("deliveries")
            .and_where(table::is("tenant_id", self.0.tenant.uuid()))
            .and_where(table::is("subscription_id", subscription.uuid()))
            .and_where(Expr::col(("deliveries", "event_id")).equals(("outbox", "id")))
            .take();
        let select = table::rows::<EventRow>(self.0)
            .filter(Expr::col("handed_out_at").is_not_null())
            .filter(Expr::col("created_at").gte(truncate_to_millis(from)))
            .filter(Expr::col("created_at").lt(truncate_to_millis(to)))
            .filter(Expr::exists(told).not())
            .filter(Condition::all().add_option(after.map(|id| Expr::col("id").gt(id.uuid()))))
            .order_by(Expr::col("id"), Order::Asc)
            .limit(limit);
        table::all(self.0, select).await
    }
}

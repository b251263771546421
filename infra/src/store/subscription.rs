//! Who wants to be told of events.

use chrono::{DateTime, Utc};
use domain::id::SubscriptionId;
use sea_orm::sea_query::{Expr, ExprTrait, LockBehavior, LockType, Order};
use sea_orm::{Condition, EntityTrait, PaginatorTrait, QueryFilter, QueryOrder, QuerySelect};

use super::{Access, Page, StoreError, Tx, table};
use crate::clock::truncate_to_millis;
use crate::row::{SubscriptionRow, SubscriptionStatus, subscription};

/// The subscriptions of the tenant.
#[derive(Debug, Clone, Copy)]
pub struct Subscriptions<'a, A = Tx>(pub(super) &'a A);

impl Subscriptions<'_> {
    /// Adds a subscription.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id is taken.
    pub async fn insert(&self, row: &SubscriptionRow) -> Result<(), StoreError> {
        table::insert(self.0, row).await
    }

    /// Writes all columns; `row.version` is the new version, `expected` the one that is there.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it is not there in that version.
    pub async fn update(&self, row: &SubscriptionRow, expected: i64) -> Result<(), StoreError> {
        table::update(self.0, row, row.id.uuid(), expected).await
    }

    /// How many there are, without those that were deleted.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn count(&self) -> Result<u64, StoreError> {
        let rows = table::rows::<SubscriptionRow>(self.0).filter(is_there());
        Ok(rows.count(&self.0.inner).await?)
    }

    /// Those that are told of events, oldest first. A tenant has few.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list_enabled(&self) -> Result<Vec<SubscriptionRow>, StoreError> {
        let select = table::rows::<SubscriptionRow>(self.0)
            .filter(is_enabled())
            .order_by(Expr::col("id"), Order::Asc);
        table::all(self.0, select).await
    }

    /// One that is told of events, for whoever works on its deliveries: none if it is not enabled, or if somebody else
    /// has it. Nobody else gets it until the transaction ends. On SQLite whoever writes is alone anyway.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn take(&self, id: SubscriptionId) -> Result<Option<SubscriptionRow>, StoreError> {
        let select = table::rows::<SubscriptionRow>(self.0)
            .filter(table::is("id", id.uuid()))
            .filter(is_enabled())
            .lock_with_behavior(LockType::NoKeyUpdate, LockBehavior::SkipLocked);
        Ok(table::all(self.0, select).await?.pop())
    }

    /// Notes since when its receiver takes nothing, or that it does. Who changed it last stays as it is: nobody asked for
    /// this.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it is not there in that version.
    pub async fn set_failing_since(
        &self,
        row: &SubscriptionRow,
        since: Option<DateTime<Utc>>,
    ) -> Result<(), StoreError> {
        let done = subscription::Entity::update_many()
            .col_expr("version", Expr::col("version").add(1))
            .col_expr("failing_since", Expr::val(since.map(truncate_to_millis)))
            .filter(table::is("tenant_id", self.0.tenant.uuid()))
            .filter(table::is("id", row.id.uuid()))
            .filter(table::is("version", row.version))
            .exec(&self.0.inner)
            .await?;
        if done.rows_affected == 1 {
            Ok(())
        } else {
            Err(StoreError::StaleVersion)
        }
    }

    /// One as it is, for whoever notes how its receiver does; nobody changes it until the transaction ends.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn hold(&self, id: SubscriptionId) -> Result<Option<SubscriptionRow>, StoreError> {
        let select = table::rows::<SubscriptionRow>(self.0)
            .filter(table::is("id", id.uuid()))
            .lock(LockType::NoKeyUpdate);
        Ok(table::all(self.0, select).await?.pop())
    }
}

impl<A: Access> Subscriptions<'_, A> {
    /// The subscription with this id; one that was deleted is not there.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn get(&self, id: SubscriptionId) -> Result<Option<SubscriptionRow>, StoreError> {
        let found: Option<SubscriptionRow> = table::get(self.0, id.uuid()).await?;
        Ok(found.filter(|row| row.status != SubscriptionStatus::Deleted))
    }

    /// Subscriptions in the order of their ids, which is that of their making, without those that were deleted.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list(
        &self,
        status: Option<SubscriptionStatus>,
        (after, limit): (Option<SubscriptionId>, u64),
    ) -> Result<Page<SubscriptionRow, SubscriptionId>, StoreError> {
        let filter = is_there().add_option(status.map(|word| table::is("status", word.as_str())));
        let rows = table::list(self.0, filter, after.map(SubscriptionId::uuid), limit).await?;
        Ok(Page::cut(rows, limit, |row: &SubscriptionRow| row.id))
    }
}

fn is_there() -> Condition {
    Condition::all().add(Expr::col("status").ne(SubscriptionStatus::Deleted.as_str()))
}

fn is_enabled() -> Condition {
    Condition::all().add(table::is("status", SubscriptionStatus::Enabled.as_str()))
}

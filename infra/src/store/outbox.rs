//! Events on their way out.

use domain::id::EventId;
use sea_orm::Condition;
use sea_orm::sea_query::{Expr, ExprTrait};

use super::{Page, StoreError, Tx, table};
use crate::row::EventRow;

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

    /// Events that were not delivered yet, the oldest first.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn list_unsent(&self, limit: u64) -> Result<Vec<EventRow>, StoreError> {
        let unsent = Condition::all().add(Expr::col("sent_at").is_null());
        let events = table::list(self.0, unsent, None, limit).await?;
        Ok(Page::cut(events, limit, |event: &EventRow| -> EventId { event.id }).items)
    }
}

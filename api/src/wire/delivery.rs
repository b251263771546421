//! Deliveries on the wire: the log of what was sent to whom, and what came of it.

use infra::row::{AttemptRow, DeliveryRow};
use serde::Serialize;
use utoipa::ToSchema;

use super::time;

/// An event on its way to a subscription.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct DeliveryView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^dlv_[0-9a-f-]{36}$")]
    id: String,
    /// Grows by one with each change, from 1.
    #[schema(minimum = 1)]
    version: i64,
    /// `pending`: waits for its next attempt; `delivered`: its receiver took it; `dead`: not tried again unless it is
    /// replayed; `cancelled`: its subscription was deleted before.
    #[schema(max_length = 20, pattern = "^[a-z]+$")]
    status: &'static str,
    /// Where it goes.
    #[schema(max_length = 40, pattern = "^sub_[0-9a-f-]{36}$")]
    subscription_id: String,
    /// The event; `webhook-id` and the `id` of the message say the same.
    #[schema(max_length = 40, pattern = "^evt_[0-9a-f-]{36}$")]
    event_id: String,
    /// The type of the event.
    #[schema(max_length = 80)]
    event_type: String,
    /// When the event happened.
    #[schema(format = DateTime, max_length = 24)]
    event_at: String,
    /// How often it was tried.
    #[schema(minimum = 0)]
    n_attempts: i64,
    /// When it is tried next, if its subscription is enabled; null if it is not tried again. While it is being tried, the
    /// moment at which that is taken for lost.
    #[schema(format = DateTime, max_length = 24)]
    next_attempt_at: Option<String>,
    /// When it was made.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
    /// When it came to its end.
    #[schema(format = DateTime, max_length = 24)]
    finished_at: Option<String>,
    /// Its last 50 attempts, the newest first; absent in lists.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_items = 50)]
    attempts: Option<Vec<AttemptView>>,
}

/// One attempt to hand an event over.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[schema(example = json!({"number": 1, "started_at": "2026-06-01T12:00:00.000Z", "duration_ms": 84, "http_status": 503,
    "outcome": "refused", "answer": "Down for maintenance."}))]
pub(crate) struct AttemptView {
    /// Counts the attempts of a delivery, from 1.
    #[schema(minimum = 1)]
    number: i64,
    /// When it was begun.
    #[schema(format = DateTime, max_length = 24)]
    started_at: String,
    /// How long the answer took; null if there was none.
    #[schema(minimum = 0)]
    duration_ms: Option<i64>,
    /// The HTTP status of the answer; null if there was none.
    #[schema(minimum = 100, maximum = 999)]
    http_status: Option<i64>,
    /// `taken`; `refused`: answered with another status than 2xx; `unreached`: no answer, for whatever reason;
    /// `undeliverable`: the message could not be made or signed here.
    #[schema(max_length = 20, pattern = "^[a-z]+$")]
    outcome: String,
    /// The first 1,000 characters of the answer's text, without control characters; null if there was none.
    #[schema(max_length = 1000)]
    answer: Option<String>,
}

impl DeliveryView {
    /// The delivery of a row, without its attempts.
    pub(crate) fn new(row: &DeliveryRow) -> Self {
        Self {
            id: row.id.to_string(),
            version: row.version,
            status: row.status.as_str(),
            subscription_id: row.subscription_id.to_string(),
            event_id: row.event_id.to_string(),
            event_type: row.event_type.clone(),
            event_at: time::write(row.event_at),
            n_attempts: row.n_attempts,
            next_attempt_at: row.due_at.map(time::write),
            created_at: time::write(row.created_at),
            finished_at: row.finished_at.map(time::write),
            attempts: None,
        }
    }

    /// The same with its attempts.
    #[must_use]
    pub(crate) fn with_attempts(self, attempts: Vec<AttemptRow>) -> Self {
        let attempts = attempts.into_iter().map(AttemptView::from).collect();
        Self {
            attempts: Some(attempts),
            ..self
        }
    }
}

impl From<AttemptRow> for AttemptView {
    fn from(row: AttemptRow) -> Self {
        Self {
            number: row.number,
            started_at: time::write(row.started_at),
            duration_ms: row.duration_ms,
            http_status: row.http_status,
            outcome: row.outcome,
            answer: row.answer,
        }
    }
}

/// A page of deliveries.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DeliveryPage {
    /// The deliveries, in the order of their making.
    #[schema(max_items = 200)]
    items: Vec<DeliveryView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}

//! Events that contractors' own systems send, and what is answered.
//!
//! The envelope is the one that the Standard Webhooks specification suggests: `type`, `timestamp`, `data`. Members that
//! nobody knows here are passed over, at every depth: senders add to their events before we know it.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;

use super::external::External;
use crate::body::Fault;

/// What happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
pub(crate) enum InboundType {
    /// Work was done.
    #[serde(rename = "completion.reported")]
    Reported,
    /// A report was wrong; `data` is the whole corrected report.
    #[serde(rename = "completion.corrected")]
    Corrected,
    /// A report is void: the work was not done.
    #[serde(rename = "completion.voided")]
    Voided,
    /// A value was measured.
    #[serde(rename = "reading.taken")]
    Reading,
}

impl InboundType {
    /// The word that is sent and kept.
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Reported => "completion.reported",
            Self::Corrected => "completion.corrected",
            Self::Voided => "completion.voided",
            Self::Reading => "reading.taken",
        }
    }

    /// Which of two events of one moment counts: the greater.
    pub(crate) fn rank(word: &str) -> u8 {
        match word {
            "completion.voided" => 2,
            "completion.corrected" => 1,
            _ => 0,
        }
    }
}

/// An event of a contractor's system.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[schema(example = json!({
    "type": "completion.reported",
    "timestamp": "2026-03-02T04:40:00Z",
    "data": {
        "surface_id": "srf_01890a5d-ac96-774b-bcce-b302099a8057",
        "process": "machine_strip_and_refinish",
        "started_at": "2026-03-01T20:00:00Z",
        "finished_at": "2026-03-02T04:30:00Z",
        "labour": [{"stage": "prepare", "hours": 6.5}],
        "external": {"system": "crew-app", "id": "88213"},
    },
}))]
pub(crate) struct InboundEventRequest {
    /// What happened.
    #[serde(rename = "type")]
    pub(crate) kind: InboundType,
    /// When it happened in the sender's system. Of several events about one report the one that happened last counts,
    /// in whatever order they arrive.
    #[schema(value_type = String, format = DateTime, max_length = 40)]
    pub(crate) timestamp: DateTime<Utc>,
    /// What it is about: a completion's request, with `external`, for `completion.reported` and `completion.corrected`;
    /// `external` and a reason for `completion.voided`; a reading's request for `reading.taken`. `contractor_id` may be left
    /// out: it is the source's own.
    #[schema(value_type = Object)]
    pub(crate) data: Value,
}

/// A report that is void.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[schema(example = json!({"external": {"system": "crew-app", "id": "88213"}, "reason": "Sent for the wrong night."}))]
pub(crate) struct InboundVoidRequest {
    /// The report's name, as it was reported.
    pub(crate) external: External,
    /// Why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_length = 1, max_length = 500, pattern = r"\S")]
    pub(crate) reason: Option<String>,
}

/// Several events in one signed message.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[schema(example = json!({"events": [{
    "id": "evt-88213-1", "type": "completion.voided", "timestamp": "2026-03-02T05:00:00Z",
    "data": {"external": {"system": "crew-app", "id": "88213"}, "reason": "Sent for the wrong night."},
}]}))]
pub(crate) struct InboundBatchRequest {
    /// The events: each with an `id` as `webhook-id` has it, and `type`, `timestamp` and `data` as an event by itself.
    #[schema(min_items = 1, max_items = 1000, value_type = Vec<Object>)]
    pub(crate) events: Vec<Value>,
}

/// The name of an event in a batch.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub(crate) struct InboundNameRequest {
    /// As `webhook-id` has it.
    #[schema(min_length = 1, max_length = 64, pattern = "^[!-\\-/-~]{1,64}$")]
    pub(crate) id: String,
}

/// What became of an event.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum InboundOutcome {
    /// It is recorded.
    Recorded,
    /// The report counts no longer, or will not count should it still arrive.
    Voided,
    /// A later event about the report had arrived before: nothing changed.
    Outdated,
    /// It cannot be taken as it is; only in a batch.
    Refused,
}

/// What became of an event; the same however often it is sent.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub(crate) struct InboundView {
    /// The event's id.
    #[schema(max_length = 64)]
    pub(crate) id: String,
    /// What became of it.
    pub(crate) outcome: InboundOutcome,
    /// The completion that came of the report, if there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 40, pattern = "^cmp_[0-9a-f-]{36}$")]
    pub(crate) completion_id: Option<String>,
    /// The reading.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 40, pattern = "^rdg_[0-9a-f-]{36}$")]
    pub(crate) reading_id: Option<String>,
    /// Words for in what the work differs from its plan; somebody will look at them.
    #[serde(default)]
    #[schema(max_items = 100)]
    pub(crate) deviations: Vec<String>,
    /// There, and `true`, if the event was only tried out: nothing of it was kept.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub(crate) dry_run: bool,
}

/// What became of one event of a batch.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct InboundItemView {
    /// Its place in the message, from 0.
    #[schema(minimum = 0, maximum = 999)]
    pub(crate) index: usize,
    /// The event's id, if it could be read.
    #[schema(max_length = 64)]
    pub(crate) id: Option<String>,
    /// What became of it.
    pub(crate) outcome: InboundOutcome,
    /// The completion that came of the report, if there is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 40, pattern = "^cmp_[0-9a-f-]{36}$")]
    pub(crate) completion_id: Option<String>,
    /// The reading.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 40, pattern = "^rdg_[0-9a-f-]{36}$")]
    pub(crate) reading_id: Option<String>,
    /// Words for in what the work differs from its plan.
    #[schema(max_items = 100)]
    pub(crate) deviations: Vec<String>,
    /// Why it was refused, as `code` of the problem that it would have got by itself; `contended`, `timed_out`,
    /// `unavailable` and `idempotency_in_flight` are worth another try with the same id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 60, pattern = "^[a-z_]+$")]
    pub(crate) code: Option<&'static str>,
    /// What is wrong with it; pointers begin at the message.
    #[schema(max_items = 1000)]
    pub(crate) errors: Vec<Fault>,
}

/// What became of a batch.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct InboundBatchView {
    /// The events, in the order of the message.
    #[schema(max_items = 1000)]
    pub(crate) items: Vec<InboundItemView>,
}

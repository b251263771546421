//! Subscriptions on the wire: who wants to be told of events, and where.

use infra::row::{DisabledBecause, EventRow, SubscriptionRow};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{event::EventType, patch::patch_of, stored, time};
use crate::{problem::Problem, signature::WebhookSecret};

/// A subscription to make.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "name": "Works orders", "url": "https://hooks.fm.example/wearcourse",
    "event_types": ["wearcourse.plan.accepted.v1", "wearcourse.completion.recorded.v1"],
}))]
pub(crate) struct SubscriptionRequest {
    /// What people call it.
    #[schema(min_length = 1, max_length = 200, pattern = r"\S")]
    pub(crate) name: String,
    /// Where events are sent: an `https` address of the public internet.
    #[schema(min_length = 9, max_length = 2000, pattern = r"^\S+$")]
    pub(crate) url: String,
    /// Which types of events; without it all of them, those of later releases too.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_items = 1, max_items = 100)]
    pub(crate) event_types: Option<Vec<EventType>>,
    /// Only events of these sites; those that belong to no single site are left out then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_items = 1, max_items = 100)]
    pub(crate) site_ids: Option<Vec<String>>,
    /// Whether it is told of events; `false` lets what waits for it wait, and what happens meanwhile pass it by.
    #[serde(default = "yes")]
    #[schema(default = true)]
    pub(crate) enabled: bool,
    /// A secret of your own to sign with: `whsec_` and the base64 of 24 to 64 random bytes. Without it one is made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(
        nullable = false,
        min_length = 32,
        max_length = 94,
        pattern = "^(whsec_)?[A-Za-z0-9+/]+=*$"
    )]
    pub(crate) secret: Option<String>,
}

const fn yes() -> bool {
    true
}

impl SubscriptionRequest {
    /// Whether it wants to be told of an event.
    pub(crate) fn takes(&self, event: &EventRow) -> bool {
        let is_type =
            |types: &Vec<EventType>| types.iter().any(|asked| asked.kind().word() == event.kind);
        let site = event.site_id.map(|id| id.to_string());
        let is_site = |sites: &Vec<String>| site.as_ref().is_some_and(|id| sites.contains(id));
        self.event_types.as_ref().is_none_or(is_type) && self.site_ids.as_ref().is_none_or(is_site)
    }
}

patch_of! {
    /// A change of a subscription; its secret is changed by `rotate`.
    SubscriptionPatchRequest, SubscriptionRequest, {"enabled": false}
}

/// A secret to exchange.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"overlap_h": 24}))]
pub(crate) struct RotateSubscriptionRequest {
    /// For how many hours from now messages are signed with the old secret too; 0 ends it at once, as for one that leaked.
    #[serde(default = "day")]
    #[schema(minimum = 0, maximum = 720, default = 24)]
    pub(crate) overlap_h: u32,
    /// A secret of your own: `whsec_` and the base64 of 24 to 64 random bytes. Without it one is made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(
        nullable = false,
        min_length = 32,
        max_length = 94,
        pattern = "^(whsec_)?[A-Za-z0-9+/]+=*$"
    )]
    pub(crate) secret: Option<String>,
}

const fn day() -> u32 {
    24
}

/// A subscription.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct SubscriptionView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^sub_[0-9a-f-]{36}$")]
    id: String,
    /// Grows by one with each change, from 1.
    #[schema(minimum = 1)]
    version: i64,
    /// `enabled`: it is told of events; `disabled`: it is told nothing for now.
    #[schema(max_length = 20, pattern = "^[a-z]+$")]
    status: &'static str,
    /// Why it is disabled: `asked` by somebody here; `gone`, its receiver answered 410; `failing`, its receiver took nothing
    /// for 120 hours. Null while it is enabled.
    #[schema(max_length = 20, pattern = "^[a-z]+$")]
    disabled_because: Option<&'static str>,
    /// What people call it.
    #[schema(min_length = 1, max_length = 200)]
    name: String,
    /// Where events are sent.
    #[schema(max_length = 2000)]
    url: String,
    /// Which types of events; null for all of them.
    #[schema(max_items = 100)]
    event_types: Option<Vec<EventType>>,
    /// Only events of these sites; null for all.
    #[schema(max_items = 100)]
    site_ids: Option<Vec<String>>,
    /// The secret that messages are signed with. Told once, when it is made.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(
        nullable = false,
        max_length = 100,
        pattern = "^whsec_[A-Za-z0-9+/=]+$"
    )]
    secret: Option<String>,
    /// Until when messages are, or were, signed with the secret before this one too; null if there was none or it ended at
    /// once.
    #[schema(format = DateTime, max_length = 24)]
    previous_secret_until: Option<String>,
    /// Since when its receiver took nothing; null while it takes what it is sent.
    #[schema(format = DateTime, max_length = 24)]
    failing_since: Option<String>,
    /// When it was made.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
    /// When it was last changed.
    #[schema(format = DateTime, max_length = 24)]
    updated_at: String,
}

impl SubscriptionView {
    /// The subscription of a row.
    ///
    /// # Errors
    /// `internal` for a row that is not what was written.
    pub(crate) fn new(row: &SubscriptionRow) -> Result<Self, Problem> {
        let asked: SubscriptionRequest = stored(&row.document)?;
        let previous = row.previous.as_ref().map(|(_, until)| *until);
        Ok(Self {
            id: row.id.to_string(),
            version: row.version,
            status: row.status.as_str(),
            disabled_because: row.disabled_because.map(DisabledBecause::as_str),
            name: asked.name,
            url: asked.url,
            event_types: asked.event_types,
            site_ids: asked.site_ids,
            secret: None,
            previous_secret_until: previous.map(time::write),
            failing_since: row.failing_since.map(time::write),
            created_at: time::write(row.created_at),
            updated_at: time::write(row.updated_at),
        })
    }

    /// The same with its secret, for the one answer that tells it.
    #[must_use]
    pub(crate) fn with_secret(self, secret: &WebhookSecret) -> Self {
        Self {
            secret: Some(secret.text()),
            ..self
        }
    }
}

/// A page of subscriptions.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SubscriptionPage {
    /// The subscriptions, oldest first.
    #[schema(max_items = 200)]
    items: Vec<SubscriptionView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}

/// What is sent again.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"from": "2026-05-30T00:00:00Z", "to": "2026-06-01T00:00:00Z"}))]
pub(crate) struct ReplayRequest {
    /// Events that happened from this moment on; they are kept for 30 days.
    pub(crate) from: chrono::DateTime<chrono::Utc>,
    /// Events that happened before this moment; without it, up to now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) to: Option<chrono::DateTime<chrono::Utc>>,
    /// Whether events that arrived are sent again too.
    #[serde(default)]
    #[schema(default = false)]
    pub(crate) with_delivered: bool,
}

/// What is sent again.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ReplayView {
    /// The subscription.
    #[schema(max_length = 40, pattern = "^sub_[0-9a-f-]{36}$")]
    pub(crate) subscription_id: String,
    /// How many deliveries are sent again.
    #[schema(minimum = 0)]
    pub(crate) n_replayed: u64,
    /// How many events are sent for the first time, because the subscription was not there, was disabled or asked for
    /// less when they happened.
    #[schema(minimum = 0)]
    pub(crate) n_missed: u64,
    /// Where to go on: the span held more than is done at once. Null if all of it is done.
    #[schema(format = DateTime, max_length = 24)]
    pub(crate) next_from: Option<String>,
}

//! Contractor sources on the wire: where a contractor's own system sends what happened.

use infra::row::ContractorSourceRow;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::time;
use crate::{call, signature::WebhookSecret};

/// A source to make.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"contractor_id": "con_01890a5d-ac96-774b-bcce-b302099a8057", "name": "Crew app"}))]
pub(crate) struct ContractorSourceRequest {
    /// The only contractor that it may report for.
    #[schema(max_length = 40, pattern = "^con_[0-9a-f-]{36}$")]
    pub(crate) contractor_id: String,
    /// What people call it.
    #[schema(min_length = 1, max_length = 200, pattern = r"\S")]
    pub(crate) name: String,
}

/// A secret to exchange.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"overlap_h": 24}))]
pub(crate) struct RotateSecretRequest {
    /// For how many hours from now the old secret is accepted too; 0 ends it at once, as for one that leaked.
    #[serde(default = "day")]
    #[schema(minimum = 0, maximum = 720, default = 24)]
    pub(crate) overlap_h: u32,
}

const fn day() -> u32 {
    24
}

/// A contractor source.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ContractorSourceView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^src_[0-9a-f-]{36}$")]
    id: String,
    /// Grows by one with each change, from 1.
    #[schema(minimum = 1)]
    version: i64,
    /// `enabled`: what it sends is taken; `disabled`: it is refused.
    #[schema(max_length = 20, pattern = "^[a-z]+$")]
    status: &'static str,
    /// The only contractor that it may report for.
    #[schema(max_length = 40, pattern = "^con_[0-9a-f-]{36}$")]
    contractor_id: String,
    /// What people call it.
    #[schema(min_length = 1, max_length = 200)]
    name: String,
    /// Where it sends its events, one at a time; several together go to the same address with `/batch` behind it.
    #[schema(max_length = 2000)]
    address: String,
    /// The secret that it signs with. Told once, when it is made.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(
        nullable = false,
        max_length = 100,
        pattern = "^whsec_[A-Za-z0-9+/=]+$"
    )]
    secret: Option<String>,
    /// Until when the secret before this one is, or was, accepted too; null if there was none or it ended at once.
    #[schema(format = DateTime, max_length = 24)]
    previous_secret_until: Option<String>,
    /// When it was made.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
    /// When it was last changed.
    #[schema(format = DateTime, max_length = 24)]
    updated_at: String,
}

impl ContractorSourceView {
    /// The source of a row; `path` is that of its address.
    pub(crate) fn new(row: &ContractorSourceRow, path: &str) -> Self {
        let previous = row.previous.as_ref().map(|(_, until)| *until);
        Self {
            id: row.id.to_string(),
            version: row.version,
            status: row.status.as_str(),
            contractor_id: row.contractor_id.to_string(),
            name: row.name.clone(),
            address: call::absolute(path),
            secret: None,
            previous_secret_until: previous.map(time::write),
            created_at: time::write(row.created_at),
            updated_at: time::write(row.updated_at),
        }
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

/// A page of contractor sources.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ContractorSourcePage {
    /// The sources, oldest first.
    #[schema(max_items = 200)]
    items: Vec<ContractorSourceView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}

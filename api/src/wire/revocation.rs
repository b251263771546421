//! Revocations of tokens, on the wire.

use chrono::{DateTime, Utc};
use infra::row::RevocationRow;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::time;

/// Tokens that are to be refused before they end: of a person, or of a program.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"subject": "user-4711", "reason": "No longer works here."}))]
pub(crate) struct RevocationRequest {
    /// Whose tokens, as their claim `sub` has it; or send `client_id`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_length = 1, max_length = 255)]
    pub(crate) subject: Option<String>,
    /// The program whose tokens, as their claim `client_id` (or `azp`) has it; or send `subject`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_length = 1, max_length = 255)]
    pub(crate) client_id: Option<String>,
    /// Tokens issued up to this second are refused; up to now if it is left out. Later ones are good.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, value_type = String, format = DateTime, max_length = 40)]
    pub(crate) issued_until: Option<DateTime<Utc>>,
    /// Why, in words.
    #[schema(min_length = 1, max_length = 500, pattern = r"\S")]
    pub(crate) reason: String,
}

/// Tokens that are refused before they end.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct RevocationView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^rev_[0-9a-f-]{36}$")]
    id: String,
    /// 1: a revocation is never changed.
    #[schema(minimum = 1)]
    version: i64,
    /// Whose tokens, by their claim `sub`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 255)]
    subject: Option<String>,
    /// The program whose tokens.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 255)]
    client_id: Option<String>,
    /// Tokens issued up to this second are refused.
    #[schema(format = DateTime, max_length = 24)]
    issued_until: String,
    /// Why, in words.
    #[schema(max_length = 500)]
    reason: String,
    /// When it was told.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
}

impl From<&RevocationRow> for RevocationView {
    fn from(row: &RevocationRow) -> Self {
        let of = |holder: &str| (row.holder == holder).then(|| row.name.clone());
        Self {
            id: row.id.to_string(),
            version: row.version,
            subject: of("subject"),
            client_id: of("client"),
            issued_until: time::write(row.issued_until),
            reason: row.reason.clone(),
            created_at: time::write(row.created_at),
        }
    }
}

/// A page of revocations.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RevocationPage {
    /// The revocations, in the order in which they were told.
    #[schema(max_items = 200)]
    items: Vec<RevocationView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}

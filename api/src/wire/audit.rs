//! Rows of the audit trail on the wire.

use infra::row::AuditRow;
use serde::Serialize;
use utoipa::ToSchema;

use super::time;

/// One thing that somebody did.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct AuditView {
    /// Which of the tenant's rows it is, from 1 without a gap.
    #[schema(minimum = 1)]
    number: i64,
    /// When it was done.
    #[schema(format = DateTime, max_length = 24)]
    at: String,
    /// The program that did it: `client_id` of its token, or the source of a contractor's own system.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 500)]
    client: Option<String>,
    /// On whose behalf: `sub` of the token, or the contractor.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 500)]
    subject: Option<String>,
    /// What was done: the `operationId` of this description.
    #[schema(max_length = 100)]
    operation: String,
    /// To what: the path of the record, or that of the request where there were many or none.
    #[schema(max_length = 500)]
    resource: String,
    /// SHA-256 of the record's document as the row before about it left it; none if there is no such row.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 64)]
    before_hash: Option<String>,
    /// SHA-256 of the document that was answered; none if there was none, or if it held a secret.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 64)]
    after_hash: Option<String>,
    /// SHA-256 of all this and of the hash of the row before.
    #[schema(max_length = 64)]
    hash: String,
}

impl From<AuditRow> for AuditView {
    fn from(row: AuditRow) -> Self {
        Self {
            number: row.number,
            at: time::write(row.at),
            client: row.client,
            subject: row.subject,
            operation: row.operation,
            resource: row.resource,
            before_hash: row.before,
            after_hash: row.after,
            hash: row.hash,
        }
    }
}

/// A page of the audit trail.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct AuditPage {
    /// The rows, oldest first.
    #[schema(max_items = 200)]
    items: Vec<AuditView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}

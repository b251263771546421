//! Events as they leave: the body is made once, in the transaction that made the event true.

use chrono::{DateTime, Utc};
use domain::id::EventId;
use infra::row::EventRow;
use serde::Serialize;
use serde_json::json;

use super::{document, time};
use crate::problem::Problem;

/// Makes the outbox row of an event; `kind` is its type, such as `wearcourse.site.registered.v1`, and `data` the
/// view of its subject.
///
/// # Errors
/// `internal` for a view that JSON cannot hold.
pub(crate) fn encode(
    id: EventId,
    kind: &str,
    subject: (&str, i64),
    at: DateTime<Utc>,
    data: &impl Serialize,
) -> Result<EventRow, Problem> {
    encode_document(id, kind, subject, at, &document(data)?)
}

/// The same for a view that is JSON already: it is put into the event as it is.
///
/// # Errors
/// `internal` for a subject that JSON cannot hold.
pub(crate) fn encode_document(
    id: EventId,
    kind: &str,
    (subject, version): (&str, i64),
    at: DateTime<Utc>,
    data: &str,
) -> Result<EventRow, Problem> {
    let mut payload = document(&json!({
        "id": id.to_string(),
        "type": kind,
        "occurred_at": time::write(at),
        "subject": subject,
        "version": version,
    }))?;
    // The object goes on where it ended.
    payload.pop();
    payload.push_str(",\"data\":");
    payload.push_str(data);
    payload.push('}');
    Ok(EventRow {
        id,
        kind: kind.to_owned(),
        subject: subject.to_owned(),
        version,
        payload,
        created_at: at,
        sent_at: None,
    })
}

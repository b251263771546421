//! Times on the wire: RFC 3339 in UTC with milliseconds.

use chrono::{DateTime, SecondsFormat, Utc};
use serde::Serializer;

/// Writes a time as `2026-03-01T09:30:00.000Z`.
pub(crate) fn write(moment: DateTime<Utc>) -> String {
    moment.to_rfc3339_opts(SecondsFormat::Millis, true)
}

/// Writes the time of a member that may be absent; serde asks for a reference.
///
/// # Errors
/// Those of the serializer.
#[expect(clippy::ref_option, reason = "serde gives the member as it is")]
pub(crate) fn write_option<S: Serializer>(
    moment: &Option<DateTime<Utc>>,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    match moment {
        Some(moment) => serializer.serialize_str(&write(*moment)),
        None => serializer.serialize_none(),
    }
}

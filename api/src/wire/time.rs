//! Times on the wire: RFC 3339 in UTC with milliseconds.

use chrono::{DateTime, SecondsFormat, Utc};

/// Writes a time as `2026-03-01T09:30:00.000Z`.
pub(crate) fn write(moment: DateTime<Utc>) -> String {
    moment.to_rfc3339_opts(SecondsFormat::Millis, true)
}

//! Ambient time and fresh ids: the only file that may ask the machine for either.

use chrono::{DateTime, Utc};
use uuid::Uuid;

/// Tells the time.
pub trait Clock: Send + Sync {
    /// The present moment in whole milliseconds, which is what both databases and the wire keep.
    fn now(&self) -> DateTime<Utc>;
}

/// Makes fresh ids.
pub trait IdSource: Send + Sync {
    /// A UUID that sorts after every one this source has made before.
    fn uuid(&self) -> Uuid;
}

/// The clock of the machine.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemClock;

impl Clock for SystemClock {
    #[expect(
        clippy::disallowed_methods,
        reason = "this is the one place that reads the machine's clock"
    )]
    fn now(&self) -> DateTime<Utc> {
        truncate_to_millis(Utc::now())
    }
}

/// UUIDs of version 7; a counter keeps those of one millisecond in order within the process.
#[derive(Debug, Clone, Copy, Default)]
pub struct UuidV7Source;

impl IdSource for UuidV7Source {
    #[expect(
        clippy::disallowed_methods,
        reason = "this is the one place that makes ids"
    )]
    fn uuid(&self) -> Uuid {
        Uuid::now_v7()
    }
}

/// The last whole millisecond at or before `moment`.
pub fn truncate_to_millis(moment: DateTime<Utc>) -> DateTime<Utc> {
    // Always in range: it lies at most one millisecond before a moment that exists.
    DateTime::from_timestamp_millis(moment.timestamp_millis()).unwrap_or(moment)
}

#[cfg(test)]
mod tests {
    use super::{Clock, IdSource, SystemClock, UuidV7Source, truncate_to_millis};
    use chrono::DateTime;

    #[test]
    fn the_clock_keeps_whole_milliseconds() {
        assert_eq!(SystemClock.now().timestamp_subsec_nanos() % 1_000_000, 0);
        let before_1970 = DateTime::from_timestamp(-1, 999_999_999).expect("in range");
        assert_eq!(
            truncate_to_millis(before_1970).timestamp_subsec_nanos(),
            999_000_000
        );
    }

    #[test]
    fn fresh_ids_ascend() {
        let ids: Vec<_> = (0..2_000).map(|_| UuidV7Source.uuid()).collect();
        assert!(ids.is_sorted_by(|a, b| a < b));
    }
}

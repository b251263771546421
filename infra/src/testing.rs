//! What tests need and a service does not: a clock that is set by hand, ids from a seed, a database per test.

mod database;

use std::sync::atomic::{AtomicI64, AtomicU64, Ordering};

use chrono::{DateTime, TimeDelta, Utc};
use uuid::Uuid;

pub use self::database::{TEST_DATABASE_URL, TestStore};
use crate::clock::{Clock, IdSource};

/// A clock that stands still until it is moved.
#[derive(Debug)]
pub struct ManualClock(AtomicI64);

impl ManualClock {
    /// A clock that shows `now`, in whole milliseconds.
    pub fn new(now: DateTime<Utc>) -> Self {
        Self(AtomicI64::new(now.timestamp_millis()))
    }

    /// Shows `now` from here on.
    pub fn set(&self, now: DateTime<Utc>) {
        self.0.store(now.timestamp_millis(), Ordering::SeqCst);
    }

    /// Moves the hands by `step`.
    pub fn advance(&self, step: TimeDelta) {
        self.0.fetch_add(step.num_milliseconds(), Ordering::SeqCst);
    }
}

impl Default for ManualClock {
    /// Noon on 1 June 2026.
    fn default() -> Self {
        Self(AtomicI64::new(1_780_315_200_000))
    }
}

impl Clock for ManualClock {
    fn now(&self) -> DateTime<Utc> {
        DateTime::from_timestamp_millis(self.0.load(Ordering::SeqCst)).unwrap_or_default()
    }
}

/// Ids that are the same in every run, shaped like version 7 and ascending.
#[derive(Debug)]
pub struct SeededIds {
    seed: u64,
    n_made: AtomicU64,
}

impl SeededIds {
    /// A source whose ids differ from those of every other seed.
    pub const fn new(seed: u64) -> Self {
        Self {
            seed,
            n_made: AtomicU64::new(0),
        }
    }
}

impl IdSource for SeededIds {
    fn uuid(&self) -> Uuid {
        let n = self.n_made.fetch_add(1, Ordering::SeqCst);
        let mut random = [0; 10];
        // The counter is in the time, which sorts first; the seed fills the rest.
        random
            .iter_mut()
            .rev()
            .zip(self.seed.to_be_bytes().iter().rev())
            .for_each(|(to, from)| *to = *from);
        uuid::Builder::from_unix_timestamp_millis(1_780_315_200_000_u64.saturating_add(n), &random)
            .into_uuid()
    }
}

#[cfg(test)]
mod tests {
    use super::{ManualClock, SeededIds};
    use crate::clock::{Clock, IdSource};
    use chrono::TimeDelta;

    #[test]
    fn seeded_ids_repeat_ascend_and_differ_by_seed() {
        let make = |seed| {
            let ids = SeededIds::new(seed);
            (0..100).map(|_| ids.uuid()).collect::<Vec<_>>()
        };
        assert_eq!(make(7), make(7));
        assert!(make(7).is_sorted_by(|a, b| a < b));
        assert!(
            make(7)
                .iter()
                .all(|id| !make(8).contains(id) && id.get_version_num() == 7)
        );
    }

    #[test]
    fn a_manual_clock_moves_only_when_told() {
        let clock = ManualClock::default();
        let noon = clock.now();
        assert_eq!(noon.to_rfc3339(), "2026-06-01T12:00:00+00:00");
        clock.advance(TimeDelta::hours(1));
        assert_eq!(clock.now() - noon, TimeDelta::hours(1));
    }
}

//! Token buckets, by the generic cell rate algorithm: for each key only the moment at which its bucket is full again.

use std::{
    collections::HashMap,
    hash::Hash,
    sync::{Mutex, PoisonError},
};

use chrono::{DateTime, TimeDelta, Utc};

use crate::config::Rate;

/// How many keys are remembered. When there are more, those whose bucket is full are forgotten, and all if that is not
/// half of them: whoever can send from that many addresses is not stopped by a count for each.
const MAX_KEYS: usize = 10_000;

/// A bucket for each key.
#[derive(Debug)]
pub(super) struct Buckets<K> {
    every: TimeDelta,
    /// How long an empty bucket takes to be full.
    depth: TimeDelta,
    full_at: Mutex<HashMap<K, DateTime<Utc>>>,
}

impl<K: Eq + Hash> Buckets<K> {
    /// Buckets that are full.
    pub(super) fn new(rate: Rate) -> Self {
        let every = TimeDelta::from_std(rate.every).unwrap_or(TimeDelta::MAX);
        let burst = i32::try_from(rate.burst).unwrap_or(i32::MAX);
        Self {
            every,
            depth: every.checked_mul(burst).unwrap_or(TimeDelta::MAX),
            full_at: Mutex::new(HashMap::new()),
        }
    }

    /// Takes one from the bucket of a key; if it is empty, says how long until there is one again, and takes none.
    pub(super) fn take(&self, key: K, now: DateTime<Utc>) -> Option<TimeDelta> {
        // A poisoned lock is an earlier panic elsewhere; the map itself is whole between two statements.
        let mut all = self.full_at.lock().unwrap_or_else(PoisonError::into_inner);
        if all.len() >= MAX_KEYS && !all.contains_key(&key) {
            all.retain(|_, full_at| *full_at > now);
            if all.len() > MAX_KEYS / 2 {
                all.clear();
            }
        }
        let full_at = all.entry(key).or_insert(now);
        let missing = full_at.signed_duration_since(now);
        // More than a whole bucket is missing only if the clock was put back meanwhile.
        let missing = missing.clamp(TimeDelta::zero(), self.depth);
        let after = missing + self.every;
        if after > self.depth {
            return Some(after - self.depth);
        }
        *full_at = now + after;
        None
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::{Buckets, MAX_KEYS};
    use crate::config::Rate;
    use chrono::{DateTime, TimeDelta};

    fn buckets() -> Buckets<usize> {
        Buckets::new(Rate {
            every: Duration::from_millis(20),
            burst: 100,
        })
    }

    #[test]
    fn a_bucket_gives_its_burst_and_then_its_rate() {
        let (all, start) = (buckets(), DateTime::UNIX_EPOCH);
        let n_given = (0..500).filter(|_| all.take(1, start).is_none()).count();
        assert_eq!(n_given, 100);
        assert_eq!(all.take(1, start), Some(TimeDelta::milliseconds(20)));
        assert_eq!(all.take(2, start), None, "another has a bucket of his own");
        // Ten seconds of 200 requests each, evenly: the rate goes through, and not one more.
        let n_later = (1..=2_000)
            .filter(|n| {
                all.take(1, start + TimeDelta::milliseconds(5 * n))
                    .is_none()
            })
            .count();
        assert_eq!(n_later, 500);
    }

    #[test]
    fn a_clock_that_is_put_back_bars_nobody_for_long() {
        let (all, late) = (buckets(), DateTime::UNIX_EPOCH + TimeDelta::days(1));
        while all.take(1, late).is_none() {}
        let early = DateTime::UNIX_EPOCH;
        assert_eq!(all.take(1, early), Some(TimeDelta::milliseconds(20)));
        assert!(
            all.take(1, early + TimeDelta::milliseconds(20)).is_some(),
            "and no sooner than it says"
        );
        assert!(all.full_at.lock().unwrap()[&1] > late);
    }

    #[test]
    fn a_flood_of_keys_needs_no_more_memory() {
        let (all, start) = (buckets(), DateTime::UNIX_EPOCH);
        for key in 0..3 * MAX_KEYS {
            assert_eq!(all.take(key, start), None);
        }
        assert!(all.full_at.lock().unwrap().len() <= MAX_KEYS);
    }
}

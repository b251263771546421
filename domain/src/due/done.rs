//! When a process was last done on the whole of a floor.

use std::collections::BTreeMap;

use chrono::{DateTime, TimeDelta, Utc};

use crate::{knowledge::KnowledgeBase, quantity::Area};

/// Work that counts.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Done {
    /// The key of its process.
    pub process: String,
    /// When it ended.
    pub at: DateTime<Utc>,
    /// On which area.
    pub area: Area,
}

/// A floor counts as done when no more than a thousandth of it is missing: areas are rounded.
const WHOLE_OF_1000: i128 = 999;

/// When each process was last done on the whole floor, by its key.
pub fn last_done(
    base: &KnowledgeBase,
    floor: Area,
    done: &[Done],
) -> BTreeMap<String, DateTime<Utc>> {
    // Of one process the last comes last, and takes the place of those before it.
    times_done(base, floor, done).into_iter().collect()
}

/// Each time at which a process was done on the whole floor, with its key; of one process the earliest first. Parts that were done
/// within the days of one job are added up, so that work over several nights counts in its last; a part alone never does.
pub(crate) fn times_done(
    base: &KnowledgeBase,
    floor: Area,
    done: &[Done],
) -> Vec<(String, DateTime<Utc>)> {
    let longest = TimeDelta::days(base.film.job_days);
    let mut done: Vec<&Done> = done.iter().collect();
    done.sort();
    let mut times = Vec::new();
    for parts in done.chunk_by(|one, other| one.process == other.process) {
        // What was done since the floor was last whole, and when the last of it ended.
        let (mut sum, mut since) = (Area::ZERO, None);
        for part in parts {
            let goes_on = since.is_some_and(|before| part.at - before <= longest);
            sum = if goes_on {
                sum.plus(part.area)
            } else {
                part.area
            };
            since = Some(part.at);
            if i128::from(sum.mm2()) * 1_000 >= i128::from(floor.mm2()) * WHOLE_OF_1000 {
                times.push((part.process.clone(), part.at));
                (sum, since) = (Area::ZERO, None);
            }
        }
    }
    times
}

//! When an event is sent again to a receiver that did not take it, and when one gives up.
//!
//! The schedule is the example of the Standard Webhooks specification: ten attempts over 75 h 35 min 5 s. Each wait is
//! spread by up to a fifth either way, so that receivers that come back are not all called at once. Nothing here looks at
//! a clock or draws lots: the spread follows from a seed, so that a run can be repeated.

use chrono::{DateTime, TimeDelta, Utc};

/// How long each attempt waits after the one before, in seconds.
pub const DELAYS_S: [i64; 10] = [
    0, 5, 300, 1_800, 7_200, 18_000, 36_000, 50_400, 72_000, 86_400,
];
/// The least wait after a receiver said that it has too much to do, or did not answer in time.
const BREATHER: TimeDelta = TimeDelta::seconds(60);
/// For how long a receiver may fail, without one success, before it is told nothing any more.
pub const PATIENCE: TimeDelta = TimeDelta::hours(120);
/// How far a wait is spread, in thousandths of it.
const SPREAD: u64 = 200;

/// What came of an attempt.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// The receiver took the event.
    Taken,
    /// The receiver wants none any more (HTTP 410).
    Gone,
    /// It did not take it, and may take it later.
    Failed(Failure),
}

/// How an attempt failed, as far as it says when to try again.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Failure {
    /// The receiver has too much to do (HTTP 429), or did not answer in time.
    pub is_overrun: bool,
    /// How long the receiver asks to be left alone.
    pub retry_after: Option<TimeDelta>,
}

/// What becomes of a delivery after an attempt.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Next {
    /// Nothing more is to be done.
    Delivered,
    /// It is tried again at this moment.
    Again(DateTime<Utc>),
    /// It is not tried again unless somebody says so.
    Dead,
}

/// What follows the attempt number `n`, counted from 1, that came to its end at `now`; `seed` is any number that is the
/// delivery's own.
///
/// A receiver's own wish is heeded between the wait of the schedule and twice that.
pub fn next(outcome: Outcome, n: u32, seed: u128, now: DateTime<Utc>) -> Next {
    let failure = match outcome {
        Outcome::Taken => return Next::Delivered,
        Outcome::Gone => return Next::Dead,
        Outcome::Failed(failure) => failure,
    };
    let index = usize::try_from(n).unwrap_or(usize::MAX);
    let Some(plain) = DELAYS_S.get(index).copied().map(TimeDelta::seconds) else {
        return Next::Dead;
    };
    let wait = match failure.retry_after {
        Some(asked) => asked.clamp(plain, plain.checked_mul(2).unwrap_or(plain)),
        None => spread(plain, seed, n),
    };
    let wait = if failure.is_overrun {
        wait.max(BREATHER)
    } else {
        wait
    };
    now.checked_add_signed(wait).map_or(Next::Dead, Next::Again)
}

/// A wait longer or shorter by up to a fifth.
fn spread(wait: TimeDelta, seed: u128, n: u32) -> TimeDelta {
    let (high, low) = (seed >> 64, seed & u128::from(u64::MAX));
    let fold = |part: u128| u64::try_from(part).unwrap_or_default();
    let lot = mix(fold(high) ^ fold(low).rotate_left(32) ^ u64::from(n));
    let thousandths = lot.checked_rem(SPREAD.saturating_mul(2).saturating_add(1));
    let thousandths = i64::try_from(thousandths.unwrap_or(SPREAD)).unwrap_or(200);
    let milliseconds = wait.num_milliseconds();
    let scaled = milliseconds.saturating_mul(thousandths.saturating_add(800));
    TimeDelta::milliseconds(scaled.checked_div(1_000).unwrap_or(milliseconds))
}

/// A number in which every bit of another counts (the finishing step of SplitMix64).
const fn mix(seed: u64) -> u64 {
    let z = seed.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// Whether a receiver that has failed since `since` without one success is told nothing any more.
pub fn is_given_up(since: DateTime<Utc>, now: DateTime<Utc>) -> bool {
    now.signed_duration_since(since) >= PATIENCE
}

#[cfg(test)]
mod tests;

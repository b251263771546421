//! A count of coats as an interval.

use crate::quantity::float;

/// How many coats there are: no fewer than `low`, no more than `high`, most likely `likely`. Parts of a coat are worn
/// coats.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coats {
    /// The fewest.
    pub low: f64,
    /// The likely count.
    pub likely: f64,
    /// The most.
    pub high: f64,
}

impl Coats {
    /// No coat.
    pub const NONE: Self = Self {
        low: 0.0,
        likely: 0.0,
        high: 0.0,
    };

    /// A count that can be wrong by `spread` coats either way; where there is a coat at all, there is at least one.
    pub(super) fn counted(count: i64, spread: u8) -> Self {
        let (count, spread) = (float(count.max(0)), f64::from(spread));
        let least = count.min(1.0);
        Self {
            low: (count - spread).max(least),
            likely: count,
            high: if count > 0.0 { count + spread } else { 0.0 },
        }
    }

    /// A count that is given as least, likely and most.
    pub(super) const fn of([low, likely, high]: [f64; 3]) -> Self {
        Self { low, likely, high }
    }

    /// With what was laid on it.
    #[must_use]
    pub(super) fn plus(self, laid: Self) -> Self {
        Self {
            low: self.low + laid.low,
            likely: self.likely + laid.likely,
            high: self.high + laid.high,
        }
    }

    /// Without what was taken off (least, likely, most, each `times`): never fewer than none.
    #[must_use]
    pub(super) fn less(self, [least, likely, most]: [f64; 3], times: f64) -> Self {
        Self {
            low: (self.low - most * times).max(0.0),
            likely: (self.likely - likely * times).max(0.0),
            high: (self.high - least * times).max(0.0),
        }
    }

    /// What is true of a floor that is partly this and partly `other`; likely is what the larger part has.
    #[must_use]
    pub(super) fn or(self, other: Self, mostly_other: bool) -> Self {
        Self {
            low: self.low.min(other.low),
            likely: if mostly_other {
                other.likely
            } else {
                self.likely
            },
            high: self.high.max(other.high),
        }
    }

    /// The width of the interval.
    pub fn width(self) -> f64 {
        self.high - self.low
    }
}

//! Bisection: slower than Newton and unable to run away, which is what a service wants of a root.

/// Halvings after which two doubles of any legal range have met.
const MAX_HALVINGS: u32 = 200;

/// Where `value` falls through zero between `low` and `high`.
///
/// `value` must not rise along the interval. Without a change of sign the nearer end is returned, which is the
/// right answer for a balance whose root lies at or beyond the edge of the legal range.
pub(super) fn falling_root(low: f64, high: f64, value: impl Fn(f64) -> f64) -> f64 {
    falling_root_within(low, high, 0.0, value)
}

/// The same, no finer than `tolerance`.
pub(super) fn falling_root_within(
    low: f64,
    high: f64,
    tolerance: f64,
    value: impl Fn(f64) -> f64,
) -> f64 {
    let (mut low, mut high) = (low, high);
    for _ in 0..MAX_HALVINGS {
        let middle = f64::midpoint(low, high);
        if middle <= low || middle >= high || high - low <= tolerance {
            break;
        }
        if value(middle) > 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

//! Roots of falling functions: by inverse interpolation where that is safe, else by halving, so that it cannot run away,
//! which is what a service wants of a root (the method of Chandrupatla, Advances in Engineering Software 28, 1997; from
//! memory).

/// Steps after which any legal range has met: halving alone would need fewer.
const MAX_STEPS: u32 = 200;

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
    // The newest point, the end that brackets the root with it, and the one that was given up for it.
    let (mut newest, mut other) = (At::of(high, &value), At::of(low, &value));
    if other.value <= 0.0 {
        return low;
    }
    if newest.value > 0.0 {
        return high;
    }
    let mut share = 0.5;
    for _ in 0..MAX_STEPS {
        let next = At::of(newest.place + share * (other.place - newest.place), &value);
        let given_up;
        if (next.value > 0.0) == (newest.value > 0.0) {
            given_up = newest;
        } else {
            given_up = other;
            other = newest;
        }
        newest = next;
        let best = if newest.value.abs() < other.value.abs() {
            newest
        } else {
            other
        };
        let finest = 2.0 * f64::EPSILON * best.place.abs() + 0.5 * tolerance + f64::MIN_POSITIVE;
        let least = finest / (other.place - newest.place).abs();
        if best.value == 0.0 || least > 0.5 {
            return best.place;
        }
        share = interpolated(&newest, &other, &given_up).clamp(least, 1.0 - least);
    }
    newest.place
}

/// A place and the value there.
#[derive(Clone, Copy)]
struct At {
    place: f64,
    value: f64,
}

impl At {
    fn of(place: f64, value: impl Fn(f64) -> f64) -> Self {
        Self {
            place,
            value: value(place),
        }
    }
}

/// How far to go from `a` towards `b`: by the inverse parabola through all three where it is monotone between them, else
/// half-way.
fn interpolated(a: &At, b: &At, c: &At) -> f64 {
    let along = (a.place - b.place) / (c.place - b.place);
    let up = (a.value - b.value) / (c.value - b.value);
    if up * up < along && (1.0 - up) * (1.0 - up) < 1.0 - along {
        let first = a.value / (b.value - a.value) * c.value / (b.value - c.value);
        let second = (c.place - a.place) / (b.place - a.place) * a.value / (c.value - a.value)
            * b.value
            / (c.value - b.value);
        first + second
    } else {
        0.5
    }
}

#[cfg(test)]
mod tests {
    use std::cell::Cell;

    use super::{falling_root, falling_root_within};

    #[test]
    fn roots_are_found_to_the_last_digits_in_few_steps() {
        let n_asked = Cell::new(0);
        let asked = |value: f64| {
            n_asked.set(n_asked.get() + 1);
            value
        };
        let root = falling_root(-100.0, 60.0, |x| asked(2.0_f64.ln() - x / 10.0));
        assert!((root - 10.0 * 2.0_f64.ln()).abs() < 1e-13, "{root}");
        let root = falling_root(0.0, 100.0, |x| asked(1.0 - x.exp() / 1e9));
        assert!((root - 1e9_f64.ln()).abs() < 1e-12, "{root}");
        assert!(n_asked.get() < 60, "{}", n_asked.get());
    }

    #[test]
    fn a_jump_is_found_and_without_a_change_of_sign_the_nearer_end_is_the_answer() {
        let jump = falling_root_within(0.0, 8.0, 1e-6, |x| if x < 3.2 { 5.0 } else { -0.001 });
        assert!((jump - 3.2).abs() < 1e-6, "{jump}");
        assert!((falling_root(1.0, 2.0, |x| 10.0 - x) - 2.0).abs() < 1e-15);
        assert!((falling_root(1.0, 2.0, |x| -x) - 1.0).abs() < 1e-15);
    }
}

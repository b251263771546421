//! Integer quantities of the ledger, each in a unit far below anything that is shown.
//!
//! Area is kept in mm², length in mm, volume in µL and labour in µs, so that a division rounds once, far to the
//! right of the last digit a person reads; the ledger's own units (mL, s) are taken from these half-even.

use std::iter::Sum;

/// How a quotient that is not whole is made whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rounding {
    /// Towards the nearest, a tie to the even neighbour: for measured quantities.
    HalfEven,
    /// Towards the nearest, a tie away from zero: for money.
    HalfAwayFromZero,
    /// Away from zero: for anything that must suffice.
    Up,
}

/// `numerator / denominator` made whole by `rounding`; `None` for a zero denominator or a result outside i64.
pub fn divide(numerator: i128, denominator: i128, rounding: Rounding) -> Option<i64> {
    // Nearly all of them are short enough for the processor's own division.
    let (quotient, rest) = match (i64::try_from(numerator), i64::try_from(denominator)) {
        (Ok(short), Ok(by)) if by > 0 => {
            let quotient = short.checked_div(by)?;
            let rest = short.checked_rem(by)?;
            (i128::from(quotient), u128::from(rest.unsigned_abs()))
        }
        _ => (
            numerator.checked_div(denominator)?,
            numerator.checked_rem(denominator)?.unsigned_abs(),
        ),
    };
    let size = denominator.unsigned_abs();
    let twice = rest.checked_mul(2)?;
    let away = match rounding {
        Rounding::HalfEven => twice > size || (twice == size && quotient % 2 != 0),
        Rounding::HalfAwayFromZero => twice >= size,
        Rounding::Up => rest > 0,
    };
    let step = if (numerator < 0) == (denominator < 0) {
        1
    } else {
        -1
    };
    let whole = if away {
        quotient.checked_add(step)?
    } else {
        quotient
    };
    i64::try_from(whole).ok()
}

/// The nearest integer to a finite float (ties to even); `None` where it does not fit.
#[expect(
    clippy::as_conversions,
    clippy::cast_possible_truncation,
    reason = "both bounds are checked, and a whole number below 2^53 is exact; through text it cost a fifth of a plan"
)]
pub fn whole(value: f64) -> Option<i64> {
    let rounded = value.round_ties_even();
    if !rounded.is_finite() || rounded.abs() > 9_007_199_254_740_992.0 {
        return None;
    }
    Some(rounded as i64)
}

/// A float taken by its shortest decimal text, `digits` digits behind the point kept, a tie to the even neighbour.
///
/// 1.0000005 is a tie at six digits although the double beside it lies a little above; what was written counts.
pub(crate) fn decimal(value: f64, digits: u32) -> Option<i64> {
    if !value.is_finite() || value.abs() > 9_007_199_254_740_992.0 {
        return None;
    }
    // Away from a tie, the double tells as well as its text.
    let scaled = value * 10_f64.powi(i32::try_from(digits).ok()?);
    let from_tie = (scaled.abs().fract() - 0.5).abs();
    if scaled.abs() < 1e12 && from_tie > 1e-3 {
        return whole(scaled);
    }
    let text = value.to_string();
    let (head, tail) = text.split_once('.').unwrap_or((&text, ""));
    let size = u32::try_from(tail.len()).ok()?;
    if size > 20 {
        return whole(value * 10_f64.powi(i32::try_from(digits).ok()?));
    }
    let all: i128 = format!("{head}{tail}").parse().ok()?;
    if size <= digits {
        let scaled = all.checked_mul(10_i128.checked_pow(digits - size)?)?;
        return i64::try_from(scaled).ok();
    }
    divide(all, 10_i128.checked_pow(size - digits)?, Rounding::HalfEven)
}

/// The float nearest to an integer; exact below 2^53, which every legal quantity is.
pub fn float(value: i64) -> f64 {
    let high = i32::try_from(value >> 32).map_or(0.0, f64::from);
    let low = u32::try_from(value & 0xFFFF_FFFF).map_or(0.0, f64::from);
    high * 4_294_967_296.0 + low
}

macro_rules! quantities {
    ($($(#[$doc:meta])* $name:ident, $from:ident, $get:ident, $unit:literal;)+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
        pub struct $name(i64);

        impl $name {
            /// None of it.
            pub const ZERO: Self = Self(0);

            #[doc = concat!("Takes the value in ", $unit, ".")]
            pub const fn $from(value: i64) -> Self {
                Self(value)
            }

            #[doc = concat!("The value in ", $unit, ".")]
            pub const fn $get(self) -> i64 {
                self.0
            }

            /// The sum, held at the largest value rather than wrapped; legal inputs stay far below it.
            #[must_use]
            pub const fn plus(self, other: Self) -> Self {
                Self(self.0.saturating_add(other.0))
            }

            /// The difference, never below zero.
            #[must_use]
            pub const fn less(self, other: Self) -> Self {
                let rest = self.0.saturating_sub(other.0);
                Self(if rest < 0 { 0 } else { rest })
            }

            /// This much `numerator / denominator` times, half-even; zero for a zero denominator.
            #[must_use]
            pub fn scaled(self, numerator: i64, denominator: i64) -> Self {
                let product = i128::from(self.0) * i128::from(numerator);
                Self(divide(product, i128::from(denominator), Rounding::HalfEven).unwrap_or(0))
            }
        }

        impl Sum for $name {
            fn sum<I: Iterator<Item = Self>>(iter: I) -> Self {
                iter.fold(Self::ZERO, Self::plus)
            }
        }
    )+};
}

quantities! {
    /// Floor area, kept in mm².
    Area, from_mm2, mm2, "mm²";
    /// Length, kept in mm.
    Length, from_mm, mm, "mm";
    /// Volume of a liquid, kept in µL.
    Volume, from_ul, ul, "µL";
    /// Working or waiting time, kept in µs.
    Labour, from_us, us, "µs";
}

impl Area {
    /// The area nearest to `value` square metres; `None` outside the ledger.
    pub fn from_m2(value: f64) -> Option<Self> {
        decimal(value, 6).map(Self)
    }

    /// In square metres.
    pub fn m2(self) -> f64 {
        float(self.0) / 1e6
    }
}

impl Length {
    /// The length nearest to `value` metres; `None` outside the ledger.
    pub fn from_m(value: f64) -> Option<Self> {
        decimal(value, 3).map(Self)
    }

    /// In metres.
    pub fn m(self) -> f64 {
        float(self.0) / 1e3
    }
}

impl Volume {
    /// Takes whole millilitres.
    pub const fn from_ml(value: i64) -> Self {
        Self(value.saturating_mul(1_000))
    }

    /// The volume nearest to `value` litres; `None` outside the ledger.
    pub fn from_l(value: f64) -> Option<Self> {
        whole(value * 1e6).map(Self)
    }

    /// In litres.
    pub fn l(self) -> f64 {
        float(self.0) / 1e6
    }

    /// In whole millilitres, a tie to the even one.
    pub fn ml_half_even(self) -> i64 {
        divide(i128::from(self.0), 1_000, Rounding::HalfEven).unwrap_or(i64::MAX)
    }

    /// In whole millilitres, rounded up, for what must suffice.
    pub fn ml_up(self) -> i64 {
        divide(i128::from(self.0), 1_000, Rounding::Up).unwrap_or(i64::MAX)
    }
}

impl Labour {
    /// Takes whole seconds.
    pub const fn from_seconds(value: i64) -> Self {
        Self(value.saturating_mul(1_000_000))
    }

    /// Takes whole minutes.
    pub const fn from_minutes(value: i64) -> Self {
        Self(value.saturating_mul(60_000_000))
    }

    /// The time nearest to `value` hours; `None` outside the ledger.
    pub fn from_hours(value: f64) -> Option<Self> {
        whole(value * 3.6e9).map(Self)
    }

    /// In hours.
    pub fn hours(self) -> f64 {
        float(self.0) / 3.6e9
    }

    /// In minutes.
    pub fn minutes(self) -> f64 {
        float(self.0) / 6e7
    }

    /// In whole seconds, a tie to the even one.
    pub fn seconds_half_even(self) -> i64 {
        divide(i128::from(self.0), 1_000_000, Rounding::HalfEven).unwrap_or(i64::MAX)
    }
}

#[cfg(test)]
mod tests {
    use super::{Area, Labour, Rounding, Volume, divide, float, whole};

    #[test]
    fn ties_go_where_the_rule_says() {
        let cases = [
            (5, 2, Rounding::HalfEven, 2),
            (7, 2, Rounding::HalfEven, 4),
            (-5, 2, Rounding::HalfEven, -2),
            (5, 2, Rounding::HalfAwayFromZero, 3),
            (-5, 2, Rounding::HalfAwayFromZero, -3),
            (-7, 3, Rounding::HalfAwayFromZero, -2),
            (1, 1000, Rounding::Up, 1),
            (-1, 1000, Rounding::Up, -1),
            (6, -4, Rounding::HalfEven, -2),
        ];
        for (n, d, rounding, expected) in cases {
            assert_eq!(
                divide(n, d, rounding),
                Some(expected),
                "{n}/{d} {rounding:?}"
            );
        }
        assert_eq!(divide(1, 0, Rounding::HalfEven), None);
    }

    #[test]
    fn floats_of_building_data_land_on_the_ledger() {
        // 19.072000000000003 is what one building file holds for 19.072 m.
        assert_eq!(
            super::Length::from_m(19.072_000_000_000_003).map(super::Length::mm),
            Some(19_072)
        );
        assert_eq!(Area::from_m2(240.0).map(Area::mm2), Some(240_000_000));
        // Ties of the decimal text go to the even neighbour, wherever the double lies.
        assert_eq!(Area::from_m2(1.000_000_5).map(Area::mm2), Some(1_000_000));
        assert_eq!(Area::from_m2(1.000_001_5).map(Area::mm2), Some(1_000_002));
        assert_eq!(Area::from_m2(1e-30).map(Area::mm2), Some(0));
        assert_eq!(Area::from_m2(f64::INFINITY), None);
        assert_eq!(whole(f64::NAN), None);
        assert_eq!(whole(1e300), None);
        for value in [0, 1, -1, i64::from(u32::MAX) + 7, -9_007_199_254_740_991] {
            assert_eq!(whole(float(value)), Some(value));
        }
    }

    #[test]
    fn sums_and_shares_stay_whole() {
        let coat = Volume::from_ml(7).scaled(1, 3);
        assert_eq!(coat.ul(), 2_333);
        assert_eq!([coat, coat].into_iter().sum::<Volume>().ul(), 4_666);
        assert_eq!(
            Labour::from_hours(1.5).map(Labour::seconds_half_even),
            Some(5_400)
        );
    }
}

//! Exact fractions: reading decimals, rounding, and a logarithm to thirty digits.

#![expect(
    clippy::expect_used,
    reason = "a figure outside the ledger stops the test"
)]

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{Signed, ToPrimitive, Zero};

/// An exact fraction.
pub(crate) type Q = BigRational;

/// A whole number as a fraction.
pub(crate) fn int(value: i64) -> Q {
    Q::from_integer(value.into())
}

/// A decimal text as a fraction.
pub(crate) fn text(digits: &str) -> Q {
    let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
    let joined: BigInt = format!("{whole}{part}").parse().expect("digits");
    let places = u32::try_from(part.len()).expect("short");
    Q::new(joined, BigInt::from(10).pow(places))
}

/// The number that a data file writes: the shortest decimal text of its float.
pub(crate) fn written(value: f64) -> Q {
    text(&format!("{value}"))
}

/// A whole number of the ledger.
pub(crate) fn small(value: &BigInt) -> i64 {
    value.to_i64().expect("within the ledger")
}

/// Rounded up.
pub(crate) fn up(value: &Q) -> i64 {
    small(&value.ceil().to_integer())
}

/// To the nearest, a tie to the even one.
pub(crate) fn half_even(value: &Q) -> i64 {
    let below = value.floor().to_integer();
    let rest = value - Q::from_integer(below.clone());
    let half = Q::new(1.into(), 2.into());
    let odd = (&below % BigInt::from(2)) != BigInt::zero();
    let step = rest > half || (rest == half && odd);
    small(&(below + i64::from(step)))
}

/// To the nearest, a tie away from zero.
pub(crate) fn half_away(value: &Q) -> i64 {
    let half = Q::new(1.into(), 2.into());
    let size = small(&(value.abs() + half).floor().to_integer());
    if value.is_negative() { -size } else { size }
}

/// The natural logarithm to 30 digits: 2·artanh((x-1)/(x+1)) after halving x down to near one.
pub(crate) fn ln(value: &Q) -> Q {
    let one = BigInt::from(10).pow(40);
    let mut rest = (value * Q::from_integer(one.clone())).to_integer();
    let mut halvings = 0;
    while rest > &one * 2 {
        rest /= 2;
        halvings += 1;
    }
    while rest < one {
        rest *= 2;
        halvings -= 1;
    }
    let series = |x: BigInt| {
        let ratio: BigInt = (&x - &one) * &one / (&x + &one);
        let square: BigInt = &ratio * &ratio / &one;
        let (mut power, mut sum) = (ratio, BigInt::zero());
        for odd in (1..100).step_by(2) {
            sum += &power / odd;
            power = &power * &square / &one;
        }
        sum * 2
    };
    let digits = series(rest) + series(&one * 2) * halvings;
    Q::new(digits, one)
}

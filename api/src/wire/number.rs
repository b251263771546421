//! Numbers as they are shown: rounded for people, exact behind.

use domain::quantity::{Area, Labour, Volume};

/// Rounded to `digits` digits behind the point, ties to even.
fn shown(value: f64, scale: f64) -> f64 {
    (value * scale).round_ties_even() / scale
}

/// Hours with four digits: a third of a second.
pub(crate) fn hours(time: Labour) -> f64 {
    shown(time.hours(), 1e4)
}

/// Litres with three digits: whole millilitres.
pub(crate) fn litres(volume: Volume) -> f64 {
    domain::quantity::float(volume.ml_half_even()) / 1e3
}

/// Grams with three digits: whole milligrams.
pub(crate) fn grams(mg: i64) -> f64 {
    domain::quantity::float(mg) / 1e3
}

/// Square metres, to the mm² that is kept.
pub(crate) fn square_metres(area: Area) -> f64 {
    area.m2()
}

/// A figure of a basis or a rate, with nine significant places behind the point at most.
pub(crate) fn figure(value: f64) -> f64 {
    shown(value, 1e9)
}

/// With one digit: a pH, millilitres, milligrams in a cubic metre of air.
pub(crate) fn tenths(value: f64) -> f64 {
    shown(value, 10.0)
}

/// With two digits: hours that may vary, those of a month, expected jobs.
pub(crate) fn hundredths(value: f64) -> f64 {
    shown(value, 1e2)
}

/// With three digits: litres that may vary.
pub(crate) fn thousandths(value: f64) -> f64 {
    shown(value, 1e3)
}

/// Coats with two digits.
pub(crate) fn coats(value: f64) -> f64 {
    shown(value, 1e2)
}

/// A confidence with three digits.
pub(crate) fn confidence(value: f64) -> f64 {
    shown(value, 1e3)
}

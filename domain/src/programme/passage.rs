//! When what wears first comes down to a limit: the inverse Gaussian distribution, mixed over what is not known.
//!
//! Wear adds up from month to month, each month by its own share more or less than usual. Held together that is a Brownian motion with
//! drift, and the moment at which it first has come so far has the inverse Gaussian distribution (Folks and Chhikara 1978). Levels
//! and times are in months of usual wear.

use crate::{normal::cdf, quantity::float};

/// Standard deviations to either side, and points for each, over which what is not known is spread.
const REACH: i64 = 4;
const POINTS: i64 = 4;

/// The chance that wear has come as far as `level` by `time`, where each month's wear strays by `spread` of the usual.
///
/// `Φ((t-a)/(s√t)) + exp(2a/s²) Φ(-(t+a)/(s√t))`: an inverse Gaussian with mean `a` and shape `a²/s²`.
pub fn passed(level: f64, spread: f64, time: f64) -> f64 {
    if level <= 0.0 {
        return 1.0;
    }
    if time <= 0.0 || spread <= 0.0 {
        return if time >= level { 1.0 } else { 0.0 };
    }
    let wide = spread * time.sqrt();
    let (below, above) = ((time - level) / wide, (time + level) / wide);
    // The second product is small times huge; with Mills' ratio it is neither.
    let turned = (-below * below / 2.0).exp() * mills(above) / std::f64::consts::TAU.sqrt();
    (cdf(below) + turned).min(1.0)
}

/// Mills' ratio of the normal distribution, `(1 - Φ(y)) / φ(y)`, for `y` from 0 on.
fn mills(y: f64) -> f64 {
    if y < 1.5 {
        return cdf(-y) * std::f64::consts::TAU.sqrt() * (y * y / 2.0).exp();
    }
    // Laplace's continued fraction, from within.
    let depth = if y < 5.0 { 60 } else { 12 };
    let within = (1..=depth)
        .rev()
        .fold(y, |below, step| y + float(step) / below);
    1.0 / within
}

/// Points of a standard normal distribution with their weights, which add up to 1.
pub(super) fn normal_points() -> Vec<(f64, f64)> {
    let steps = -REACH * POINTS..=REACH * POINTS;
    let points = steps.map(|step| float(step) / float(POINTS));
    whole(points.map(|z| (z, (-z * z / 2.0).exp())).collect())
}

/// The same with weights that add up to 1.
pub(super) fn whole(points: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    let sum: f64 = points.iter().map(|(_, weight)| weight).sum();
    let each = points.into_iter();
    each.map(|(point, weight)| (point, weight / sum)).collect()
}

/// When a limit is first reached, at a chance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Passing {
    /// With at least this chance it is reached today.
    Already,
    /// In so many days.
    In(i64),
    /// Not within the time that was asked for.
    Beyond,
    /// Wear alone does not bring it so far.
    Never,
}

/// How far a floor may be from a limit.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Distance {
    /// The chance that the limit is reached today.
    pub(super) today: f64,
    /// Levels of wear at which it is, each with its chance; what is left to 1 never reaches it.
    pub(super) levels: Vec<(f64, f64)>,
    /// By which share of the usual a month's wear strays.
    pub(super) spread: f64,
}

impl Distance {
    /// Levels with their chances, those that are reached today put together.
    pub(super) fn of(levels: impl Iterator<Item = (f64, f64)>, spread: f64) -> Self {
        let (today, ahead): (Vec<_>, Vec<_>) = levels.partition(|(level, _)| *level <= 0.0);
        Self {
            today: today.iter().map(|(_, chance)| chance).sum(),
            levels: ahead,
            spread,
        }
    }

    /// The chance that the limit is reached within so many months of usual wear.
    pub(super) fn within(&self, months: f64) -> f64 {
        let ahead = self.levels.iter();
        let ahead = ahead.map(|(level, chance)| chance * passed(*level, self.spread, months));
        self.today + ahead.sum::<f64>()
    }

    /// The first day with at least this chance; a month of usual wear has `month_days`.
    pub(super) fn first(&self, chance: f64, days: i64, month_days: f64) -> Passing {
        /// What rounding may take from a sum of chances.
        const ROUNDING: f64 = 1e-9;
        let chance = chance - ROUNDING;
        let reached = |day: i64| self.within(float(day) / month_days) >= chance;
        if self.today >= chance {
            return Passing::Already;
        }
        if self.today + self.levels.iter().map(|(_, chance)| chance).sum::<f64>() < chance {
            return Passing::Never;
        }
        if !reached(days) {
            return Passing::Beyond;
        }
        let (mut before, mut by) = (0, days);
        while by - before > 1 {
            let middle = i64::midpoint(before, by);
            if reached(middle) {
                by = middle;
            } else {
                before = middle;
            }
        }
        Passing::In(by)
    }
}

#[cfg(test)]
mod tests;

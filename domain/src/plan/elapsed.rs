//! How long a floor may stay closed, done in one go: work and waits, each with its doubt.

use super::{PlannedStep, time_line::crewed};
use crate::{
    card::RateCard,
    estimate::{
        labour::LabourLine,
        spread::{Percentiles, Sum, sigma_of},
    },
    knowledge::SpreadFigures,
    quantity::{Labour, float},
};

/// Minutes from closing to walking on the floor, done in one go by a crew whose setting up takes `around`: work by its
/// lines of labour, and waits by their median and their 80th percentile.
pub(super) fn elapsed_min(
    steps: &[PlannedStep],
    labour: &[LabourLine],
    (card, crew, around): (&RateCard, i64, Labour),
    spread: &SpreadFigures,
) -> Percentiles {
    let last_coat = steps.iter().rposition(|step| step.coat.is_some());
    let mut sum = Sum::default();
    sum.add(around.minutes(), 0.0, 1.0);
    for (index, step) in steps.iter().enumerate() {
        let mut lines = labour.iter();
        let line = lines.find(|line| {
            Some(&line.activity) == step.activity.as_ref() && line.stage == step.stage
        });
        let sigma = line.map_or(spread.labour, |line| line.sigma);
        sum.add(crewed(card, step.labour, crew).minutes(), sigma, 1.0);
        // People walk on the last coat once it bears them, whatever is done after that.
        if last_coat.is_none_or(|last| index <= last)
            && let Some(wait) = &step.wait
        {
            let (p50, p80) = (float(wait.p50_min), float(wait.p80_min));
            sum.add(p50, sigma_of(p50, p80), 1.0);
        }
    }
    sum.percentiles(spread.shared)
}

//! What speaks for one candidate and against another, where both are right and allowed.

use super::{PlanInput, Risk, time_line::minutes_up, work_up::Worked};
use crate::{
    due::interval_days,
    knowledge::{Concern, Severity},
    money::Money,
    quantity::{Volume, whole},
    survey::{Criterion, Wish},
};

/// The criteria in the order in which they count: those that the wish names, then the stated ones.
pub(super) fn priorities(wish: &Wish) -> Vec<Criterion> {
    let mut order: Vec<Criterion> = Vec::new();
    for criterion in wish.priorities.iter().chain(&Criterion::STATED) {
        if !order.contains(criterion) {
            order.push(*criterion);
        }
    }
    order
}

/// How a candidate fares by each criterion; lower is better.
pub(super) fn scores(
    input: &PlanInput<'_>,
    entry: &Worked<'_>,
    priorities: &[Criterion],
) -> Vec<i64> {
    let risk = risk(entry);
    let count = |n: usize| i64::try_from(n).unwrap_or(i64::MAX);
    let score = |criterion: &Criterion| match criterion {
        Criterion::Safety => count(risk.safety),
        Criterion::Substrate => count(risk.substrate),
        Criterion::Warranty => count(risk.warranty),
        Criterion::Appearance => count(risk.appearance),
        Criterion::CostPerYear => net_per_year(input, entry).amount,
        Criterion::Downtime => closed_min(entry),
        Criterion::Water => water(entry).ml_half_even(),
        Criterion::Voc => voc_g(input, entry).unwrap_or(i64::MAX),
    };
    priorities.iter().map(score).collect()
}

/// Warnings by what is at risk.
pub(super) fn risk(entry: &Worked<'_>) -> Risk {
    let mut risk = Risk::default();
    let warnings = entry.judgement.fired.iter();
    for rule in warnings.filter(|rule| rule.severity == Severity::Warn) {
        let n = match rule.concern.unwrap_or_default() {
            Concern::Safety => &mut risk.safety,
            Concern::Substrate => &mut risk.substrate,
            Concern::Warranty => &mut risk.warranty,
            Concern::Appearance => &mut risk.appearance,
            Concern::Cost => continue,
        };
        *n = n.saturating_add(1);
    }
    risk
}

/// Days until the process is due again at the floor's traffic; medium where nobody counted.
pub(super) fn due_again_days(input: &PlanInput<'_>, entry: &Worked<'_>) -> i64 {
    interval_days(entry.process, input.survey.traffic)
}

/// The price before tax, spread over the days until it is due again, per year.
pub(super) fn net_per_year(input: &PlanInput<'_>, entry: &Worked<'_>) -> Money {
    let net = entry.work.cost.net;
    net.times(365, due_again_days(input, entry))
}

/// Minutes for which the floor is closed: in all access windows together where it is spread over several.
pub(super) fn closed_min(entry: &Worked<'_>) -> i64 {
    let time_line = &entry.work.time_line;
    if time_line.nights.is_empty() {
        minutes_up(time_line.elapsed)
    } else {
        time_line
            .nights
            .iter()
            .map(|night| night.open_after_min)
            .sum()
    }
}

/// Clean water, that for diluting included.
pub(super) fn water(entry: &Worked<'_>) -> Volume {
    let water = entry.work.water;
    water.clean.plus(water.dilution)
}

/// Solvent that goes into the air, in grams: what is used of each product times what a litre of it holds.
///
/// Where a product's data sheet does not say, the middle of its class.
pub(super) fn voc_g(input: &PlanInput<'_>, entry: &Worked<'_>) -> Option<i64> {
    let products = input.products();
    let mut grams = 0.0;
    for line in &entry.work.products {
        grams += input.base.voc_content(products.product(&line.product)?) * line.need.l();
    }
    whole(grams)
}

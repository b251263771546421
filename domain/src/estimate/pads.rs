//! Pads: how much of them the work wears, how many must be at hand, and what is paid for them.

use std::collections::BTreeMap;

use crate::{
    card::RateCard,
    estimate::basis::{Basis, Reasons, input as figure},
    knowledge::KnowledgeBase,
    money::Money,
    plan::{PlanInput, PlannedStep},
    quantity::{Area, Rounding, divide, float},
};

/// Pads of one colour.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PadLine {
    /// The colour.
    pub pad: String,
    /// Area that they work.
    pub area: Area,
    /// How many must be at hand.
    pub count: i64,
    /// Price of one.
    pub each: Money,
    /// Whether they are paid whole; else by the share of their life that is worn off.
    pub whole: bool,
    /// What is paid for them.
    pub price: Money,
    /// Where its reason stands.
    pub basis: String,
}

/// What pads of one colour do.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct PadWork {
    /// The area that they work.
    area: Area,
    /// What of it is paid by whole pads, where any is; the rest by wear.
    whole: Option<Area>,
}

impl PadWork {
    /// Adds an area that pads work which are paid whole or by wear.
    pub(crate) fn add(&mut self, area: Area, whole: bool) {
        self.area = self.area.plus(area);
        if whole {
            self.whole = Some(self.whole.unwrap_or(Area::ZERO).plus(area));
        }
    }
}

/// The area that each colour of machine pad works; hand pads of edging tools are left out.
pub(crate) fn pad_works(
    input: &PlanInput<'_>,
    steps: &[PlannedStep],
    whole: bool,
) -> BTreeMap<String, PadWork> {
    let mut works = BTreeMap::new();
    let passes = steps.iter().map(|step| step.passes).max().unwrap_or(1);
    for step in steps {
        let (Some(pad), Some(activity)) = (&step.pad, &step.activity) else {
            continue;
        };
        let mut rates = input.base.rates.iter();
        let worked = rates.find(|rate| rate.machine.is_some() && rate.activity == *activity);
        if let Some(rate) = worked {
            // Film that is stripped in several passes is scrubbed in as many.
            let times = if rate.built_up { passes } else { 1 };
            let work: &mut PadWork = works.entry(pad.clone()).or_default();
            work.add(input.survey.area.scaled(times, 1), whole);
        }
    }
    works
}

/// Whole pads for the areas that they work, both sides used; paid whole or by wear.
pub(crate) fn pads(
    base: &KnowledgeBase,
    card: &RateCard,
    works: &BTreeMap<String, PadWork>,
    basis: &mut Reasons,
) -> Vec<PadLine> {
    let mut lines = Vec::new();
    for (key, work) in works {
        let area = work.area;
        let Some(row) = base.pad(key) else { continue };
        let [_, life, _] = row.life_m2;
        let both_sides = life.saturating_mul(2_000_000);
        let pads = |area: Area| {
            let count = divide(i128::from(area.mm2()), i128::from(both_sides), Rounding::Up);
            count.unwrap_or(1)
        };
        let count = pads(area);
        let each = card.pad_price(base, key);
        let by_wear = || each.times(area.mm2(), both_sides);
        let id = basis.telling.text(|| format!("pad.{key}"));
        basis.add(|| Basis {
            id: id.clone(),
            what: format!("{key} pads"),
            formula: "area / (life of one side · 2)",
            inputs: vec![
                figure("area", area.m2(), "m2"),
                figure("life", float(life), "m2"),
            ],
            result: float(count),
            unit: "pads",
            rounding: "up to whole pads at hand; routine work pays the share that is worn off",
            source: row.source.clone(),
            grade: row.grade,
        });
        lines.push(PadLine {
            pad: key.clone(),
            area,
            count,
            each,
            whole: work.whole.is_some(),
            price: work.whole.map_or_else(by_wear, |whole| {
                // Whole pads for all of it may be dearer than the floors one by one.
                let worn = each.times(area.less(whole).mm2(), both_sides);
                let mixed = each
                    .times(pads(whole), 1)
                    .amount
                    .saturating_add(worn.amount);
                Money {
                    amount: each.times(count, 1).amount.min(mixed),
                    ..each
                }
            }),
            basis: id,
        });
    }
    lines
}

//! What is read before the floor is handed over, how much of it, and what a failure comes from.

use super::{PlanInput, steps::least_on_slope, work_up::Worked};
use crate::{
    knowledge::{Defect, Facts, FinalCheck, Grade, Truth},
    quantity::{Area, float, whole},
    sampling::{QualityLimit, SamplingPlan},
};

/// A reading or a look before the floor is handed over.
#[derive(Debug, Clone, PartialEq)]
pub struct Check {
    /// What is read, and what must be met.
    pub row: FinalCheck,
    /// At how many places.
    pub points: u64,
}

/// How much of the floor is looked at, and what that leaves open.
#[derive(Debug, Clone, PartialEq)]
pub struct Inspection {
    /// The unit that passes or fails.
    pub cell: Area,
    /// How many the floor has.
    pub n_cells: u64,
    /// How many are looked at.
    pub sample: u64,
    /// The floor passes with up to so many failed units among them.
    pub accept: u64,
    /// The acceptance quality limit in percent; `None` where all units are looked at.
    pub limit_pct: Option<f64>,
    /// A share of failing units, in percent.
    pub bad_share_pct: f64,
    /// The chance that a floor with that share failing passes all the same; `None` where all units are looked at.
    pub passes_all_the_same: Option<f64>,
    /// Where the plan comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

/// When the floor may be handed over.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Acceptance {
    /// What is read, beside the hold points of the steps.
    pub checks: Vec<Check>,
    /// How much of the floor is looked at.
    pub inspection: Option<Inspection>,
    /// What can go wrong, why, and what helps.
    pub defects: Vec<Defect>,
}

/// When the floor may be handed over after this work.
pub(super) fn acceptance(input: &PlanInput<'_>, entry: &Worked<'_>) -> Acceptance {
    let area = input.survey.area;
    let is_hold = |key: &str| {
        let mut holds = entry
            .work
            .steps
            .iter()
            .filter_map(|step| step.hold.as_ref());
        holds.any(|hold| hold.key == key)
    };
    let checks = input
        .base
        .final_checks
        .iter()
        .filter(|row| row.when.holds(&entry.facts) == Truth::True && !is_hold(&row.key))
        .map(|row| check(row, area, &entry.facts))
        .collect();
    let defects = input
        .base
        .defects
        .iter()
        .filter(|row| row.when.holds(&entry.facts) == Truth::True)
        .cloned()
        .collect();
    Acceptance {
        checks,
        inspection: inspection(input),
        defects,
    }
}

fn check(row: &FinalCheck, area: Area, facts: &Facts<'_>) -> Check {
    let more = row
        .m2_a_point
        .and_then(|m2| whole((area.m2() / m2).floor()))
        .and_then(|n| u64::try_from(n).ok());
    Check {
        row: FinalCheck {
            least: least_on_slope(row.least, row.rises_with_slope, facts),
            ..row.clone()
        },
        points: row.points.saturating_add(more.unwrap_or(0)),
    }
}

/// A sample for a large floor; every unit of a small one.
fn inspection(input: &PlanInput<'_>) -> Option<Inspection> {
    let row = &input.base.inspection;
    let n_cells = whole((input.survey.area.m2() / row.cell_m2).ceil())?;
    let n_cells = u64::try_from(n_cells).ok()?.max(1);
    let limit = QualityLimit::of_pct(row.limit_pct)?;
    let plan = SamplingPlan::new(n_cells, limit);
    let all = plan.all || n_cells <= row.all_up_to;
    let bad = float(i64::try_from(n_cells).ok()?) * row.bad_share_pct / 100.0;
    let bad = u64::try_from(whole(bad.ceil())?).ok()?;
    Some(Inspection {
        cell: Area::from_m2(row.cell_m2)?,
        n_cells,
        sample: if all { n_cells } else { plan.sample },
        accept: if all { 0 } else { plan.accept },
        limit_pct: (!all).then(|| limit.pct()),
        bad_share_pct: row.bad_share_pct,
        passes_all_the_same: (!all).then(|| plan.passes(n_cells, bad)),
        source: row.source.clone(),
        grade: row.grade,
    })
}

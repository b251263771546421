//! Tells the facts what the written steps of a candidate use: products, pads, machines, and how long a solution works.

use super::{Dwell, PlanInput, PlannedStep, facts, facts::number, steps};
use crate::{
    estimate::labour::LabourLine,
    knowledge::{Fact, Facts, Machine, Material, Product},
    quantity::float,
};

/// Tells the facts how hard the pads and how strong the products of the written steps are.
pub(super) fn add_products(
    input: &PlanInput<'_>,
    material: &Material,
    steps: &[PlannedStep],
    known: &mut Facts<'_>,
) {
    let rank = steps
        .iter()
        .filter_map(|step| input.base.pad(step.pad.as_deref()?))
        .map(|pad| pad.rank)
        .max();
    known.set(Fact::ProcessPadRank, f64::from(rank.unwrap_or(0)));
    let found = |step| Some((step, product(input, step)?));
    let laid: Vec<(&PlannedStep, &Product)> = steps.iter().filter_map(found).collect();
    // Each product is told of once, however many steps lay it.
    let mut used: Vec<&Product> = Vec::with_capacity(laid.len());
    for (_, row) in &laid {
        if !used.iter().any(|known| known.key == row.key) {
            used.push(row);
        }
    }
    let neutraliser = steps.iter().find(|step| step.neutralises);
    let neutraliser = neutraliser.and_then(|step| product(input, step));
    facts::add_products(known, &used, neutraliser);
    let coats = || {
        let coats = laid.iter();
        coats.filter_map(|(step, row)| Some((step.coat?, *row)))
    };
    let for_wood = coats().any(|(_, row)| row.is_for_wood(material));
    known.set(Fact::ProcessSealForWood, for_wood);
    let polishes = coats().filter(|(_, row)| row.class == "polish");
    let spread = polishes.filter_map(|(coat, row)| steps::coverage(row, coat.layer, known));
    let widest = spread.fold(0.0, f64::max);
    known.set(Fact::PlanCoverage, widest);
    add_strengths(input, &laid, known);
    add_climate_limits(input, &used, known);
}

/// Tells the facts in which air all coats and impregnators may be laid: by their data sheets, else as is usual.
fn add_climate_limits(input: &PlanInput<'_>, used: &[&Product], known: &mut Facts<'_>) {
    let usual = &input.base.factors;
    let laid = || used.iter().filter(|row| row.stays_on_floor());
    let least = laid().map(|row| row.apply_min_c.unwrap_or(usual.apply_min_c));
    let most = laid().map(|row| row.apply_max_c.unwrap_or(usual.apply_max_c));
    let humid = laid().map(|row| row.humidity_max_pct.unwrap_or(usual.humidity_max_pct));
    known.set(Fact::ProcessApplyMinC, least.reduce(f64::max));
    known.set(Fact::ProcessApplyMaxC, most.reduce(f64::min));
    known.set(Fact::ProcessHumidityMaxPct, humid.reduce(f64::min));
}

/// The product that a step lays.
pub(super) fn product<'k>(input: &PlanInput<'k>, step: &PlannedStep) -> Option<&'k Product> {
    let used = step.product.as_ref()?;
    input.products().again(&used.key, used.place)
}

/// Whether a strength that the wish gives contradicts itself, or lies outside what the class of its product is used in.
fn add_strengths(input: &PlanInput<'_>, laid: &[(&PlannedStep, &Product)], known: &mut Facts<'_>) {
    let wished = &input.wish.strengths;
    let contradicts = wished.values().any(|given| given.contradicts_itself());
    known.set(Fact::PlanStrengthContradicts, contradicts);
    let (mut stronger, mut weaker) = (false, false);
    for (step, row) in laid {
        // A product that is used as its own label says is judged by that label.
        let used = step.product.as_ref();
        let Some(used) = used.filter(|used| used.dilution.total_cmp(&row.dilution).is_ne()) else {
            continue;
        };
        if let Some(class) = input.base.product_class(&used.class) {
            let [strongest, weakest] = class.dilution;
            // A share of 9.09 % is 1:10.001: what was rounded is not told of.
            stronger |= used.dilution < strongest * 0.99;
            weaker |= used.dilution > weakest * 1.01;
        }
    }
    known.set(Fact::PlanStrongerThanLabel, stronger);
    known.set(Fact::PlanWeakerThanLabel, weaker);
}

/// Tells the facts how fast pads turn and whether rates and machines fit the floor.
pub(super) fn add_tools(
    input: &PlanInput<'_>,
    steps: &[PlannedStep],
    labour: &[LabourLine],
    known: &mut Facts<'_>,
) {
    let of = |activity: &str| -> Option<&Machine> {
        let line = labour.iter().find(|line| line.activity == activity)?;
        input.base.machine(line.machine.as_ref()?)
    };
    let machines = || labour.iter().filter_map(|line| of(&line.activity));
    let fastest = |machine: &Machine| machine.rpm.map_or(0, |[_, fastest]| fastest);
    let rpm = machines().map(fastest).max().unwrap_or(0);
    known.set(Fact::ProcessRpm, float(rpm));
    known.set(Fact::ProcessMachineTurns, rpm > 0);
    let pads = steps.iter().filter_map(|step| {
        let _turned = of(step.activity.as_deref()?)?;
        Some(input.base.pad(step.pad.as_deref()?)?.max_rpm)
    });
    known.set(Fact::ProcessPadMaxRpm, pads.min().map(float));
    let least = machines().map(|machine| machine.least_area_m2).max();
    known.set(Fact::ProcessMachineMinM2, float(least.unwrap_or(0)));
    // A machine of which no usual rating is known bars no slope; the caution for ramps is shown all the same.
    let gradients = machines().filter_map(|machine| machine.max_gradient_pct);
    known.set(Fact::ProcessMachineGradientPct, gradients.reduce(f64::min));
    let rides = machines().any(|machine| machine.rides);
    known.set(Fact::ProcessMachineRides, rides);
    let wished = input.wish.machine.as_ref();
    let unused = wished.is_some_and(|key| machines().all(|machine| machine.key != *key));
    known.set(Fact::ProcessMachineUnused, unused);
    let too_good = labour.iter().any(|line| {
        let [_, best] = line.per_h_range;
        line.per_h > best * 1.000_001
    });
    known.set(Fact::PlanRateTooGood, too_good);
}

/// Tells the facts of the solution that has least time left before it dries or has worked too long.
pub(super) fn add_dwell(dwell: &Dwell, known: &mut Facts<'_>) {
    let left = |most: i64| float(most.saturating_sub(dwell.typical_min));
    let before = number(known, Fact::PlanDwellMostMin).zip(number(known, Fact::PlanDwellMin));
    if before.is_none_or(|(most, works)| left(dwell.most_min) < most - works) {
        known.set(Fact::PlanDwellMin, float(dwell.typical_min));
        known.set(Fact::PlanDwellMostMin, float(dwell.most_min));
        known.set(Fact::PlanSolutionDriesMin, dwell.dries_after_min.map(float));
    }
}

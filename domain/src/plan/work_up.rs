//! Works one candidate out in full: steps, labour, quantities, waits, time line, money, and what the rules say.

use super::{
    DraftPlanError, PlanInput, PlannedStep, Stage, Work,
    coats::{self, By},
    facts,
    judge::{Judgement, judge},
    maker, steps,
    time_line::{TimeInput, minutes_up, time_line},
    waits::Waits,
};
use crate::{
    estimate::{
        basis::{Basis, input as figure},
        cost::{CostInput, cost},
        labour::labour,
        quantities::{pad_works, pads, products, water},
    },
    knowledge::{Fact, Facts, Material, Process, Product, Truth},
    physics::drying::Drying,
    quantity::float,
    survey::Traffic,
};

/// A candidate, worked out and judged.
pub(super) struct Worked<'a> {
    pub(super) process: &'a Process,
    pub(super) facts: Facts<'a>,
    pub(super) judgement: Judgement,
    pub(super) work: Work,
}

/// Works a process out for the floor.
pub(super) fn work_up<'a>(
    input: &PlanInput<'a>,
    material: &'a Material,
    process: &'a Process,
    floor: &Facts<'a>,
    drying: Drying,
) -> Result<Worked<'a>, DraftPlanError> {
    let mut known = floor.clone();
    let named = input.wish.process.as_ref() == Some(&process.key);
    facts::add_process(&mut known, process, named);
    let coat_plan = coats::decide(input, material, process, &mut known);
    let mut steps = steps::write_out(input, process, &coat_plan, &known)?;
    add_products(input, material, &steps, &mut known);
    let mut basis = vec![coats_basis(input, &coat_plan)];
    let labour = labour(input, &mut steps, &known, &mut basis)?;
    let (foot, bare) = add_waits(input, drying, &mut steps, &mut known, &mut basis);
    maker::add_maker(&mut known, input, process, &steps);
    let limits = input.limits();
    let crew = limits.crew_size.unwrap_or(input.card.crew_size).max(1);
    let time_line = time_line(&TimeInput {
        base: input.base,
        card: input.card,
        steps: &steps,
        crew_size: crew,
        window_min: limits.window_min,
        bare_floor_min: bare,
        foot_min: foot,
        area: input.survey.area,
        given: limits.waits,
    });
    known.set(
        Fact::PlanLongestBlockMin,
        float(time_line.longest_block_min),
    );
    known.set(Fact::PlanElapsedMin, float(minutes_up(time_line.elapsed)));
    known.set(Fact::PlanWindowMin, time_line.window_min.map(float));
    let of_floor = limits.window_min != input.wish.limits.window_min;
    known.set(Fact::PlanWindowOfFloor, of_floor);
    let given = input.wish.limits.waits;
    known.set(
        Fact::PlanFurnitureWaitMin,
        given.to_furniture_min.map(float),
    );
    known.set(Fact::PlanWetCleanWaitMin, given.to_wet_clean_min.map(float));
    let products = products(input, &steps, process.whole_packs, &mut basis)?;
    let water = water(input, &steps, process.wetness >= 2, &mut basis)?;
    let pads = pads(
        input.base,
        input.card,
        &pad_works(input, &steps, process.whole_packs),
        &mut basis,
    );
    let cost = cost(&CostInput {
        base: input.base,
        card: input.card,
        labour: &labour,
        jobs: 1,
        products: &products,
        pads: &pads,
        water,
        first_stage: steps.first().map_or(Stage::Maintain, |step| step.stage),
    });
    let judgement = judge(input, &known);
    let holds = |caution: &&crate::knowledge::Caution| caution.when.holds(&known) == Truth::True;
    let cautions = input.base.cautions.iter().filter(holds).cloned().collect();
    let work = Work {
        steps,
        labour,
        products,
        water,
        pads,
        time_line,
        cost,
        cautions,
        basis,
    };
    Ok(Worked {
        process,
        facts: known,
        judgement,
        work,
    })
}

/// Tells the facts how hard the pads and how strong the products of the written steps are.
fn add_products(
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
    let used: Vec<(&PlannedStep, &Product)> = steps
        .iter()
        .filter_map(|step| {
            let row = input.products().product(&step.product.as_ref()?.key)?;
            Some((step, row))
        })
        .collect();
    // A neutraliser is judged by rules of its own: what it may do is another question than what a cleaner may.
    let ph = |of: &dyn Fn(f64, f64) -> f64| {
        let others = used.iter().filter(|(step, _row)| !step.neutralises);
        others.map(|(_step, row)| row.ph_in_use).fold(7.0, of)
    };
    known.set(Fact::ProcessPhMax, ph(&f64::max));
    known.set(Fact::ProcessPhMin, ph(&f64::min));
    let neutraliser = used.iter().find(|(step, _row)| step.neutralises);
    known.set(
        Fact::ProcessNeutraliserPh,
        neutraliser.map(|(_step, row)| row.ph_in_use),
    );
    let supplied = || used.iter().map(|(_step, row)| row.ph_supplied());
    known.set(Fact::ProcessPhSuppliedMax, supplied().fold(7.0, f64::max));
    known.set(Fact::ProcessPhSuppliedMin, supplied().fold(7.0, f64::min));
    let solvent = used.iter().any(|(_step, row)| row.solvent);
    known.set(Fact::ProcessSolvent, solvent);
    let mut coats = used.iter().filter(|(step, _row)| step.coat.is_some());
    let for_wood = coats.any(|(_step, row)| row.is_for_wood(material));
    known.set(Fact::ProcessSealForWood, for_wood);
    add_climate_limits(input, steps, known);
}

/// Tells the facts in which air all coats and impregnators may be laid: by their data sheets, else as is usual.
fn add_climate_limits(input: &PlanInput<'_>, steps: &[PlannedStep], known: &mut Facts<'_>) {
    let usual = &input.base.factors;
    let coats: Vec<_> = steps
        .iter()
        .filter_map(|step| input.products().product(&step.product.as_ref()?.key))
        .filter(|row| row.coverage_first.is_some())
        .collect();
    let of_coats = |figure: fn(&Product) -> Option<f64>, usual: f64| {
        let figures = coats.iter().map(|row| figure(row).unwrap_or(usual));
        figures.collect::<Vec<f64>>()
    };
    let least = of_coats(|row| row.apply_min_c, usual.apply_min_c);
    let most = of_coats(|row| row.apply_max_c, usual.apply_max_c);
    let humid = of_coats(|row| row.humidity_max_pct, usual.humidity_max_pct);
    let highest = |figures: Vec<f64>| figures.into_iter().reduce(f64::max);
    let lowest = |figures: Vec<f64>| figures.into_iter().reduce(f64::min);
    known.set(Fact::ProcessApplyMinC, highest(least));
    known.set(Fact::ProcessApplyMaxC, lowest(most));
    known.set(Fact::ProcessHumidityMaxPct, lowest(humid));
}

fn coats_basis(input: &PlanInput<'_>, plan: &coats::CoatPlan) -> Basis {
    let factors = &input.base.factors;
    let traffic = input.survey.traffic.unwrap_or(Traffic::Medium).word();
    let usual = factors.coats.get(traffic).copied().map_or(0.0, float);
    let (formula, inputs) = match plan.by {
        By::Process => ("the process lays no polish", Vec::new()),
        By::Wish => ("as the wish says", Vec::new()),
        By::Maker => ("as the floor's maker says", Vec::new()),
        By::Film(here) => (
            "a recoat: 2 where fewer than 3 coats lie there or nobody counted them, else 1",
            here.map(|coats| figure("coats_there", float(coats), "coats"))
                .into_iter()
                .collect(),
        ),
        By::Traffic => (
            "by traffic; medium where nobody says",
            vec![figure("coats_by_traffic", usual, "coats")],
        ),
    };
    Basis {
        id: "coats".to_owned(),
        what: "coats of polish".to_owned(),
        formula,
        inputs,
        result: float(plan.polish),
        unit: "coats",
        rounding: "none",
        source: factors.source.clone(),
        grade: factors.grade,
    }
}

/// Adds waits to the steps; gives the waits to walking on the last coat (median, planned) and on a bare floor.
fn add_waits(
    input: &PlanInput<'_>,
    drying: Drying,
    steps: &mut [PlannedStep],
    known: &mut Facts<'_>,
    basis: &mut Vec<Basis>,
) -> ((i64, i64), i64) {
    let mut waits = Waits::new(input, drying);
    let last_coat = steps.iter().rposition(|step| step.coat.is_some());
    let mut foot = (0, 0);
    for (index, step) in steps.iter_mut().enumerate() {
        let last = Some(index) == last_coat;
        let key = if last {
            Some("to_foot".to_owned())
        } else {
            step.wait_key.clone()
        };
        let wait = key.and_then(|key| waits.after(&key, step, known));
        if last && let Some(wait) = &wait {
            foot = (wait.p50_min, wait.used_min);
        }
        step.wait = wait;
        let dose = step.product.as_ref().and_then(|used| used.working);
        if let (Some(dwell), Some(dose)) = (step.dwell.as_mut(), dose) {
            let passes = float(step.passes);
            let per_m2 = dose.l() * 1_000.0 / input.survey.area.m2() / passes;
            dwell.dries_after_min = waits.solution_dries_after(per_m2);
        }
    }
    let bare = last_coat
        .map_or_else(|| steps.last(), |index| steps.get(index))
        .and_then(|step| waits.after(&input.base.factors.bare_floor_wait, step, known));
    known.set(Fact::PlanWaitsGiven, waits.shortened);
    known.set(Fact::PlanWaitBelowLeast, waits.below_least);
    known.set(Fact::PlanDoesNotDry, waits.does_not_dry);
    basis.append(&mut waits.basis);
    (foot, bare.map_or(0, |wait| wait.used_min))
}

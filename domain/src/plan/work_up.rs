//! Works one candidate out in full: steps, labour, quantities, waits, time line, money, and what the rules say.

use super::{
    DraftPlanError, PlanInput, PlannedStep, Stage, TimeLine, Work,
    acceptance::{Acceptance, acceptance},
    bays,
    chemistry::chemistry,
    coats::{self, By},
    elapsed::elapsed_min,
    facts,
    ground::Ground,
    judge::{Docket, Judgement},
    layout::Drawing,
    maker, steps,
    time_line::{Cuts, TimeInput, minutes_up, time_line},
    used,
    waits::{Pace, RoomAir, Waits, shorten},
};
use crate::{
    estimate::{
        basis::{Basis, Reasons, Telling, input as figure},
        cost::{CostInput, around_of_crew, cost},
        covered::covered,
        labour::{crew_size, labour},
        outlook::{self, Amounts, Outlook, Priced},
        pads::{pad_works, pads},
        quantities::{products, water},
        spread::Percentiles,
    },
    knowledge::{Fact, Facts, Material, Process, Truth},
    quantity::{Length, float},
    survey::Traffic,
};

/// What all candidates for a floor start from.
#[derive(Clone, Copy)]
pub(super) struct Place<'b, 'a> {
    pub(super) material: &'a Material,
    pub(super) floor: &'b Facts<'a>,
    pub(super) ground: &'b Ground,
    pub(super) air: &'b RoomAir,
    pub(super) docket: &'b Docket<'a>,
}

/// A candidate, worked out and judged.
pub(super) struct Worked<'a> {
    pub(super) process: &'a Process,
    pub(super) facts: Facts<'a>,
    /// Whether it is right for the floor and the wish.
    pub(super) suits: Truth,
    pub(super) judgement: Judgement<'a>,
    pub(super) work: Work,
    /// Whether it is told in full.
    pub(super) telling: Telling,
    sizes: bays::Sizes,
    crew: i64,
    waits: ((i64, i64), i64),
}

/// Works a process out for the floor: in full, or in figures as far as comparing needs them.
pub(super) fn work_up<'a>(
    input: &PlanInput<'a>,
    process: &'a Process,
    place: &Place<'_, 'a>,
    telling: Telling,
) -> Result<Worked<'a>, DraftPlanError> {
    let Place {
        material,
        floor,
        ground,
        air,
        docket,
    } = *place;
    let mut known = floor.clone();
    let named = input.wish.process.as_ref() == Some(&process.key);
    facts::add_process(&mut known, process, named);
    let coat_plan = coats::decide(input, material, process, ground, &mut known);
    let mut steps = steps::write_out(input, process, &coat_plan, (&known, telling))?;
    used::add_products(input, material, &steps, &mut known);
    let mut basis = Reasons::new(telling);
    basis.add(|| coats_basis(input, &coat_plan));
    let stops_short = |step: &PlannedStep| step.coat.is_some_and(|coat| coat.gap > Length::ZERO);
    if steps.iter().any(stops_short) {
        basis.add(|| ground.basis(input));
    }
    let labour = labour(input, &mut steps, &known, &mut basis)?;
    used::add_tools(input, &steps, &labour, &mut known);
    let crew = crew_size(input);
    known.set(Fact::PlanCrewSize, float(crew));
    known.set(Fact::PlanAreaEach, input.survey.area.m2() / float(crew));
    let sizes = bays::sizes(input, &steps, crew, &mut basis);
    let bay_pace = Pace::new(input, crew, &sizes);
    let waits = add_waits((input, air, bay_pace), &mut steps, &mut known, &mut basis);
    maker::add_maker(&mut known, input, process, &steps);
    let time_line = when(input, &steps, (crew, waits), (&sizes.cuts(), telling));
    add_times(input, &time_line, &mut known);
    let products = products(input, &steps, process.whole_packs, &mut basis)?;
    let water = water(input, &steps, process.wetness >= 2, &mut basis)?;
    let chemistry = chemistry(input, &steps, (water, air), &mut known, &mut basis);
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
        telling,
    });
    let judgement = docket.judge(&known);
    let work = Work {
        steps,
        labour,
        products,
        water,
        chemistry,
        pads,
        time_line,
        shape: None,
        layouts: Vec::new(),
        cost,
        outlook: Outlook::default(),
        elapsed_min: Percentiles::default(),
        acceptance: Acceptance::default(),
        basis: basis.rows,
    };
    Ok(Worked {
        process,
        suits: process.suits.holds(&known),
        facts: known,
        judgement,
        work,
        telling,
        sizes,
        crew,
        waits,
    })
}

impl Worked<'_> {
    /// What is told of the one candidate that answers: its bays, drawn where the floor has an outline, and when the
    /// floor may be handed over.
    pub(super) fn into_work(
        mut self,
        input: &PlanInput<'_>,
        ground: &Ground,
        air: &RoomAir,
    ) -> Work {
        shorten(input, air, &mut self.work.steps, &mut self.work.basis);
        let drawing = Drawing::new(input, ground, &self.work, self.sizes);
        let layouts = drawing.layouts();
        // Windows hold whole bays, and drawn ones are not all of one size.
        let drawn = drawing.cuts(&layouts).map(|cuts| {
            let crewed = (self.crew, self.waits);
            when(input, &self.work.steps, crewed, (&cuts, Telling::InFull))
        });
        let shape = drawing.shape();
        let acceptance = acceptance(input, &self);
        let (outlook, elapsed_min) = self.outlook(input);
        let mut work = Work {
            shape,
            layouts,
            outlook,
            elapsed_min,
            acceptance,
            ..self.work
        };
        if let Some(drawn) = drawn {
            work.time_line.nights = drawn.nights;
        }
        work
    }
}

impl Worked<'_> {
    /// How hours, product, money and time may turn out.
    fn outlook(&mut self, input: &PlanInput<'_>) -> (Outlook, Percentiles) {
        let (work, spread) = (&mut self.work, &input.base.spread);
        let mut amounts = Amounts::default();
        amounts.add((&work.labour, self.crew), &work.products, &work.pads);
        let priced = Priced {
            products: &work.products,
            cost: &work.cost,
            card: input.card,
            from: input.products(),
        };
        let outlook = amounts.outlook(&priced, spread);
        let reason = outlook::basis(&outlook, &work.labour, spread);
        work.basis.push(reason);
        let around = around_of_crew(input.card, (1, self.crew));
        let by = (input.card, self.crew, around);
        let elapsed_min = elapsed_min(&work.steps, &work.labour, by, spread);
        (outlook, elapsed_min)
    }
}

/// Tells the facts how long the work takes, the window, and the waits that were given.
fn add_times(input: &PlanInput<'_>, time_line: &TimeLine, known: &mut Facts<'_>) {
    known.set(
        Fact::PlanLongestBlockMin,
        float(time_line.longest_block_min),
    );
    known.set(Fact::PlanElapsedMin, float(minutes_up(time_line.elapsed)));
    known.set(Fact::PlanWindowMin, time_line.window_min.map(float));
    let of_floor = input.limits().window_min != input.wish.limits.window_min;
    known.set(Fact::PlanWindowOfFloor, of_floor);
    let given = input.wish.limits.waits;
    known.set(
        Fact::PlanFurnitureWaitMin,
        given.to_furniture_min.map(float),
    );
    known.set(Fact::PlanWetCleanWaitMin, given.to_wet_clean_min.map(float));
}

/// The time line of steps whose waits are known: those to walking on the last coat and on a bare floor.
fn when(
    input: &PlanInput<'_>,
    steps: &[PlannedStep],
    (crew, (foot_min, bare_floor_min)): (i64, ((i64, i64), i64)),
    (cuts, telling): (&Cuts, Telling),
) -> TimeLine {
    let limits = input.limits();
    time_line(&TimeInput {
        base: input.base,
        card: input.card,
        steps,
        crew_size: crew,
        window_min: limits.window_min,
        bare_floor_min,
        foot_min,
        cuts,
        given: limits.waits,
        telling,
    })
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
    (input, air, mut pace): (&PlanInput<'_>, &RoomAir, Pace<'_>),
    steps: &mut [PlannedStep],
    known: &mut Facts<'_>,
    basis: &mut Reasons,
) -> ((i64, i64), i64) {
    let mut waits = Waits::new(input, air, basis.telling);
    let last_coat = steps.iter().rposition(|step| step.coat.is_some());
    let mut foot = (0, 0);
    for (index, step) in steps.iter_mut().enumerate() {
        pace.pass(step);
        let last = Some(index) == last_coat;
        let key = if last {
            Some("to_foot")
        } else {
            step.wait_key.as_deref()
        };
        let wait = key.and_then(|key| waits.after(key, (step, &pace), known));
        if last && let Some(wait) = &wait {
            foot = (wait.p50_min, wait.used_min);
        }
        step.wait = wait;
        let dose = step.product.as_ref().and_then(|used| used.working);
        if let (Some(dwell), Some(dose)) = (step.dwell.as_mut(), dose) {
            let passes = float(step.passes);
            // It lies as thick as its sheet says, whatever jobs have told of litres.
            let row = step.product.as_ref();
            let row = row.and_then(|used| input.products().product(&used.key));
            let reach = row.map_or(1.0, |row| covered(input, row).factor());
            let per_m2 = reach * dose.l() * 1_000.0 / input.survey.area.m2() / passes;
            dwell.dries_after_min = waits.solution_dries_after(per_m2);
        }
        if let Some(dwell) = &step.dwell {
            used::add_dwell(dwell, known);
        }
    }
    known.set(Fact::PlanWaitsGiven, waits.shortened);
    known.set(Fact::PlanWaitBelowLeast, waits.below_least);
    known.set(Fact::PlanDoesNotDry, waits.does_not_dry);
    known.set(Fact::PlanFilmC, waits.film_c);
    known.set(Fact::PlanHumidityPeakPct, waits.humidity_peak_pct);
    // What the work does not lay is no fact of it: how long a bare floor would dry is reckoned with only where a window
    // may end on one.
    let bare_key = input.base.factors.bare_floor_wait.as_str();
    let mut before_last = steps.iter().rev().skip(1);
    let ends_bare = last_coat.is_some() || before_last.any(|step| step.wait.is_some());
    let bare = last_coat
        .map_or_else(|| steps.last(), |index| steps.get(index))
        .filter(|_step| ends_bare)
        .and_then(|step| waits.after(bare_key, (step, &pace), known));
    basis.rows.append(&mut waits.into_basis());
    // The caller's wait counts here too, but none shorter than is ever right.
    let least_min = input.base.hold(bare_key).map_or(0, |hold| hold.least_min);
    (foot, bare.map_or(0, |wait| wait.used_min.max(least_min)))
}

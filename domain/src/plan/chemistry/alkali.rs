//! How alkali comes off a floor: by how many clean rinses, or by how much acid.

use super::{
    super::{
        PlanInput, PlannedStep,
        facts::{is_rough, number},
        judge::refusals_of,
        used::product,
    },
    AcidDose, Neutralising, base_of, tap,
};
use crate::{
    estimate::basis::{Basis, Input, Reasons, input as figure},
    knowledge::{Chemical, Fact, Facts, Product},
    physics::chemistry::{
        Concentrations, Rinsing, Solution, alkalinity_mol_l, count_rinses, vinegar_ml,
    },
    quantity::{Volume, float},
};

/// What is as acid as this as sold is 5 % vinegar, or near enough (pH 2.4).
const VINEGAR_PH: std::ops::RangeInclusive<f64> = 2.3..=2.6;
/// What is more acid than this as sold is a strong acid.
const STRONG_ACID_PH: f64 = 2.0;
/// What stands where not even a hundred rinses are enough: no plan has so many.
const TOO_MANY: f64 = 101.0;

/// What is left on the floor before the first rinse, and what rinses it off.
struct Residue {
    ph: f64,
    measured: bool,
    film_left_ml_m2: f64,
    /// Clean water of each rinse that comes after the last alkaline solution, in mL/m².
    rinses_ml_m2: Vec<f64>,
    /// Clean water of the last of them, or of a usual one.
    rinse_ml_m2: f64,
    /// Strong base in mol/L, and how much of it may stay.
    base_mol_l: f64,
    target_mol_l: f64,
    /// Alkalinity of the water in mol/L.
    bicarbonate: f64,
}

/// Whether a product leaves alkali that has to come off.
///
/// What stays on the floor is meant to, and bleach or peroxide is rinsed off for its own sake: acid sets chlorine free.
fn leaves_alkali(row: &Product, step: &PlannedStep) -> bool {
    let oxidises = [Chemical::Hypochlorite, Chemical::Peroxide];
    !step.neutralises
        && !row.stays_on_floor()
        && !oxidises.iter().any(|one| row.contains.contains(one))
}

/// How alkali comes off: by how many rinses, or by how much acid.
pub(super) fn neutralising(
    input: &PlanInput<'_>,
    steps: &[PlannedStep],
    known: &Facts<'_>,
    basis: &mut Reasons,
) -> Option<Neutralising> {
    let figures = &input.base.rinsing;
    let wet = number(known, Fact::ProcessWetness).is_some_and(|wetness| wetness >= 2.0);
    let residue = wet.then(|| residue(input, steps, known)).flatten()?;
    let rinses_needed = rinses_needed(&residue);
    basis.add(|| Basis {
        id: "rinses".to_owned(),
        what: "clean rinses until the alkali is off".to_owned(),
        formula: "the least n with c0 · Π film_left / (film_left + rinse) <= c_target, each rinse of the plan in turn and then more like the last; c0 by charge balance from the pH, a lower bound: amines and silicates hold more",
        inputs: inputs(input, &residue),
        result: rinses_needed.map_or(TOO_MANY, float),
        unit: "rinses",
        rounding: "up",
        source: figures.source.clone(),
        grade: figures.grade,
    });
    let (alkalinity_mg_l, alkalinity_told) = tap(input);
    Some(Neutralising {
        residue_ph: residue.ph,
        measured: residue.measured,
        rinses_planned: i64::try_from(residue.rinses_ml_m2.len()).unwrap_or(i64::MAX),
        rinses_needed,
        rinse_ml_m2: residue.rinse_ml_m2,
        target_ph: figures.target_ph,
        alkalinity_mg_l,
        alkalinity_told,
        acid: acid(input, steps, known, &residue, basis),
        basis: basis.telling.text(|| "rinses".to_owned()),
    })
}

fn residue(input: &PlanInput<'_>, steps: &[PlannedStep], known: &Facts<'_>) -> Option<Residue> {
    let figures = &input.base.rinsing;
    let alkaline = |step: &PlannedStep| {
        let row = product(input, step).filter(|row| leaves_alkali(row, step))?;
        (row.ph_in_use > figures.alkaline_ph).then_some(row.ph_in_use)
    };
    let laid = steps.iter().filter_map(alkaline).reduce(f64::max);
    // What was read before the work does not make weaker what the work itself lays.
    let read = input.survey.surroundings.residue_ph;
    let read = read.filter(|ph| *ph > figures.alkaline_ph);
    let ph = laid.into_iter().chain(read).reduce(f64::max)?;
    let last = steps.iter().rposition(|step| alkaline(step).is_some());
    let after = last.map_or(0, |last| last.saturating_add(1));
    let area_m2 = input.survey.area.m2();
    // A rinse is clean water alone.
    let rinses = steps.iter().skip(after);
    let rinses = rinses.filter(|step| step.product.is_none() && step.water > Volume::ZERO);
    let rinses_ml_m2: Vec<f64> = rinses
        .map(|step| (step.water.l() * 1e3 / area_m2).clamp(1.0, 10_000.0))
        .collect();
    let (alkalinity_mg_l, _told) = tap(input);
    let bicarbonate = alkalinity_mol_l(alkalinity_mg_l);
    let water = Solution::new(Concentrations {
        bicarbonate,
        ..Concentrations::default()
    });
    let target = water.ok()?.base_to_reach_mol_l(figures.target_ph);
    Some(Residue {
        ph,
        measured: laid.is_none_or(|laid| ph > laid),
        film_left_ml_m2: film_left(input, known),
        rinse_ml_m2: rinses_ml_m2.last().copied().unwrap_or(figures.rinse_ml_m2),
        rinses_ml_m2,
        base_mol_l: base_of(ph).max(1e-9),
        // Tap water stands a little alkali before its pH rises: so much may stay in the film.
        target_mol_l: target.ok()?.max(1e-7),
        bicarbonate,
    })
}

/// The film that a pick-up leaves on this floor, in mL/m².
fn film_left(input: &PlanInput<'_>, known: &Facts<'_>) -> f64 {
    let figures = &input.base.rinsing;
    if is_rough(input, known) {
        figures.film_left_rough_ml_m2
    } else {
        figures.film_left_ml_m2
    }
}

/// How many rinses it takes: those of the plan in turn, then more like the last; `None` beyond a hundred.
fn rinses_needed(residue: &Residue) -> Option<i64> {
    let film = residue.film_left_ml_m2;
    let enough = residue.target_mol_l * (1.0 + 1e-12);
    let mut left = residue.base_mol_l;
    for (n_rinses, rinse) in (0_i64..).zip(&residue.rinses_ml_m2) {
        if left <= enough {
            return Some(n_rinses);
        }
        left *= film / (film + rinse);
    }
    let more = count_rinses(&Rinsing {
        residual_film_ml_m2: film,
        rinse_ml_m2: residue.rinse_ml_m2,
        residue_mol_l: left.max(1e-9),
        target_mol_l: residue.target_mol_l,
    });
    let planned = i64::try_from(residue.rinses_ml_m2.len()).ok()?;
    let needed = planned.saturating_add(i64::from(more.ok()?));
    Some(needed).filter(|needed| *needed <= 100)
}

fn inputs(input: &PlanInput<'_>, residue: &Residue) -> Vec<Input> {
    let mut inputs = vec![
        figure("residue_ph", residue.ph, "pH"),
        figure("c0", residue.base_mol_l * 1e3, "mmol/L"),
        figure("target_ph", input.base.rinsing.target_ph, "pH"),
        figure("c_target", residue.target_mol_l * 1e3, "mmol/L"),
        figure("film_left", residue.film_left_ml_m2, "mL/m²"),
        figure("alkalinity", tap(input).0, "mg/L CaCO3"),
    ];
    let rinses = residue.rinses_ml_m2.iter().copied();
    let usual = residue.rinses_ml_m2.is_empty();
    let rinses = rinses.chain(usual.then_some(residue.rinse_ml_m2));
    inputs.extend(rinses.map(|rinse| figure("rinse", rinse, "mL/m²")));
    inputs
}

/// What acid would do: to the film that is left, and to the water that it comes in.
fn acid(
    input: &PlanInput<'_>,
    steps: &[PlannedStep],
    known: &Facts<'_>,
    residue: &Residue,
    basis: &mut Reasons,
) -> AcidDose {
    let figures = &input.base.rinsing;
    let film_l = input.survey.area.m2() * residue.film_left_ml_m2 * 1e-3;
    let rinse_l = input.survey.area.m2() * residue.rinse_ml_m2 * 1e-3;
    let film = Solution::new(Concentrations {
        strong_base: residue.base_mol_l,
        ..Concentrations::default()
    });
    let needed = film.and_then(|film| film.acetic_to_reach_mol_l(figures.target_ph));
    let dose_ml = vinegar_ml(needed.unwrap_or(0.0) * film_l);
    let used_up_ml = vinegar_ml(residue.bicarbonate * rinse_l);
    let neutraliser = steps.iter().find(|step| step.neutralises);
    basis.add(|| Basis {
        id: "acid".to_owned(),
        what: "5 % vinegar that matches the alkali of the film left on the floor".to_owned(),
        formula: "acetic acid to the target pH by charge balance · film left · area; a lower bound. The alkalinity of a rinse's water uses up rinse · area · alkalinity before",
        inputs: vec![
            figure("film", film_l, "L"),
            figure("alkali", residue.base_mol_l * 1e3, "mmol/L"),
            figure("rinse", rinse_l, "L"),
            figure("alkalinity", residue.bicarbonate * 1e3, "mmol/L"),
            figure("used_up_by_water", used_up_ml, "mL"),
        ],
        result: dose_ml,
        unit: "mL",
        rounding: "none",
        source: figures.source.clone(),
        grade: figures.grade,
    });
    AcidDose {
        used: neutraliser.is_some_and(|step| step.product.is_some()),
        vinegar_ml: dose_ml,
        used_up_by_water_ml: used_up_ml,
        ph_in_water: neutraliser.and_then(|step| ph_in_water(input, step, residue.bicarbonate)),
        // Nobody reads what would refuse acid in a candidate that is only compared.
        refused_by: basis
            .telling
            .text(|| refusals_of(input.base, known, &with_acid(input, known))),
        basis: basis.telling.text(|| "acid".to_owned()),
    }
}

/// The facts of the same work with an acid in it: what is used now for it, else the usual neutraliser.
fn with_acid<'a>(input: &PlanInput<'_>, known: &Facts<'a>) -> Facts<'a> {
    let mut with_acid = known.clone();
    with_acid.set(Fact::PlanAcid, true);
    with_acid.set(Fact::UsedAcid, true);
    if number(known, Fact::ProcessNeutraliserPh).is_none() {
        let mut usual = input.base.products.iter();
        let usual = usual.find(|row| row.class == "neutraliser");
        with_acid.set(Fact::ProcessNeutraliserPh, usual.map(|row| row.ph_in_use));
    }
    with_acid
}

/// pH of a neutraliser as it is diluted, in water of this alkalinity in mol/L; `None` where nobody knows how strong its
/// acid is: a pH does not say that of a weak acid that is not vinegar.
fn ph_in_water(input: &PlanInput<'_>, step: &PlannedStep, bicarbonate: f64) -> Option<f64> {
    let used = step.product.as_ref()?;
    let sold_ph = product(input, step)?.ph_undiluted?;
    if used.dilution <= 0.0 {
        return None;
    }
    let mixed = if VINEGAR_PH.contains(&sold_ph) {
        // So many mL to a litre of water.
        Solution::vinegar_in_water(1e3 / used.dilution, 1.0, bicarbonate)
    } else if sold_ph < STRONG_ACID_PH {
        let parts = 1.0 + used.dilution;
        Solution::new(Concentrations {
            strong_acid: 10_f64.powf(-sold_ph) / parts,
            bicarbonate: bicarbonate * used.dilution / parts,
            ..Concentrations::default()
        })
    } else {
        return None;
    };
    Some(mixed.ok()?.ph())
}

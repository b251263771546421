//! What the work does to water, air and drain: how alkali comes off, what is corrosive, what vapour the room holds, and
//! the pH of the slurry.

mod drain;
mod vapour;

use drain::slurry;
use vapour::{legal_content, vapour};

use super::{
    PlanInput, PlannedStep, facts::number, judge::Finding, judge::refusals_of, waits::RoomAir,
};
use crate::{
    estimate::{
        basis::{Basis, Reasons, input as figure},
        quantities::WaterLine,
    },
    knowledge::{Fact, Facts, Grade, Product},
    physics::chemistry::{
        Concentrations, CountRinsesError, Rinsing, Solution, alkalinity_mol_l, count_rinses,
        vinegar_ml,
    },
    quantity::{Volume, float},
};

/// What the work does to water, air and drain.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Chemistry {
    /// How alkali comes off, where a solution leaves any.
    pub neutralising: Option<Neutralising>,
    /// Products that are corrosive by their pH, where no other data say more.
    pub corrosive: Vec<Corrosive>,
    /// The vapour in the room, where a product gives any off.
    pub vapour: Option<RoomVapour>,
    /// The slurry, where any is taken up.
    pub slurry: Option<SlurryPh>,
}

/// How alkali comes off a floor.
#[derive(Debug, Clone, PartialEq)]
pub struct Neutralising {
    /// pH of the film that is left: as measured, else of the strongest solution.
    pub residue_ph: f64,
    /// Whether somebody measured it.
    pub measured: bool,
    /// Rinses that the plan has.
    pub rinses_planned: i64,
    /// Rinses that bring the film to the pH that is asked for; `None` beyond a hundred.
    pub rinses_needed: Option<i64>,
    /// Clean water of one rinse, in mL/m².
    pub rinse_ml_m2: f64,
    /// The pH that is to be reached.
    pub target_ph: f64,
    /// Alkalinity of the water in mg/L of calcium carbonate.
    pub alkalinity_mg_l: f64,
    /// Whether somebody told it.
    pub alkalinity_told: bool,
    /// By acid.
    pub acid: AcidDose,
    /// Where the reason stands.
    pub basis: String,
}

/// What acid would do in place of rinses.
#[derive(Debug, Clone, PartialEq)]
pub struct AcidDose {
    /// Whether the plan uses it.
    pub used: bool,
    /// 5 % vinegar in mL that matches the alkali of the film left on the floor; a lower bound.
    pub vinegar_ml: f64,
    /// 5 % vinegar in mL that the alkalinity of one rinse's water uses up before any is left for the floor.
    pub used_up_by_water_ml: f64,
    /// pH of the neutraliser as it is diluted, in this water; `None` without one.
    pub ph_in_water: Option<f64>,
    /// The rules that refuse acid on this floor.
    pub refused_by: Vec<Finding>,
    /// Where the reason of the doses stands.
    pub basis: String,
}

/// A product that is corrosive by its pH.
#[derive(Debug, Clone, PartialEq)]
pub struct Corrosive {
    /// Its key.
    pub product: String,
    /// pH as supplied.
    pub ph_supplied: f64,
    /// pH as used.
    pub ph_in_use: f64,
    /// Whether it still counts as corrosive as it is used.
    pub in_use: bool,
    /// The limits of pH, and where they come from.
    pub limits: (f64, f64),
    /// The source of the limits.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

/// Vapour in the air of the room.
#[derive(Debug, Clone, PartialEq)]
pub struct RoomVapour {
    /// Volatile organic compounds of all products as far as figures are known, in g.
    pub mass_g: f64,
    /// The product that comes nearest to its limit.
    pub product: String,
    /// The most that the air of the room then holds, in mg/m³.
    pub peak_mg_m3: f64,
    /// What it may hold over a working day, in mg/m³.
    pub limit_mg_m3: f64,
    /// Where the reason stands.
    pub basis: String,
}

/// The slurry that is taken up.
#[derive(Debug, Clone, PartialEq)]
pub struct SlurryPh {
    /// How much.
    pub volume: Volume,
    /// Its pH, all of it mixed.
    pub ph: f64,
    /// The pH in which it may go to the foul drain, unless the local consent says otherwise.
    pub drain_ph: (f64, f64),
    /// Where the reason stands.
    pub basis: String,
}

/// Works out what the written steps do, and tells the facts.
pub(super) fn chemistry(
    input: &PlanInput<'_>,
    steps: &[PlannedStep],
    (water, air): (WaterLine, &RoomAir),
    known: &mut Facts<'_>,
    basis: &mut Reasons,
) -> Chemistry {
    let found = Chemistry {
        neutralising: neutralising(input, steps, known, basis),
        corrosive: corrosive(input, steps),
        vapour: vapour(input, steps, air.drying.room().reading(), basis),
        slurry: slurry(input, steps, water, basis),
    };
    let alkali = found.neutralising.as_ref();
    known.set(
        Fact::PlanRinses,
        alkali.map(|row| float(row.rinses_planned)),
    );
    // More than a hundred is a hundred and one: no plan has so many.
    let needed = alkali.map(|row| row.rinses_needed.map_or(101.0, float));
    known.set(Fact::PlanRinsesNeeded, needed);
    let acid = alkali.filter(|row| row.acid.used);
    let in_water = acid.and_then(|row| row.acid.ph_in_water);
    known.set(Fact::PlanNeutraliserPhInWater, in_water);
    let air = found.vapour.as_ref();
    known.set(Fact::PlanVocMgM3, air.map(|row| row.peak_mg_m3));
    known.set(Fact::PlanVocLimitMgM3, air.map(|row| row.limit_mg_m3));
    known.set(Fact::PlanSlurryPh, found.slurry.as_ref().map(|row| row.ph));
    legal_content(input, steps, known);
    found
}

fn product<'k>(input: &PlanInput<'k>, step: &PlannedStep) -> Option<&'k Product> {
    input.products().product(&step.product.as_ref()?.key)
}

/// Strong base in mol/L that a pH stands for; none in what is not alkaline.
fn base_of(ph: f64) -> f64 {
    if ph <= 7.0 {
        return 0.0;
    }
    10_f64.powf(ph - 14.0) - 10_f64.powf(-ph)
}

/// The water that comes from the tap.
fn tap(input: &PlanInput<'_>) -> (f64, bool) {
    let told = input.survey.surroundings.water_alkalinity_mg_l;
    (
        told.unwrap_or(input.base.rinsing.alkalinity_mg_l),
        told.is_some(),
    )
}

/// How alkali comes off: by how many rinses, or by how much acid.
fn neutralising(
    input: &PlanInput<'_>,
    steps: &[PlannedStep],
    known: &Facts<'_>,
    basis: &mut Reasons,
) -> Option<Neutralising> {
    let figures = &input.base.rinsing;
    let solution_ph = number(known, Fact::ProcessPhMax)?;
    let wet = number(known, Fact::ProcessWetness).is_some_and(|wetness| wetness >= 2.0);
    if !wet || solution_ph <= figures.alkaline_ph {
        return None;
    }
    let measured = input.survey.surroundings.residue_ph;
    let residue_ph = measured.unwrap_or(solution_ph);
    // A rinse is clean water alone.
    let rinses = || {
        let bare = steps.iter().filter(|step| step.product.is_none());
        bare.filter(|step| step.water > Volume::ZERO)
    };
    let area_m2 = input.survey.area.m2();
    let last = rinses().next_back();
    let rinse_ml_m2 = last.map_or(0.0, |step| step.water.l() * 1e3 / area_m2);
    let (alkalinity_mg_l, alkalinity_told) = tap(input);
    let bicarbonate = alkalinity_mol_l(alkalinity_mg_l);
    let water = Solution::new(Concentrations {
        bicarbonate,
        ..Concentrations::default()
    });
    let water = water.ok()?;
    // Tap water stands a little alkali before its pH rises: so much may stay in the film.
    let target_mol_l = water.base_to_reach_mol_l(figures.target_ph).ok()?.max(1e-7);
    let residue_mol_l = base_of(residue_ph).max(1e-9);
    let rinsing = Rinsing {
        residual_film_ml_m2: figures.film_left_ml_m2,
        rinse_ml_m2: rinse_ml_m2.clamp(1.0, 10_000.0),
        residue_mol_l,
        target_mol_l,
    };
    let rinses_needed = match count_rinses(&rinsing) {
        Ok(n_rinses) => Some(i64::from(n_rinses)),
        Err(CountRinsesError::TooMany | CountRinsesError::Refused(_)) => None,
    };
    let rinses_planned = i64::try_from(rinses().count()).unwrap_or(i64::MAX);
    basis.add(|| Basis {
        id: "rinses".to_owned(),
        what: "clean rinses until the alkali is off".to_owned(),
        formula: "ceil(ln(c0 / c_target) / ln((film_left + rinse) / film_left)); c0 by charge balance from the pH, a lower bound: amines and silicates hold more",
        inputs: vec![
            figure("residue_ph", residue_ph, "pH"),
            figure("c0", residue_mol_l * 1e3, "mmol/L"),
            figure("target_ph", figures.target_ph, "pH"),
            figure("c_target", target_mol_l * 1e3, "mmol/L"),
            figure("film_left", figures.film_left_ml_m2, "mL/m²"),
            figure("rinse", rinse_ml_m2, "mL/m²"),
            figure("alkalinity", alkalinity_mg_l, "mg/L CaCO3"),
        ],
        result: rinses_needed.map_or(101.0, float),
        unit: "rinses",
        rounding: "up",
        source: figures.source.clone(),
        grade: figures.grade,
    });
    let film_l = area_m2 * figures.film_left_ml_m2 * 1e-3;
    let rinse_l = area_m2 * rinse_ml_m2 * 1e-3;
    Some(Neutralising {
        residue_ph,
        measured: measured.is_some(),
        rinses_planned,
        rinses_needed,
        rinse_ml_m2,
        target_ph: figures.target_ph,
        alkalinity_mg_l,
        alkalinity_told,
        acid: acid(
            input,
            steps,
            known,
            (film_l, rinse_l, residue_mol_l, bicarbonate),
            basis,
        ),
        basis: "rinses".to_owned(),
    })
}

/// What acid would do: to the film that is left, and to the water that it comes in.
fn acid(
    input: &PlanInput<'_>,
    steps: &[PlannedStep],
    known: &Facts<'_>,
    (film_l, rinse_l, residue_mol_l, bicarbonate): (f64, f64, f64, f64),
    basis: &mut Reasons,
) -> AcidDose {
    let figures = &input.base.rinsing;
    let film = Solution::new(Concentrations {
        strong_base: residue_mol_l,
        ..Concentrations::default()
    });
    let needed = film.and_then(|film| film.acetic_to_reach_mol_l(figures.target_ph));
    let dose_ml = vinegar_ml(needed.unwrap_or(0.0) * film_l);
    let used_up_ml = vinegar_ml(bicarbonate * rinse_l);
    let neutraliser = steps.iter().find(|step| step.neutralises);
    let used = neutraliser.and_then(|step| step.product.as_ref());
    // So many mL of 5 % acid to a litre of water; the weak acids that floors are neutralised with are near enough.
    let ph_in_water = used.filter(|used| used.dilution > 0.0).and_then(|used| {
        let water = Solution::vinegar_in_water(1e3 / used.dilution, 1.0, bicarbonate);
        Some(water.ok()?.ph())
    });
    let mut with_acid = known.clone();
    with_acid.set(Fact::PlanAcid, true);
    basis.add(|| Basis {
        id: "acid".to_owned(),
        what: "5 % vinegar that matches the alkali of the film left on the floor".to_owned(),
        formula: "acetic acid to the target pH by charge balance · film left · area; a lower bound. The alkalinity of a rinse's water uses up rinse · area · alkalinity before",
        inputs: vec![
            figure("film", film_l, "L"),
            figure("alkali", residue_mol_l * 1e3, "mmol/L"),
            figure("rinse", rinse_l, "L"),
            figure("alkalinity", bicarbonate * 1e3, "mmol/L"),
            figure("used_up_by_water", used_up_ml, "mL"),
        ],
        result: dose_ml,
        unit: "mL",
        rounding: "none",
        source: figures.source.clone(),
        grade: figures.grade,
    });
    AcidDose {
        used: used.is_some(),
        vinegar_ml: dose_ml,
        used_up_by_water_ml: used_up_ml,
        ph_in_water,
        refused_by: refusals_of(input.base, known, &with_acid),
        basis: "acid".to_owned(),
    }
}

/// Products that count as corrosive by their pH, each once.
fn corrosive(input: &PlanInput<'_>, steps: &[PlannedStep]) -> Vec<Corrosive> {
    let limits = &input.base.corrosive;
    let burns = |ph: f64| ph <= limits.least || ph >= limits.most;
    let mut found: Vec<Corrosive> = Vec::new();
    for row in steps.iter().filter_map(|step| product(input, step)) {
        let told = found.iter().any(|known| known.product == row.key);
        if told || !burns(row.ph_supplied()) {
            continue;
        }
        found.push(Corrosive {
            product: row.key.clone(),
            ph_supplied: row.ph_supplied(),
            ph_in_use: row.ph_in_use,
            in_use: burns(row.ph_in_use),
            limits: (limits.least, limits.most),
            source: limits.source.clone(),
            grade: limits.grade,
        });
    }
    found
}

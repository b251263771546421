//! What the work does to water, air and drain: how alkali comes off, what is corrosive, what vapour the room holds, and
//! the pH of the slurry.

mod alkali;
mod drain;
mod vapour;

use alkali::neutralising;
use drain::slurry;
use vapour::{legal_content, vapour};

use super::{PlanInput, PlannedStep, judge::Finding, used::product, waits::RoomAir};
use crate::{
    estimate::{basis::Reasons, quantities::WaterLine},
    knowledge::{Fact, Facts, Grade},
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
    /// pH of the film that is left: of the strongest solution, or as measured before the work where that is more.
    pub residue_ph: f64,
    /// Whether it is what somebody measured.
    pub measured: bool,
    /// Rinses that the plan has after the last alkaline solution.
    pub rinses_planned: i64,
    /// Rinses that bring the film to the pH that is asked for; `None` beyond a hundred.
    pub rinses_needed: Option<i64>,
    /// Clean water of the last rinse, in mL/m²; the usual one where the plan has none.
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
    /// pH of the neutraliser as it is diluted, in this water; `None` without one, and where its strength is not known.
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
        corrosive: basis.telling.text(|| corrosive(input, steps)),
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

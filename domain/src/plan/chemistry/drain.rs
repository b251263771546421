//! The pH of the slurry, against what a foul drain takes.

use super::{
    super::{PlanInput, PlannedStep},
    SlurryPh, base_of, product, tap,
};
use crate::{
    estimate::{
        basis::{Basis, Reasons, input as figure},
        quantities::WaterLine,
    },
    physics::chemistry::{Concentrations, Solution, acetic_of_ph_mol_l, alkalinity_mol_l},
    quantity::Volume,
};

/// The pH below which an acid counts as a strong one: no weak acid of floor care is so acid in use.
const STRONG_ACID_PH: f64 = 2.0;

/// Strong and weak acid in mol/L that a pH in use stands for.
///
/// A weak acid holds far more than its pH shows, and it is what most acid cleaners are made of.
fn acid_of(ph: f64) -> (f64, f64) {
    if ph >= 7.0 {
        (0.0, 0.0)
    } else if ph < STRONG_ACID_PH {
        (10_f64.powf(-ph) - 1e-7, 0.0)
    } else {
        (0.0, acetic_of_ph_mol_l(ph))
    }
}

/// The pH of all that is taken up, mixed: its alkali or acid in its water.
pub(super) fn slurry(
    input: &PlanInput<'_>,
    steps: &[PlannedStep],
    water: WaterLine,
    basis: &mut Reasons,
) -> Option<SlurryPh> {
    if water.slurry == Volume::ZERO {
        return None;
    }
    // Strong base less strong acid, and weak acid, in mol.
    let (mut strong_mol, mut weak_mol, mut laid_l) = (0.0, 0.0, water.clean.l());
    for step in steps {
        let Some(row) = product(input, step).filter(|row| !row.stays_on_floor()) else {
            continue;
        };
        let working = step.product.as_ref().and_then(|used| used.working);
        let litres = working.map_or(0.0, Volume::l);
        let (strong, weak) = acid_of(row.ph_in_use);
        strong_mol += (base_of(row.ph_in_use) - strong) * litres;
        weak_mol += weak * litres;
        laid_l += litres;
    }
    if laid_l <= 0.0 {
        return None;
    }
    let (alkalinity_mg_l, _told) = tap(input);
    let bicarbonate = alkalinity_mol_l(alkalinity_mg_l);
    let (strong, weak) = (strong_mol / laid_l, weak_mol / laid_l);
    let mixed = Solution::new(Concentrations {
        acetic: weak,
        strong_base: strong.max(0.0),
        strong_acid: (-strong).max(0.0),
        bicarbonate,
        ..Concentrations::default()
    });
    let ph = mixed.ok()?.ph();
    let drain = &input.base.drain;
    basis.add(|| Basis {
        id: "slurry_ph".to_owned(),
        what: "pH of the slurry, all of it mixed".to_owned(),
        formula: "charge balance of alkali or acid in all water that was laid; strong base by the pH of each solution, a lower bound: what amines and silicates hold comes on top; acid below pH 2 as strong acid, weaker as so much acetic acid as has that pH",
        inputs: vec![
            figure("alkali", strong * 1e3, "mmol/L"),
            figure("weak_acid", weak * 1e3, "mmol/L"),
            figure("water", laid_l, "L"),
            figure("alkalinity", alkalinity_mg_l, "mg/L CaCO3"),
            figure("drain_least", drain.least, "pH"),
            figure("drain_most", drain.most, "pH"),
        ],
        result: ph,
        unit: "pH",
        rounding: "told to 0.1",
        source: drain.source.clone(),
        grade: drain.grade,
    });
    Some(SlurryPh {
        volume: water.slurry,
        ph,
        drain_ph: (drain.least, drain.most),
        basis: "slurry_ph".to_owned(),
    })
}

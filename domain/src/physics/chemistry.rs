//! The pH of rinse water and of what a stripper leaves, how much vinegar trims it, and how many rinses remove it.
//!
//! Exact charge balance at 25 °C with activities of 1 and no loss of carbon dioxide. Report to 0.1 pH: activity,
//! temperature and lost carbon dioxide shift a real reading by 0.1 to 0.3, so a floor is accepted by measurement,
//! never by this number. It knows no floor: whether acid may touch one is a rule of the knowledge base.

use thiserror::Error;

use super::range::{self, RefusedValues, check_all};
use super::root::falling_root_within;

#[cfg(test)]
mod tests;

/// Strength of 5 % household vinegar (50 g/L of acetic acid, 60.052 g/mol), in mol/L.
pub const VINEGAR_MOL_L: f64 = 50.0 / 60.052;

/// Ion product of water at 25 °C.
const WATER: f64 = 1e-14;
/// Dissociation constant of acetic acid.
const ACETIC: f64 = 1.75e-5;
/// Dissociation constant of ethanolammonium: pK 9.50.
const ETHANOLAMMONIUM: f64 = 3.162_277_660_168_379_5e-10;
/// First and second dissociation constant of carbonic acid: pK 6.35 and 10.33.
const CARBONIC: (f64, f64) = (4.466_835_921_509_631e-7, 4.677_351_412_871_981_6e-11);
/// How finely a pH is looked for; it is told to a tenth.
const PH_TOLERANCE: f64 = 1e-7;
/// Mass of calcium carbonate that is one millimole of alkalinity, in mg.
const CARBONATE_MG_PER_MMOL: f64 = 50.0;

/// Total concentrations in mol/L; [`Solution::new`] checks them.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Concentrations {
    /// Acetic acid, dissociated or not, from 0 to 10.
    pub acetic: f64,
    /// Sodium or potassium hydroxide, from 0 to 10.
    pub strong_base: f64,
    /// Strong acid, such as hydrochloric, from 0 to 10.
    pub strong_acid: f64,
    /// Ethanolamine, protonated or not: the usual amine of polish strippers; from 0 to 10.
    pub ethanolamine: f64,
    /// Sodium bicarbonate: the alkalinity of tap water; from 0 to 1.
    pub bicarbonate: f64,
}

/// A water with legal concentrations.
///
/// ```
/// use domain::physics::chemistry::{Concentrations, Solution};
///
/// // A capful of vinegar in a bucket of pure water, and in one of hard tap water: it hardly acidifies the second.
/// let pure = Solution::vinegar_in_water(10.0, 5.0, 0.0)?;
/// let hard = Solution::vinegar_in_water(10.0, 5.0, 0.005)?;
/// assert!((pure.ph() - 3.79).abs() < 0.01);
/// assert!((hard.ph() - 6.66).abs() < 0.01);
/// # Ok::<(), domain::physics::range::RefusedValues>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Solution(Concentrations);

impl Solution {
    /// Accepts total concentrations.
    ///
    /// # Errors
    /// [`RefusedValues`] names every concentration outside its range.
    pub fn new(totals: Concentrations) -> Result<Self, RefusedValues> {
        check_all(&[
            (range::ACETIC, totals.acetic),
            (range::STRONG_BASE, totals.strong_base),
            (range::STRONG_ACID, totals.strong_acid),
            (range::ETHANOLAMINE, totals.ethanolamine),
            (range::BICARBONATE, totals.bicarbonate),
        ])?;
        Ok(Self(totals))
    }

    /// 5 % vinegar (mL) put into water (L) of this alkalinity (mol/L before mixing).
    ///
    /// # Errors
    /// [`RefusedValues`] for a volume outside 0 to 1e8 mL or 0.01 to 100 000 L, or an alkalinity outside 0 to 1 mol/L.
    pub fn vinegar_in_water(
        vinegar_ml: f64,
        water_l: f64,
        alkalinity_mol_l: f64,
    ) -> Result<Self, RefusedValues> {
        check_all(&[
            (range::VINEGAR_VOLUME, vinegar_ml),
            (range::WATER_VOLUME, water_l),
            (range::BICARBONATE, alkalinity_mol_l),
        ])?;
        let added_l = vinegar_ml * 1e-3;
        let total_l = added_l + water_l;
        Self::new(Concentrations {
            acetic: VINEGAR_MOL_L * added_l / total_l,
            bicarbonate: alkalinity_mol_l * water_l / total_l,
            ..Concentrations::default()
        })
    }

    /// The concentrations it was made of.
    pub const fn totals(&self) -> &Concentrations {
        &self.0
    }

    /// The pH at which charges balance, between -1 and 15.
    pub fn ph(&self) -> f64 {
        falling_root_within(-1.0, 15.0, PH_TOLERANCE, |ph| self.excess_charge(ph))
    }

    /// Further acetic acid, in mol per litre of this water, that brings it to `target_ph`; zero where it is there already.
    ///
    /// The water that comes with the acid is neglected. More than this drives a floor acid: dose less and measure.
    ///
    /// # Errors
    /// [`RefusedValues`] for a target outside pH 4.5 to 11.
    pub fn acetic_to_reach_mol_l(&self, target_ph: f64) -> Result<f64, RefusedValues> {
        check_all(&[(range::TARGET_PH, target_ph)])?;
        let hydrogen = 10_f64.powf(-target_ph);
        Ok((self.excess_charge(target_ph) * (hydrogen + ACETIC) / ACETIC).max(0.0))
    }

    /// Strong base, in mol per litre of this water, that brings it to `target_ph`; zero where it is there already.
    ///
    /// # Errors
    /// [`RefusedValues`] for a target outside pH 4.5 to 11.
    pub fn base_to_reach_mol_l(&self, target_ph: f64) -> Result<f64, RefusedValues> {
        check_all(&[(range::TARGET_PH, target_ph)])?;
        Ok((-self.excess_charge(target_ph)).max(0.0))
    }

    /// Positive less negative charge at a pH; it falls along the whole scale, so its one zero is the pH.
    fn excess_charge(&self, ph: f64) -> f64 {
        let Concentrations {
            acetic,
            strong_base,
            strong_acid,
            ethanolamine,
            bicarbonate,
        } = self.0;
        let hydrogen = 10_f64.powf(-ph);
        let (first, second) = CARBONIC;

        let carbonic = hydrogen * hydrogen + first * hydrogen + first * second;
        let carbonate_charge = bicarbonate * (first * hydrogen + 2.0 * first * second) / carbonic;
        // Sodium of the hydroxide and of the bicarbonate stands beside hydrogen and the protonated amine.
        let positive = hydrogen
            + strong_base
            + bicarbonate
            + ethanolamine * hydrogen / (hydrogen + ETHANOLAMMONIUM);
        let negative = strong_acid
            + WATER / hydrogen
            + acetic * ACETIC / (hydrogen + ACETIC)
            + carbonate_charge;
        positive - negative
    }
}

/// Alkalinity in mol/L from mg/L of calcium carbonate, as water suppliers print it.
pub const fn alkalinity_mol_l(carbonate_mg_l: f64) -> f64 {
    carbonate_mg_l / CARBONATE_MG_PER_MMOL * 1e-3
}

/// Acetic acid in mol/L whose solution in pure water has this pH; 0 from pH 7 up.
///
/// ```
/// use domain::physics::chemistry::acetic_of_ph_mol_l;
///
/// // 0.1 mol/L has pH 2.88.
/// assert!((acetic_of_ph_mol_l(2.88) - 0.1).abs() < 0.002);
/// ```
pub fn acetic_of_ph_mol_l(ph: f64) -> f64 {
    let hydrogen = 10_f64.powf(-ph);
    let acetate = hydrogen - WATER / hydrogen;
    (acetate * (hydrogen + ACETIC) / ACETIC).max(0.0)
}

/// mL of 5 % vinegar that hold this much acid, in mol.
pub const fn vinegar_ml(acid_mol: f64) -> f64 {
    acid_mol / VINEGAR_MOL_L * 1e3
}

/// mL of 5 % vinegar that match the strong base in `water_l` litres of residue read at `residue_ph`.
///
/// A lower bound: amines and silicates of a stripper hold more base than their pH shows.
///
/// # Errors
/// [`RefusedValues`] for a pH outside 7 to 14 or a volume outside 0.01 to 100 000 L.
pub fn vinegar_for_residue_ml(water_l: f64, residue_ph: f64) -> Result<f64, RefusedValues> {
    check_all(&[
        (range::WATER_VOLUME, water_l),
        (range::RESIDUE_PH, residue_ph),
    ])?;
    let hydrogen = 10_f64.powf(-residue_ph);
    Ok(vinegar_ml((WATER / hydrogen - hydrogen) * water_l))
}

/// A rinse and pick-up, repeated until little enough of a residue is left.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rinsing {
    /// Film that the pick-up leaves, in mL/m² (10 to 30 on a hard smooth floor); from 1 to 500.
    pub residual_film_ml_m2: f64,
    /// Clean water put down each time, in mL/m², from 1 to 10 000.
    pub rinse_ml_m2: f64,
    /// Residue in the film before the first rinse, in mol/L, from 1e-9 to 20.
    pub residue_mol_l: f64,
    /// Residue that may stay, in mol/L, from 1e-9 to 20.
    pub target_mol_l: f64,
}

/// Why a number of rinses cannot be given.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum CountRinsesError {
    /// A reading is outside its range.
    #[error(transparent)]
    Refused(#[from] RefusedValues),
    /// So little water against so much film would take more rinses than anybody does.
    #[error("more than {MAX_RINSES} rinses: put down more water or pick up better")]
    TooMany,
}

/// Rinses beyond which the method is wrong, not the number.
const MAX_RINSES: u32 = 100;

/// Rinses needed: each dilutes the film by `δ / (δ + V)`.
///
/// # Errors
/// [`CountRinsesError::Refused`] names readings outside their ranges; [`CountRinsesError::TooMany`] beyond 100.
pub fn count_rinses(rinsing: &Rinsing) -> Result<u32, CountRinsesError> {
    check_all(&[
        (range::RESIDUAL_FILM, rinsing.residual_film_ml_m2),
        (range::RINSE_VOLUME, rinsing.rinse_ml_m2),
        (range::RESIDUE, rinsing.residue_mol_l),
        (range::RESIDUE_TARGET, rinsing.target_mol_l),
    ])?;
    let kept = rinsing.residual_film_ml_m2 / (rinsing.residual_film_ml_m2 + rinsing.rinse_ml_m2);
    // A residue that meets the target but for the last bits of a double has met it.
    let enough = rinsing.target_mol_l * (1.0 + 1e-12);
    let mut residue = rinsing.residue_mol_l;
    for n_rinses in 0..=MAX_RINSES {
        if residue <= enough {
            return Ok(n_rinses);
        }
        residue *= kept;
    }
    Err(CountRinsesError::TooMany)
}

//! What is looked at before a floor is handed over, and what goes wrong and why.

use serde::Deserialize;

use super::{evidence::Grade, expr::Condition};

/// How much of a floor is looked at.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InspectionDefaults {
    /// The unit that passes or fails, in m².
    pub cell_m2: f64,
    /// The acceptance quality limit in percent of failing units.
    pub limit_pct: f64,
    /// Up to so many units all are looked at: a sample of so few protects nobody.
    pub all_up_to: u64,
    /// The share of failing units, in percent, for which the plan says how likely the floor passes all the same.
    pub bad_share_pct: f64,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

/// A reading or a look before a floor is handed over.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FinalCheck {
    /// The word that names it everywhere; a hold point of the same name takes its place.
    pub key: String,
    /// What is read.
    pub reading: String,
    /// In what.
    pub unit: Option<String>,
    /// The lowest value that passes.
    pub least: Option<f64>,
    /// Whether the lowest value rises by one with each percent of the floor's slope.
    #[serde(default)]
    pub rises_with_slope: bool,
    /// The highest value that passes.
    pub most: Option<f64>,
    /// The condition in words.
    pub statement: String,
    /// What to do if it is not met.
    pub if_fails: String,
    /// When the work calls for it.
    pub when: Condition,
    /// Readings on any floor.
    pub points: u64,
    /// One more reading for each so many m²; `None` where the size of the floor does not matter.
    pub m2_a_point: Option<f64>,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

/// Something that goes wrong, and in which work.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Defect {
    /// The word that names it everywhere.
    pub key: String,
    /// What is seen.
    pub what: String,
    /// What it comes from, likeliest first.
    pub causes: Vec<String>,
    /// What to do.
    pub remedy: String,
    /// In which work it happens.
    pub when: Condition,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

//! Pads, machines and production rates.

use serde::Deserialize;

use super::{evidence::Grade, expr::Condition};

/// A pad and how long it lasts.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pad {
    /// Its colour.
    pub key: String,
    /// Mild to hard.
    pub rank: u8,
    /// Area in m² that one side lasts: low, typical, high.
    pub life_m2: [i64; 3],
    /// An example price in the site's own currency.
    pub price: String,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

/// A machine and what its hour costs.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Machine {
    /// The word that names it everywhere.
    pub key: String,
    /// Its name for people.
    pub name: String,
    /// An example cost per hour in the site's own currency.
    pub per_h: String,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

/// A production rate.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "a row lists what slows it and what does not"
)]
pub struct Rate {
    /// What is done.
    pub activity: String,
    /// Its name for people.
    pub name: String,
    /// For which floors the row holds; the first row of an activity that does is used.
    #[serde(default = "Condition::always")]
    pub when: Condition,
    /// `m2` of floor or `m` of edge.
    pub unit: String,
    /// Per operative and hour: low, typical, high.
    pub per_h: [f64; 3],
    /// The machine that it keeps busy.
    pub machine: Option<String>,
    /// Whether furniture slows it.
    #[serde(default)]
    pub obstructed: bool,
    /// Whether small rooms slow it.
    #[serde(default)]
    pub sized: bool,
    /// Whether soil slows it.
    #[serde(default)]
    pub soiled: bool,
    /// Whether a film of many coats slows it.
    #[serde(default)]
    pub built_up: bool,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

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
    /// The fastest that it may turn, in rpm.
    pub max_rpm: i64,
    /// What it is for.
    pub job: String,
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
    /// What kind of machine it is: one takes the place of another of its kind.
    pub kind: String,
    /// Turns of its pad or brush a minute: lowest, highest; none where nothing turns.
    pub rpm: Option<[i64; 2]>,
    /// Working width in cm.
    pub width_cm: i64,
    /// Whether the operative rides on it, or nobody leads it.
    #[serde(default)]
    pub rides: bool,
    /// Whether it needs a socket.
    #[serde(default)]
    pub mains: bool,
    /// The steepest ramp in % that machines of this kind are usually rated for; none: level floors only.
    pub max_gradient_pct: Option<f64>,
    /// The smallest floor in m² on which it is worth its set-up.
    pub least_area_m2: i64,
    /// Litres of solution in its tank, where it has one.
    pub tank_l: Option<i64>,
    /// Minutes to empty and fill that tank, way included, where it counts for itself.
    pub fill_min: Option<i64>,
    /// An example cost per hour in the site's own currency.
    pub per_h: String,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

/// What is emptied and filled on the way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Fills {
    /// The tank of the machine.
    Tank,
    /// A bucket.
    Bucket,
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
    /// What is emptied and filled on the way; none where the rate holds its filling or nothing is laid.
    pub fills: Option<Fills>,
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

/// A mop or an applicator.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mop {
    /// The word that names it everywhere.
    pub key: String,
    /// Its name for people.
    pub name: String,
    /// What it is for.
    pub job: String,
    /// How wet it leaves a floor, in g/m²: low, high.
    pub leaves_g_m2: [i64; 2],
    /// Area in m² after which cloth or water is changed: low, high.
    pub change_after_m2: [i64; 2],
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

/// Something that is used up, and how long it lasts.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Consumable {
    /// The word that names it everywhere.
    pub key: String,
    /// Its name for people.
    pub name: String,
    /// How long it lasts: low, high.
    pub life: [i64; 2],
    /// In what: `m2`, `h`, `washes`.
    pub life_unit: String,
    /// What it must not be used for or with, and when it is thrown away.
    pub limits: String,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

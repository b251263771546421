//! Processes as chains of steps, the waits between steps, and the readings that must be met.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::{evidence::Grade, expr::Condition, film::FilmEffect};

/// A wait between two events.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hold {
    /// The word that names it everywhere.
    pub key: String,
    /// Its name for people.
    pub name: String,
    /// Never shorter than this, in minutes.
    pub least_min: i64,
    /// Usual length in minutes: the default where no label says more.
    pub typical_min: i64,
    /// Whether a coat of the last product dries before it ends.
    #[serde(default)]
    pub coat: bool,
    /// The water in g/m² that dries before it ends, where it is water and not a coat.
    pub water_g_m2: Option<f64>,
    /// The same on a floor that is not smooth, where it is more.
    pub water_rough_g_m2: Option<f64>,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

/// A reading that must be met before the work goes on.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HoldPoint {
    /// The word that names it everywhere.
    pub key: String,
    /// For which floors the row counts; a later row of the same key counts for the others.
    #[serde(default = "Condition::always")]
    pub when: Condition,
    /// Whether it is met before the step begins, and not only before the work goes on after it.
    #[serde(default)]
    pub before: bool,
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
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

/// A step of a process.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Step {
    /// The word that names it within its process.
    pub key: String,
    /// prepare, protect or maintain.
    pub stage: String,
    /// When the step is done at all.
    #[serde(default = "Condition::always")]
    pub when: Condition,
    /// What is done.
    pub action: String,
    /// With what.
    pub tool: Option<String>,
    /// The pad, by colour.
    pub pad: Option<String>,
    /// The class of product that is used up.
    pub product: Option<String>,
    /// A class of product that is used out of another step's quantity.
    pub product_class_only: Option<String>,
    /// Working solution in mL per m², where it differs from the product's own dose.
    pub dose_ml_m2: Option<f64>,
    /// Clean water in mL per m².
    pub water_ml_m2: Option<f64>,
    /// Minutes that the product works: least, typical, most.
    pub dwell_min: Option<[i64; 3]>,
    /// What to watch while it does.
    pub dwell_note: Option<String>,
    /// The activity that pays the labour.
    pub labour: Option<String>,
    /// Whether it is how the floor is neutralised: what it uses is judged as a neutraliser.
    #[serde(default)]
    pub neutralises: bool,
    /// Whether a film of many coats takes its product twice.
    #[serde(default)]
    pub built_up: bool,
    /// This step's share of that activity's time.
    #[serde(default = "one")]
    pub share: f64,
    /// The wait after it.
    pub wait: Option<String>,
    /// The reading that must be met after it.
    pub hold: Option<String>,
    /// `seal` or `polish`: once a coat.
    pub repeat: Option<String>,
    /// What to do if it fails.
    pub if_fails: Option<String>,
}

const fn one() -> f64 {
    1.0
}

/// A step, or the name of a chain that stands in its place.
#[derive(Debug, Clone, Deserialize)]
#[serde(untagged)]
pub(crate) enum StepOrChain {
    /// A chain by its key.
    Chain(Use),
    /// A step of its own.
    Step(Box<Step>),
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Use {
    #[serde(rename = "use")]
    pub(crate) chain: String,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Chain {
    pub(crate) key: String,
    #[serde(rename = "step")]
    pub(crate) steps: Vec<Step>,
}

/// When a process lays seal coats.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LaysSeal {
    /// Not at all.
    #[default]
    Never,
    /// Where the floor needs it or the wish asks for it.
    Plan,
    /// Always.
    Always,
}

/// A process: a named chain of steps.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "a row lists properties that a floor or process has or has not"
)]
pub struct Process {
    /// The word that names it everywhere.
    pub key: String,
    /// Its name for people.
    pub name: String,
    /// The goals that it can serve.
    pub goals: Vec<String>,
    /// Its place among those that suit: the lowest is chosen.
    pub rank: u16,
    /// Whether its pads and solutions are restorative ones.
    #[serde(default)]
    pub restorative: bool,
    /// 0 dry, 1 damp, 2 wet, 3 flooded.
    #[serde(default)]
    pub wetness: u8,
    /// Whether it takes the film off.
    #[serde(default)]
    pub strips: bool,
    /// Whether a rotary machine scrubs wet.
    #[serde(default)]
    pub scrubs: bool,
    /// Whether a machine on a mains lead works or takes up the wet.
    #[serde(default)]
    pub mains: bool,
    /// Whether a pad works the floor dry or nearly dry.
    #[serde(default)]
    pub dry_buffs: bool,
    /// Whether a pad turns fast enough to melt the top of a film into shine.
    #[serde(default)]
    pub burnishes: bool,
    /// Whether it takes dust up dry.
    #[serde(default)]
    pub sweeps_dry: bool,
    /// Whether it abrades the floor dry with screens or discs.
    #[serde(default)]
    pub sands: bool,
    /// Whether it fills the floor's pores with an impregnator.
    #[serde(default)]
    pub impregnates: bool,
    /// Whether it takes everything off the floor down to its bare material; stripping does so too.
    #[serde(default)]
    pub bares: bool,
    /// Whether it renews wax or oil.
    #[serde(default)]
    pub oils: bool,
    /// Whether it takes wax off.
    #[serde(default)]
    pub dewaxes: bool,
    /// Whether it hardens the floor's own surface with a densifier.
    #[serde(default)]
    pub densifies: bool,
    /// Whether it wets the joints with clean water before anything acid comes near.
    #[serde(default)]
    pub wets_joints: bool,
    /// Coats of seal where it lays any and nobody says how many.
    pub seal_coats: Option<i64>,
    /// Whether it is the work of another trade: a rule of its own refuses it and says who takes over.
    #[serde(default)]
    pub specialist: bool,
    /// Whether nobody may walk there for hours.
    #[serde(default)]
    pub closes_floor: bool,
    /// When it lays seal coats.
    #[serde(default)]
    pub lays_seal: LaysSeal,
    /// Whether it lays polish coats.
    #[serde(default)]
    pub lays_polish: bool,
    /// Whether its polish coats renew a film instead of building one.
    #[serde(default)]
    pub recoat: bool,
    /// Whether the film decides if it is right.
    #[serde(default)]
    pub needs_film_known: bool,
    /// Whether packs and pads are opened for this job and paid whole; routine work pays what it uses.
    #[serde(default)]
    pub whole_packs: bool,
    /// On which floors it is thought of at all; elsewhere it is judged only for whoever names it.
    #[serde(default = "Condition::always")]
    pub on: Condition,
    /// When it is the right choice.
    pub suits: Condition,
    /// Why it is, in words.
    pub why: String,
    /// Why it is not, in words.
    pub why_not: String,
    /// What it does to the film, apart from the coats that it lays.
    pub film: FilmEffect,
    /// Days until it is due again, by traffic.
    pub interval_days: BTreeMap<String, i64>,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
    #[serde(rename = "step")]
    pub(crate) parts: Vec<StepOrChain>,
    /// Its steps in order, chains written out.
    #[serde(skip)]
    pub steps: Vec<Step>,
}

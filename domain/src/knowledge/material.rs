//! Floor coverings, finish words of building data, and the country rules that hang on a floor's age.

use serde::Deserialize;

use super::evidence::Grade;

/// A floor covering and what it stands.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "a row lists properties that a floor or process has or has not"
)]
pub struct Material {
    /// The word that names it everywhere.
    pub key: String,
    /// Its name for people.
    pub name: String,
    /// Whether anybody knows what the floor is; false only for the stand-in of unidentified floors.
    #[serde(default = "yes")]
    pub identified: bool,
    /// Whether it is a resilient covering.
    #[serde(default)]
    pub resilient: bool,
    /// Sensitivity to water, 0 none to 4 never wet.
    pub water: u8,
    /// Sensitivity to solvents, 0 to 3.
    pub solvent: u8,
    /// Sensitivity to acid of vinegar strength, 0 to 3.
    pub acid_weak: u8,
    /// Sensitivity to strong acid, 0 to 3.
    pub acid_strong: u8,
    /// Sensitivity to alkali, 0 to 3.
    pub alkali: u8,
    /// How much the bare floor drinks: none, low, medium or high.
    pub porosity: String,
    /// Whether a seal belongs on it: never, optional or needed.
    pub seal: String,
    /// Whether a polish belongs on it: never, optional or yes.
    pub polish: String,
    /// The hardest pad for routine work, by colour.
    pub pad_routine: String,
    /// The hardest pad for restorative work, by colour.
    pub pad_restorative: String,
    /// pH of routine solutions: lowest, highest.
    pub ph: [f64; 2],
    /// Highest pH of restorative solutions.
    pub ph_restorative_max: f64,
    /// The wettest mop that it stands: wet, damp or dry.
    pub mop: String,
    /// Whether a rough face gives it its grip.
    #[serde(default)]
    pub textured: bool,
    /// Whether it left the factory with a wear coat.
    #[serde(default)]
    pub factory_finished: bool,
    /// Whether old floors of this kind were made with asbestos.
    #[serde(default)]
    pub asbestos_era: bool,
    /// Whether it is concrete.
    #[serde(default)]
    pub concrete: bool,
    /// Whether it is wood or cork.
    #[serde(default)]
    pub wood: bool,
    /// Whether it is stone or terrazzo.
    #[serde(default)]
    pub stone: bool,
    /// Whether it is fired tile in cement grout.
    #[serde(default)]
    pub ceramic: bool,
    /// Whether acid dissolves it because it is lime: marble, limestone, travertine, cement terrazzo.
    #[serde(default)]
    pub calcareous: bool,
    /// Whether it is a resin that was laid wet.
    #[serde(default)]
    pub resin: bool,
    /// Whether it is wood with a thin layer on top that can be sanded few times.
    #[serde(default)]
    pub veneer: bool,
    /// Whether sport is played on it and its grip was tested for that.
    #[serde(default)]
    pub sports: bool,
    /// What a covering of this name has on it where nobody says otherwise.
    pub film: Option<String>,
    /// Whether an impregnator belongs into it: never, optional or needed.
    #[serde(default = "never")]
    pub impregnator: String,
    /// How it conducts heat to a drying film: stone, resilient or timber.
    pub conductance: String,
    /// What else a floor-care lead should know.
    pub notes: String,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

const fn yes() -> bool {
    true
}

fn never() -> String {
    "never".to_owned()
}

/// A finish word of building data and what it means.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Finish {
    /// The word, in capitals, blanks folded.
    pub word: String,
    /// A material's key, or `soft`, or `mixed`.
    pub means: String,
}

/// Words that stand beside finish words in building data.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Aside {
    /// The words, in capitals.
    pub words: Vec<String>,
    /// What they say.
    pub says: Says,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

/// What a word beside a finish word says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Says {
    /// Nothing about the material.
    Nothing,
    /// That the finish word may not mean the floor, or not be what it looks like.
    Doubt,
}

/// First year in which a country presumes no asbestos.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AsbestosCutoff {
    /// ISO 3166 code, or `*` for all others.
    pub country: String,
    /// The year.
    pub year: i16,
    /// Up to this year papers are wanted all the same.
    pub papers_until: Option<i16>,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

//! Products by class with the figures of their data sheets, and the packs they are sold in.

use serde::Deserialize;

use super::{evidence::Grade, expr::Condition};

/// A pack that a product is sold in.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pack {
    /// Its size in mL.
    pub size_ml: i64,
    /// An example price in the site's own currency.
    pub price: String,
}

/// Area in m² that a litre covers, by porosity of the floor.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Coverage {
    /// On a floor that drinks nothing.
    pub none: f64,
    /// On a floor of low porosity.
    pub low: f64,
    /// On a floor of medium porosity.
    pub medium: f64,
    /// On a floor of high porosity.
    pub high: f64,
}

impl Coverage {
    /// The figure for a porosity word; that of high porosity for any other.
    pub fn of(&self, porosity: &str) -> f64 {
        match porosity {
            "none" => self.none,
            "low" => self.low,
            "medium" => self.medium,
            _ => self.high,
        }
    }
}

/// A class of product with the figures of its data sheet.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Product {
    /// The word that names it everywhere.
    pub key: String,
    /// What it is used as: stripper, seal, polish, ...
    pub class: String,
    /// Other classes that it may be named for.
    #[serde(default)]
    pub also: Vec<String>,
    /// Its name for people.
    pub name: String,
    /// On which floors it is chosen for its class.
    #[serde(default = "Condition::always")]
    pub when: Condition,
    /// Parts of water to one part of concentrate; 0 is undiluted.
    #[serde(default)]
    pub dilution: f64,
    /// Working solution in mL per m², for what is not laid in coats.
    pub dose_ml_m2: Option<f64>,
    /// Coverage of the first coat.
    pub coverage_first: Option<Coverage>,
    /// Coverage of later coats.
    pub coverage_next: Option<Coverage>,
    /// Share of water in the wet film, for what is laid in coats.
    pub water_share: Option<f64>,
    /// Minutes from one coat to the next, by the label.
    pub coat_wait_min: Option<i64>,
    /// Minutes from the last coat to light foot traffic, by the label.
    pub foot_wait_min: Option<i64>,
    /// pH as used.
    pub ph_in_use: f64,
    /// Whether it is solvent-based.
    #[serde(default)]
    pub solvent: bool,
    /// Whether its sheet says that it is made for wood.
    #[serde(default)]
    pub for_wood: bool,
    /// Volatile organic compounds in g per litre as sold, where it is a coating.
    pub voc_g_l: Option<f64>,
    /// What the crew wears to handle it.
    #[serde(default)]
    pub ppe: Vec<String>,
    /// The packs that it is sold in.
    pub packs: Vec<Pack>,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

impl Product {
    /// Whether it may be used where a step asks for this class.
    pub fn serves(&self, class: &str) -> bool {
        self.class == class || self.also.iter().any(|other| other == class)
    }
}

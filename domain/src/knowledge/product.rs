//! Products by class with the figures of their data sheets, and the packs they are sold in.

use serde::Deserialize;

use super::{
    Fact, Facts, KnowledgeBase, Material, Value,
    evidence::Grade,
    expr::{Condition, Truth},
};
use crate::words::words;

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

words! {
    /// What in a product reacts with other products, or calls for a trade of its own.
    Chemical {
        /// Hypochlorite bleach.
        Hypochlorite "hypochlorite",
        /// Acid, vinegar included.
        Acid "acid",
        /// Hydrofluoric acid or its salts.
        Hydrofluoric "hydrofluoric",
        /// Ammonia or amines.
        Amine "amine",
        /// Strong alkali.
        Alkali "alkali",
        /// Alcohol or another organic solvent.
        Solvent "solvent",
        /// Hydrogen peroxide or a peracid.
        Peroxide "peroxide",
        /// Cationic surfactant: quaternary disinfectants.
        Cationic "cationic",
        /// Anionic surfactant.
        Anionic "anionic",
        /// Carbonate, phosphate or another salt that crystallises.
        Salts "salts",
        /// Drying oil.
        Oil "oil",
        /// Diisocyanate above 0.1 %.
        Isocyanate "isocyanate",
    }
}

impl TryFrom<String> for Chemical {
    type Error = String;

    fn try_from(word: String) -> Result<Self, String> {
        Self::of(&word).ok_or_else(|| format!("no chemical is named `{word}`"))
    }
}

impl<'de> Deserialize<'de> for Chemical {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let word = String::deserialize(deserializer)?;
        Self::try_from(word).map_err(serde::de::Error::custom)
    }
}

/// What the data sheets of a class of products usually say: the figures that a product is held against.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ProductClass {
    /// The word that names it everywhere.
    pub key: String,
    /// Its name for people.
    pub name: String,
    /// pH as sold: lowest, highest.
    pub ph_as_sold: [f64; 2],
    /// Parts of water to one part of concentrate: strongest, weakest; 0 is undiluted.
    pub dilution: [f64; 2],
    /// Area in m² that a litre of working solution covers, smooth to very porous: lowest, highest.
    pub coverage_m2_l: [f64; 2],
    /// Volatile organic compounds in g per litre as sold, where it is a coating or a solvent: lowest, highest.
    pub voc_g_l: Option<[f64; 2]>,
    /// Temperature in °C of air and floor in which it is used: lowest, highest.
    pub use_c: [f64; 2],
    /// Temperature in °C in which it is kept: lowest, highest.
    pub store_c: [f64; 2],
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
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
    /// The coldest air and floor that it is laid in, in °C, where its sheet says so.
    pub apply_min_c: Option<f64>,
    /// The warmest air and floor that it is laid in, in °C, where its sheet says so.
    pub apply_max_c: Option<f64>,
    /// The most humid air that it is laid in, in %, where its sheet says so.
    pub humidity_max_pct: Option<f64>,
    /// pH as used.
    pub ph_in_use: f64,
    /// pH as supplied, where it is another.
    pub ph_undiluted: Option<f64>,
    /// Whether it is solvent-based.
    #[serde(default)]
    pub solvent: bool,
    /// Whether its sheet says that it is made for wood.
    #[serde(default)]
    pub for_wood: bool,
    /// Whether all its coats run the same way, as along the boards of a wood floor.
    #[serde(default)]
    pub same_direction: bool,
    /// Volatile organic compounds in g per litre as sold, where it is a coating.
    pub voc_g_l: Option<f64>,
    /// What in it reacts with other products.
    #[serde(default)]
    pub contains: Vec<Chemical>,
    /// What the crew wears to handle it.
    #[serde(default)]
    pub ppe: Vec<String>,
    /// The packs that it is sold in.
    pub packs: Vec<Pack>,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
    /// Present if it is a tenant's own product with the figures of its data sheet.
    #[serde(skip)]
    pub own: Option<OwnProduct>,
}

/// What a tenant's own product has besides the figures of a class.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OwnProduct {
    /// The version of it that the figures are of.
    pub version: i64,
    /// The keys of the materials that it suits by its data sheet.
    pub suits: Vec<String>,
    /// Whether it is used no more; what was planned and reported with it still knows it.
    pub withdrawn: bool,
}

impl OwnProduct {
    /// Whether its data sheet names this material.
    pub fn suits(&self, material: &str) -> bool {
        self.suits.iter().any(|key| key == material)
    }
}

/// Products to choose from: a tenant's own before those of the knowledge base.
#[derive(Debug, Clone, Copy)]
pub struct Products<'a> {
    /// What is known.
    pub base: &'a KnowledgeBase,
    /// The tenant's own products, in the order in which they are preferred.
    pub own: &'a [Product],
}

impl<'a> Products<'a> {
    /// The product with this key.
    pub fn product(self, key: &str) -> Option<&'a Product> {
        let own = self.own.iter().find(|row| row.key == key);
        own.or_else(|| self.base.product(key))
    }

    /// Where a product that was found here stands, to find it again without looking.
    pub(crate) fn place_of(self, product: &Product) -> Option<usize> {
        let mut rows = self.own.iter().chain(&self.base.products);
        rows.position(|row| std::ptr::eq(row, product))
    }

    /// The product with this key, which stood at this place when it was found.
    pub(crate) fn again(self, key: &str, place: Option<usize>) -> Option<&'a Product> {
        let mut rows = self.own.iter().chain(&self.base.products);
        let there = place.and_then(|place| rows.nth(place));
        there
            .filter(|row| row.key == key)
            .or_else(|| self.product(key))
    }

    /// The product of a class for a floor: the first of the tenant's own that suits its material, else the first of the
    /// knowledge base whose condition holds. A solvent of the tenant's own is not chosen while people are around.
    pub fn of_class(self, class: &str, material: &str, facts: &Facts<'_>) -> Option<&'a Product> {
        let occupied = matches!(facts.get(Fact::SurveyOccupied), Value::Flag(true));
        let suits = |row: &&Product| {
            let own = row.own.as_ref().filter(|own| !own.withdrawn);
            let harms = row.solvent && occupied;
            row.class == class && !harms && own.is_some_and(|own| own.suits(material))
        };
        let fits = |row: &&Product| row.class == class && row.when.holds(facts) == Truth::True;
        let own = self.own.iter().find(suits);
        own.or_else(|| self.base.products.iter().find(fits))
    }
}

impl<'a> From<&'a KnowledgeBase> for Products<'a> {
    fn from(base: &'a KnowledgeBase) -> Self {
        Self { base, own: &[] }
    }
}

impl Product {
    /// Whether its sheet says that it is made for this floor, which is wood: a tenant's own product says so by the
    /// materials that it suits.
    pub fn is_for_wood(&self, material: &Material) -> bool {
        match &self.own {
            Some(own) => material.wood && own.suits(&material.key),
            None => self.for_wood,
        }
    }

    /// Whether all its coats run the same way on this floor: a tenant's own on wood does.
    pub fn runs_one_way(&self, facts: &Facts<'_>) -> bool {
        let on_wood = facts.get(Fact::MaterialWood) == Value::Flag(true);
        self.same_direction || (self.own.is_some() && on_wood)
    }

    /// Its pH as it is supplied.
    pub fn ph_supplied(&self) -> f64 {
        self.ph_undiluted.unwrap_or(self.ph_in_use)
    }

    /// Whether it stays on the floor or in its pores: what is laid by coverage does, what is laid by dose is picked up.
    pub const fn stays_on_floor(&self) -> bool {
        self.coverage_first.is_some()
    }

    /// Whether it may be used where a step asks for this class.
    pub fn serves(&self, class: &str) -> bool {
        self.class == class || self.also.iter().any(|other| other == class)
    }

    /// Whether it is used no more.
    pub fn is_withdrawn(&self) -> bool {
        self.own.as_ref().is_some_and(|own| own.withdrawn)
    }
}

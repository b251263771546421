//! What the planner reckons with of alkali, acid, vapour and slurry: film left by a pick-up, limits of pH, limits of air.

use serde::Deserialize;

use super::{Chemical, KnowledgeBase, Product, evidence::Grade};

/// How alkali is rinsed off.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RinsingFigures {
    /// Solutions above this pH leave alkali that has to be taken off.
    pub alkaline_ph: f64,
    /// The pH of the wet floor that rinsing has to reach.
    pub target_ph: f64,
    /// Film in mL/m² that a pick-up leaves on a smooth floor.
    pub film_left_ml_m2: f64,
    /// The same on a floor that is not smooth: studded, gritty, with joints.
    pub film_left_rough_ml_m2: f64,
    /// Clean water in mL/m² of a rinse that no step of the plan describes.
    pub rinse_ml_m2: f64,
    /// Alkalinity of the tap water in mg/L of calcium carbonate where nobody told it.
    pub alkalinity_mg_l: f64,
    /// Where the figures come from.
    pub source: String,
    /// How far they can be trusted.
    pub grade: Grade,
}

/// Between which pH something holds, with its source.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PhLimits {
    /// The lower one.
    pub least: f64,
    /// The upper one.
    pub most: f64,
    /// Where they come from.
    pub source: String,
    /// How far they can be trusted.
    pub grade: Grade,
}

/// What products of some classes give off into the air, and how much of it people may breathe.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Vapour {
    /// The classes of products.
    pub classes: Vec<String>,
    /// Whether it is of the solvent-based ones among them; all of them where it is not said.
    pub solvent: Option<bool>,
    /// The share of the volatile organic compounds that goes into the air.
    pub share: f64,
    /// In how many hours it does.
    pub hours: f64,
    /// What the air may hold of it, in mg/m³, over a working day.
    pub limit_mg_m3: f64,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

/// How much of volatile organic compounds a coating may hold by law.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct VocLimit {
    /// The classes of products.
    pub classes: Vec<String>,
    /// Whether it is of the solvent-based ones among them or of the others.
    pub solvent: bool,
    /// The countries, ISO 3166.
    pub countries: Vec<String>,
    /// In g per litre, ready to use.
    pub limit_g_l: f64,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

impl Vapour {
    /// What a product gives off, with its content in g per litre as sold: its own, else the middle of its class.
    pub(crate) fn of<'k>(base: &'k KnowledgeBase, product: &Product) -> Option<(&'k Self, f64)> {
        // No limit for a solvent tells whether the air is fit to breathe where isocyanate is in it.
        if product.contains.contains(&Chemical::Isocyanate) {
            return None;
        }
        let row = base.vapours.iter().find(|row| {
            row.classes.contains(&product.class)
                && row.solvent.is_none_or(|solvent| solvent == product.solvent)
        })?;
        Some((row, base.voc_content(product)))
    }
}

impl KnowledgeBase {
    /// Volatile organic compounds in g per litre of a product as sold: its own figure, else the middle of its class, and
    /// none where products of its class hold none.
    pub(crate) fn voc_content(&self, product: &Product) -> f64 {
        let class = self.product_class(&product.class);
        let usual = class.and_then(|class| class.voc_g_l);
        let usual = || usual.map_or(0.0, |[least, most]| least.midpoint(most));
        product.voc_g_l.unwrap_or_else(usual)
    }

    /// The legal limit on what a coating holds in a country.
    pub(crate) fn voc_limit(&self, product: &Product, country: &str) -> Option<&VocLimit> {
        self.voc_limits.iter().find(|row| {
            row.classes.contains(&product.class)
                && row.solvent == product.solvent
                && row.countries.iter().any(|code| code == country)
        })
    }
}

/// What is out of order among these rows.
pub(super) fn faults(base: &KnowledgeBase) -> Vec<String> {
    let mut found = Vec::new();
    let mut need = |holds: bool, what: String| {
        if !holds {
            found.push(what);
        }
    };
    for (name, row) in [("corrosive", &base.corrosive), ("drain", &base.drain)] {
        let in_order = 0.0 <= row.least && row.least < row.most && row.most <= 14.0;
        need(
            in_order,
            format!("{name}: least below most, within 0 to 14"),
        );
    }
    let rinsing = &base.rinsing;
    let within = (1.0..=500.0).contains(&rinsing.film_left_ml_m2)
        && (rinsing.film_left_ml_m2..=500.0).contains(&rinsing.film_left_rough_ml_m2)
        && (1.0..=10_000.0).contains(&rinsing.rinse_ml_m2)
        && (4.5..=11.0).contains(&rinsing.target_ph)
        && rinsing.target_ph <= rinsing.alkaline_ph
        && (0.0..=5_000.0).contains(&rinsing.alkalinity_mg_l);
    need(within, "rinsing: a figure outside its range".to_owned());
    let known = |classes: &[String]| {
        let is_class = |key: &String| base.product_classes.iter().any(|row| row.key == *key);
        classes.iter().all(is_class)
    };
    for row in &base.vapours {
        let positive = row.share > 0.0
            && row.share <= 1.0
            && (0.01..=1_000.0).contains(&row.hours)
            && row.limit_mg_m3 > 0.0;
        need(
            positive && known(&row.classes),
            format!(
                "vapour {:?}: figures above zero, a share of at most one, known classes",
                row.classes
            ),
        );
    }
    for row in &base.voc_limits {
        let is_code = |code: &String| {
            code.len() == 2 && code.bytes().all(|letter| letter.is_ascii_uppercase())
        };
        need(
            row.limit_g_l > 0.0 && known(&row.classes) && row.countries.iter().all(is_code),
            format!(
                "voc_limit {:?}: above zero, known classes, countries of two letters",
                row.classes
            ),
        );
    }
    found
}

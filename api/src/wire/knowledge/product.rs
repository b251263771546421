//! Products on the wire, with the figures of their data sheets.

use domain::{
    knowledge::{Coverage, Pack, Product},
    quantity::float,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::lists;

/// A class of product with the figures of its data sheet.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ProductView {
    /// The word that names it everywhere.
    #[schema(max_length = 60)]
    key: &'static str,
    /// What it is used as: stripper, seal, polish and so on.
    #[schema(max_length = 60)]
    class: &'static str,
    /// Other classes that a wish may name it for.
    #[schema(max_items = 20)]
    also: &'static [String],
    /// Its name for people.
    #[schema(max_length = 200)]
    name: &'static str,
    /// On which floors it is chosen for its class; empty for all.
    #[schema(max_length = 1000)]
    when: &'static str,
    /// Parts of water to one part of concentrate; 0 is undiluted.
    #[schema(minimum = 0)]
    dilution: f64,
    /// Working solution in mL per m², for what is not laid in coats.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    dose_ml_m2: Option<f64>,
    /// Coverage of the first coat.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    coverage_first: Option<CoverageView>,
    /// Coverage of later coats.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    coverage_next: Option<CoverageView>,
    /// Share of water in the wet film, for what is laid in coats.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 1)]
    water_share: Option<f64>,
    /// Minutes from one coat to the next, by the label.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    coat_wait_min: Option<i64>,
    /// Minutes from the last coat to light foot traffic, by the label.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    foot_wait_min: Option<i64>,
    /// pH as used.
    #[schema(minimum = 0, maximum = 14)]
    ph_in_use: f64,
    /// Whether it is solvent-based.
    solvent: bool,
    /// Whether its sheet says that it is made for wood.
    for_wood: bool,
    /// Volatile organic compounds in g per litre as sold, where it is a coating.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    voc_g_l: Option<f64>,
    /// What the crew wears to handle it.
    #[schema(max_items = 20)]
    ppe: &'static [String],
    /// The packs that it is sold in.
    #[schema(max_items = 50)]
    packs: Vec<PackView>,
    /// Where the row comes from.
    #[schema(max_length = 500)]
    source: &'static str,
    /// How far it can be trusted: published, common_practice or from_memory.
    #[schema(max_length = 20)]
    grade: &'static str,
}

impl From<&'static Product> for ProductView {
    fn from(row: &'static Product) -> Self {
        Self {
            key: &row.key,
            class: &row.class,
            also: &row.also,
            name: &row.name,
            when: row.when.text(),
            dilution: row.dilution,
            dose_ml_m2: row.dose_ml_m2,
            coverage_first: row.coverage_first.as_ref().map(Into::into),
            coverage_next: row.coverage_next.as_ref().map(Into::into),
            water_share: row.water_share,
            coat_wait_min: row.coat_wait_min,
            foot_wait_min: row.foot_wait_min,
            ph_in_use: row.ph_in_use,
            solvent: row.solvent,
            for_wood: row.for_wood,
            voc_g_l: row.voc_g_l,
            ppe: &row.ppe,
            packs: row.packs.iter().map(Into::into).collect(),
            source: &row.source,
            grade: row.grade.word(),
        }
    }
}

/// Area in m² that a litre covers, by porosity of the floor.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct CoverageView {
    /// On a floor that drinks nothing.
    #[schema(minimum = 0)]
    none: f64,
    /// On a floor of low porosity.
    #[schema(minimum = 0)]
    low: f64,
    /// On a floor of medium porosity.
    #[schema(minimum = 0)]
    medium: f64,
    /// On a floor of high porosity.
    #[schema(minimum = 0)]
    high: f64,
}

impl From<&Coverage> for CoverageView {
    fn from(row: &Coverage) -> Self {
        Self {
            none: row.none,
            low: row.low,
            medium: row.medium,
            high: row.high,
        }
    }
}

/// A pack that a product is sold in.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[schema(as = ProductPackView)]
pub(crate) struct PackView {
    /// Its size in litres.
    #[schema(minimum = 0)]
    size_l: f64,
    /// An example price in units of the site's own currency.
    #[schema(max_length = 20)]
    example_price: &'static str,
}

impl From<&'static Pack> for PackView {
    fn from(row: &'static Pack) -> Self {
        Self {
            size_l: float(row.size_ml) / 1e3,
            example_price: &row.price,
        }
    }
}

lists! {
    /// All products.
    ProductList of ProductView;
}

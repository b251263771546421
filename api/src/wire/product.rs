//! Tenants' own products on the wire, with the figures of their data sheets.

mod read;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{patch::patch_of, words::Chemical};

/// A product of the tenant's own, by its data sheet.
///
/// A class that is laid in coats needs coverage, share of water and waits; every other class needs a dose.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "key": "night_polish", "class": "polish", "name": "Hard-wearing emulsion polish, 25 % solids",
    "suits": ["vinyl_composition_tile"],
    "coverage_first": {"none": 60, "low": 55, "medium": 40, "high": 25},
    "coverage_next": {"none": 60, "low": 60, "medium": 50, "high": 40},
    "water_share": 0.75, "coat_wait_min": 30, "foot_wait_min": 90, "apply_min_c": 12, "humidity_max_pct": 80,
    "ph_in_use": 8.2,
    "ppe": ["gloves"], "packs": [{"size_l": 10, "example_price": "48.00"}],
    "sheet": {"reference": "TDS 114", "edition": "2026-02"},
}))]
pub(crate) struct ProductRequest {
    /// The word that names it everywhere; it cannot be changed, and no product of the knowledge base has it.
    #[schema(min_length = 2, max_length = 60, pattern = "^[a-z][a-z0-9_]*$")]
    pub(crate) key: String,
    /// What it is used as: a class of the knowledge base's products. It cannot be changed.
    #[schema(min_length = 1, max_length = 60, pattern = "^[a-z][a-z0-9_]*$")]
    pub(crate) class: String,
    /// Its name for people.
    #[schema(min_length = 1, max_length = 200, pattern = r"\S")]
    pub(crate) name: String,
    /// The keys of the materials that it suits by its data sheet: on these it comes before the knowledge base's.
    #[schema(min_items = 1, max_items = 60, max_length = 60)]
    pub(crate) suits: Vec<String>,
    /// Parts of water to one part of concentrate; 0 is undiluted.
    #[serde(default)]
    #[schema(minimum = 0, maximum = 1000, default = 0)]
    pub(crate) dilution: f64,
    /// Working solution in mL per m², for what is not laid in coats.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0.1, maximum = 2000)]
    pub(crate) dose_ml_m2: Option<f64>,
    /// Coverage of the first coat.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) coverage_first: Option<CoverageRequest>,
    /// Coverage of later coats.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) coverage_next: Option<CoverageRequest>,
    /// Share of water in the wet film, for what is laid in coats.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 1)]
    pub(crate) water_share: Option<f64>,
    /// Volatile organic compounds in g per litre as sold; without it the middle of its class counts for the air of the room.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 1500)]
    pub(crate) voc_g_l: Option<f64>,
    /// Minutes from one coat to the next.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1, maximum = 10_080)]
    pub(crate) coat_wait_min: Option<i64>,
    /// Minutes from the last coat to light foot traffic.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1, maximum = 20_160)]
    pub(crate) foot_wait_min: Option<i64>,
    /// The coldest air and floor that it may be laid in, in °C; 10 without it. For what is laid in coats.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = -10, maximum = 40)]
    pub(crate) apply_min_c: Option<f64>,
    /// The warmest air and floor that it may be laid in, in °C; 32.2 without it. For what is laid in coats.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 60)]
    pub(crate) apply_max_c: Option<f64>,
    /// The most humid air that it may be laid in, in %; 85 without it. For what is laid in coats.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1, maximum = 100)]
    pub(crate) humidity_max_pct: Option<f64>,
    /// pH as used.
    #[schema(minimum = 0, maximum = 14)]
    pub(crate) ph_in_use: f64,
    /// pH as supplied, where it is another: it decides whether the crew is warned of a corrosive product.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 14)]
    pub(crate) ph_undiluted: Option<f64>,
    /// Whether it is solvent-based.
    #[serde(default)]
    #[schema(default = false)]
    pub(crate) solvent: bool,
    /// What in it reacts with other products, from its data sheet: it must not meet what it reacts with.
    #[serde(default)]
    #[schema(max_items = 12)]
    pub(crate) contains: Vec<Chemical>,
    /// What the crew wears to handle it.
    #[serde(default)]
    #[schema(max_items = 20, max_length = 100)]
    pub(crate) ppe: Vec<String>,
    /// The packs that it is sold in; a site's rate card may name other ones with their prices.
    #[schema(min_items = 1, max_items = 50)]
    pub(crate) packs: Vec<ProductPackRequest>,
    /// Where the figures stand.
    pub(crate) sheet: SheetRequest,
    /// Whether it is used no more: plans do not choose it, what names it still knows it.
    #[serde(default)]
    #[schema(default = false)]
    pub(crate) withdrawn: bool,
}

patch_of! {
    /// A change of a product.
    ProductPatchRequest, ProductRequest, {"foot_wait_min": 120, "sheet": {"edition": "2026-09"}}
}

/// Area in m² that a litre covers, by porosity of the floor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = ProductCoverage)]
pub(crate) struct CoverageRequest {
    /// On a floor that drinks nothing.
    #[schema(minimum = 1, maximum = 200)]
    pub(crate) none: f64,
    /// On a floor of low porosity.
    #[schema(minimum = 1, maximum = 200)]
    pub(crate) low: f64,
    /// On a floor of medium porosity.
    #[schema(minimum = 1, maximum = 200)]
    pub(crate) medium: f64,
    /// On a floor of high porosity.
    #[schema(minimum = 1, maximum = 200)]
    pub(crate) high: f64,
}

/// A pack that a product is sold in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = ProductPack)]
pub(crate) struct ProductPackRequest {
    /// Its size in litres, kept to the millilitre.
    #[schema(minimum = 0.05, maximum = 1000)]
    pub(crate) size_l: f64,
    /// What it costs in units of a site's own currency as long as the site's rate card names no packs of the product.
    #[schema(
        min_length = 1,
        max_length = 14,
        pattern = "^(0|[1-9][0-9]{0,7})([.][0-9]{1,4})?$"
    )]
    pub(crate) example_price: String,
}

/// A data sheet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = ProductSheet)]
pub(crate) struct SheetRequest {
    /// Its number or address.
    #[schema(min_length = 1, max_length = 300, pattern = r"\S")]
    pub(crate) reference: String,
    /// Which edition of it.
    #[schema(min_length = 1, max_length = 60, pattern = r"\S")]
    pub(crate) edition: String,
}

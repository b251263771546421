//! Products on the wire, with the figures of their data sheets.

use chrono::{DateTime, Utc};
use domain::{
    knowledge::{Coverage, Pack, Product},
    quantity::float,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::lists;
use crate::wire::{product::SheetRequest, time};

/// A product with the figures of its data sheet: of the knowledge base, or the tenant's own.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ProductView {
    /// The word that names it everywhere.
    #[schema(max_length = 60)]
    key: String,
    /// What it is used as: stripper, seal, polish and so on.
    #[schema(max_length = 60)]
    class: String,
    /// Other classes that a wish may name it for.
    #[schema(max_items = 20)]
    also: Vec<String>,
    /// Its name for people.
    #[schema(max_length = 200)]
    name: String,
    /// Whose it is: `built_in` for the knowledge base's, `tenant` for your own.
    #[schema(max_length = 8, pattern = "^(built_in|tenant)$")]
    origin: String,
    /// Of your own: grows by one with each change, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1)]
    version: Option<i64>,
    /// Of your own: the materials that it suits by its data sheet.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_items = 60)]
    suits: Option<Vec<String>>,
    /// Of your own: whether it is used no more.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    withdrawn: Option<bool>,
    /// Of your own: where the figures stand.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    sheet: Option<SheetRequest>,
    /// Of your own: when it was registered.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = DateTime, max_length = 24)]
    created_at: Option<String>,
    /// Of your own: when it was last changed.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = DateTime, max_length = 24)]
    updated_at: Option<String>,
    /// On which floors it is chosen for its class, if none of your own suits them; empty for all.
    #[schema(max_length = 1000)]
    when: String,
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
    /// The coldest air and floor that it is laid in, in °C, where its sheet says so.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    apply_min_c: Option<f64>,
    /// The warmest air and floor that it is laid in, in °C, where its sheet says so.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    apply_max_c: Option<f64>,
    /// The most humid air that it is laid in, in %, where its sheet says so.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 100)]
    humidity_max_pct: Option<f64>,
    /// pH as used.
    #[schema(minimum = 0, maximum = 14)]
    ph_in_use: f64,
    /// pH as supplied, where it is another.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 14)]
    ph_undiluted: Option<f64>,
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
    ppe: Vec<String>,
    /// The packs that it is sold in.
    #[schema(max_items = 50)]
    packs: Vec<PackView>,
    /// Where the row comes from.
    #[schema(max_length = 500)]
    source: String,
    /// How far it can be trusted: published, as_quoted, common_practice or from_memory.
    #[schema(max_length = 20)]
    grade: String,
}

/// When a product of a tenant's own was registered and last changed, and its data sheet.
#[derive(Debug, Clone)]
pub(crate) struct OwnHead {
    /// Where the figures stand.
    pub(crate) sheet: SheetRequest,
    /// When it was registered.
    pub(crate) created_at: DateTime<Utc>,
    /// When it was last changed.
    pub(crate) updated_at: DateTime<Utc>,
}

impl ProductView {
    /// A product of a tenant's own.
    pub(crate) fn own(row: &Product, head: OwnHead) -> Self {
        Self {
            sheet: Some(head.sheet),
            created_at: Some(time::write(head.created_at)),
            updated_at: Some(time::write(head.updated_at)),
            ..Self::from(row)
        }
    }
}

impl From<&Product> for ProductView {
    fn from(row: &Product) -> Self {
        let own = row.own.as_ref();
        Self {
            key: row.key.clone(),
            class: row.class.clone(),
            also: row.also.clone(),
            name: row.name.clone(),
            origin: own.map_or("built_in", |_own| "tenant").to_owned(),
            version: own.map(|own| own.version),
            suits: own.map(|own| own.suits.clone()),
            withdrawn: own.map(|own| own.withdrawn),
            sheet: None,
            created_at: None,
            updated_at: None,
            when: row.when.text().to_owned(),
            dilution: row.dilution,
            dose_ml_m2: row.dose_ml_m2,
            coverage_first: row.coverage_first.as_ref().map(Into::into),
            coverage_next: row.coverage_next.as_ref().map(Into::into),
            water_share: row.water_share,
            coat_wait_min: row.coat_wait_min,
            foot_wait_min: row.foot_wait_min,
            apply_min_c: row.apply_min_c,
            apply_max_c: row.apply_max_c,
            humidity_max_pct: row.humidity_max_pct,
            ph_in_use: row.ph_in_use,
            ph_undiluted: row.ph_undiluted,
            solvent: row.solvent,
            for_wood: row.for_wood,
            voc_g_l: row.voc_g_l,
            ppe: row.ppe.clone(),
            packs: row.packs.iter().map(Into::into).collect(),
            source: row.source.clone(),
            grade: row.grade.word().to_owned(),
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
    example_price: String,
}

impl From<&Pack> for PackView {
    fn from(row: &Pack) -> Self {
        Self {
            size_l: float(row.size_ml) / 1e3,
            example_price: row.price.clone(),
        }
    }
}

lists! {
    /// All products, the tenant's own first.
    ProductList of ProductView;
}

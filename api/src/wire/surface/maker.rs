//! The instruction of a floor's maker on the wire.

use chrono::NaiveDate;
use domain::{quantity::Length, survey};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::wire::{
    wish::WaitsRequest,
    words::{MakerFinish, Wetness},
};

/// What the maker of a floor forbids and demands, as somebody read it. What it does not speak of is left out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "reference": "Care guide for sheet flooring, edition 4, section 3", "read_on": "2026-02-11",
    "forbidden_processes": ["burnish_polish"], "wettest": "wet", "ph_max": 10, "pads": ["white", "red"],
    "finish": "polish", "polish_coats": 3, "waits": {"to_wet_clean_min": 4320},
}))]
pub(crate) struct MakerInstruction {
    /// Which document, and where in it; a finding names it.
    #[schema(min_length = 1, max_length = 300, pattern = r"\S")]
    pub(crate) reference: String,
    /// The day on which it was read.
    #[schema(value_type = String, format = Date, max_length = 10, pattern = "^20[0-9]{2}-[0-9]{2}-[0-9]{2}$")]
    pub(crate) read_on: NaiveDate,
    /// The keys of processes that it forbids.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_items = 60, max_length = 60)]
    pub(crate) forbidden_processes: Option<Vec<String>>,
    /// The classes of products that it forbids.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_items = 60, max_length = 60)]
    pub(crate) forbidden_product_classes: Option<Vec<String>>,
    /// The wettest that the floor may get.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) wettest: Option<Wetness>,
    /// The lowest pH of a solution as used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 7)]
    pub(crate) ph_min: Option<f64>,
    /// The highest pH of a solution as used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 7, maximum = 14)]
    pub(crate) ph_max: Option<f64>,
    /// The only pads that it allows, by key.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_items = 20, max_length = 60)]
    pub(crate) pads: Option<Vec<String>>,
    /// The products that it demands for their classes, by key: plans choose them before others.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_items = 60, max_length = 60)]
    pub(crate) products: Option<Vec<String>>,
    /// What it wants on the floor.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) finish: Option<MakerFinish>,
    /// Coats of polish of a new film.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1, maximum = 12)]
    pub(crate) polish_coats: Option<i64>,
    /// Coats of seal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 6)]
    pub(crate) seal_coats: Option<i64>,
    /// How far early coats stop short of the skirting, in mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 500)]
    pub(crate) edge_gap_mm: Option<i64>,
    /// The shortest waits that it allows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) waits: Option<WaitsRequest>,
}

impl From<&MakerInstruction> for survey::MakerInstruction {
    fn from(read: &MakerInstruction) -> Self {
        let list = |keys: &Option<Vec<String>>| keys.clone().unwrap_or_default();
        Self {
            forbidden_processes: list(&read.forbidden_processes),
            forbidden_classes: list(&read.forbidden_product_classes),
            wettest: read.wettest.map(Into::into),
            ph_min: read.ph_min,
            ph_max: read.ph_max,
            pads: list(&read.pads),
            products: list(&read.products),
            finish: read.finish.map(Into::into),
            polish_coats: read.polish_coats,
            seal_coats: read.seal_coats,
            edge_gap: read.edge_gap_mm.map(Length::from_mm),
            waits: read.waits.as_ref().map(Into::into).unwrap_or_default(),
            ..Self::new(read.reference.clone(), read.read_on)
        }
    }
}

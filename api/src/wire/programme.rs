//! Programmes over years on the wire: what is asked.

mod passage;
mod reason;
mod told;
mod view;

pub(crate) use told::Head;
pub(crate) use view::ProgrammesView;

use domain::{id::SurfaceId, knowledge::GlossFigures, programme::wear::Use};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::body::Faults;

/// The real discount rate in % a year where nobody says.
const USUAL_RATE_PCT: f64 = 3.5;

/// Floors of one site to compare programmes for.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "site_id": "sit_01890a5d-ac96-774b-bcce-b302099a8057",
    "surfaces": [{"surface_id": "srf_01890a5d-ac96-774b-bcce-b302099a8057"}],
    "months": 60
}))]
pub(crate) struct ProgrammeRequest {
    /// The site.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    pub(crate) site_id: String,
    /// Its floors, up to 20.
    #[schema(min_items = 1, max_items = 20)]
    pub(crate) surfaces: Vec<ProgrammeSurfaceRequest>,
    /// For how many months.
    #[schema(minimum = 6, maximum = 120)]
    pub(crate) months: u32,
    /// The real discount rate in % a year; 3.5 if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 30)]
    pub(crate) discount_rate_pct: Option<f64>,
    /// Metres of entrance matting that people walk before they reach these floors; well matted if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 50)]
    pub(crate) matting_m: Option<f64>,
    /// The gloss that is asked for, in GU at 60°; that of the knowledge base if left out. It counts on polished floors only: of other films
    /// gloss is not followed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1, maximum = 100)]
    pub(crate) target_gloss_gu: Option<f64>,
    /// In how many of 100 months a floor may begin below that gloss, or worn through; that of the knowledge base if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 100)]
    pub(crate) below_share_pct: Option<f64>,
    /// Hours that the crew has in a month; months that take more are marked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 100_000)]
    pub(crate) crew_hours_per_month: Option<f64>,
}

/// A floor, with what is told of its use.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ProgrammeSurfaceRequest {
    /// The surface.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    pub(crate) surface_id: String,
    /// People who walk its lane in a day; the mean of the latest readings of footfall if left out, else by its traffic.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1, maximum = 1_000_000)]
    pub(crate) passes_per_day: Option<f64>,
    /// Metres of matting before this floor, where they differ.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 50)]
    pub(crate) matting_m: Option<f64>,
    /// The gloss that is asked for on this floor, where it differs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1, maximum = 100)]
    pub(crate) target_gloss_gu: Option<f64>,
}

impl ProgrammeRequest {
    /// The real discount rate in % a year.
    pub(crate) fn discount_rate(&self) -> f64 {
        self.discount_rate_pct.unwrap_or(USUAL_RATE_PCT)
    }

    /// The surfaces, as far as their ids can be read.
    pub(crate) fn surface_ids(&self) -> Vec<Option<SurfaceId>> {
        let ids = self.surfaces.iter();
        ids.map(|floor| floor.surface_id.parse().ok()).collect()
    }

    /// What is told of the use of each.
    pub(crate) fn uses(&self) -> Vec<Use> {
        let told = |floor: &ProgrammeSurfaceRequest| Use {
            passes_per_day: floor.passes_per_day,
            matting_m: floor.matting_m.or(self.matting_m),
            target_gu: floor.target_gloss_gu.or(self.target_gloss_gu),
        };
        self.surfaces.iter().map(told).collect()
    }

    /// Holds it to what the schema cannot say: a gloss that upkeep can reach.
    pub(crate) fn check(&self, gloss: &GlossFigures, faults: &mut Faults) {
        let mut check = |place: String, target: Option<f64>| {
            if target.is_some_and(|target| target <= gloss.worn_gu || target >= gloss.new_gu) {
                let detail = format!(
                    "Ask for more than {} and less than {} GU: between a polish that traffic has dulled and one just laid.",
                    gloss.worn_gu, gloss.new_gu
                );
                faults.push(place, "out_of_range", detail);
            }
        };
        check("#/target_gloss_gu".to_owned(), self.target_gloss_gu);
        for (index, floor) in self.surfaces.iter().enumerate() {
            let place = format!("#/surfaces/{index}/target_gloss_gu");
            check(place, floor.target_gloss_gu);
        }
    }
}

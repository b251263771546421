//! What is arranged for the work, on the wire.

use domain::{quantity::whole, survey::Arrangements};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::wire::words::{Cordon, Detection, DustBags, Rags, Stock, Sweeping, Zone};

/// What is arranged for the work, as far as somebody has said: what is not said is warned of, not assumed.
#[derive(Debug, Clone, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"cordon": "barrier", "mop_zone": "kitchen", "solution_c": 40}))]
pub(crate) struct ArrangementsRequest {
    /// How people are kept off the wet floor.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) cordon: Option<Cordon>,
    /// What becomes of smoke detectors while dust is made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) detection: Option<Detection>,
    /// Where rags with oil go.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) rags: Option<Rags>,
    /// Where dust bags of sanders are over night.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) dust_bags: Option<DustBags>,
    /// In what state the products are.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) stock: Option<Stock>,
    /// What the dust is swept up with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) sweeping: Option<Sweeping>,
    /// The colour zone of the mops and cloths.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) mop_zone: Option<Zone>,
    /// Temperature of the solutions in °C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 100)]
    pub(crate) solution_c: Option<f64>,
    /// The steepest ramp in % that the machine in hand is rated for, by its plate; kept to a tenth, rounded down.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 50)]
    pub(crate) machine_gradient_pct: Option<f64>,
}

impl From<&ArrangementsRequest> for Arrangements {
    fn from(said: &ArrangementsRequest) -> Self {
        Self {
            cordon: said.cordon.map(Into::into),
            detection: said.detection.map(Into::into),
            rags: said.rags.map(Into::into),
            dust_bags: said.dust_bags.map(Into::into),
            stock: said.stock.map(Into::into),
            sweeping: said.sweeping.map(Into::into),
            mop_zone: said.mop_zone.map(Into::into),
            // Judged by whole degrees, rounded up: hotter water is what does harm.
            machine_gradient_tenths: said
                .machine_gradient_pct
                .and_then(|pct| whole((pct * 10.0).floor())),
            solution_c: said.solution_c.and_then(|c| whole(c.ceil())),
        }
    }
}

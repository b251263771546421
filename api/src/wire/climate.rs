//! The air over a floor, on the wire.

use domain::{
    knowledge::ClimateDefaults,
    survey::{Climate, OutdoorAir},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// The air moves this fast where nobody says anything, in m/s: still air indoors.
const STILL_AIR_M_S: f64 = 0.1;
/// A floor is this much colder than the air where nobody has measured it, in K.
const FLOOR_BELOW_AIR_K: f64 = 1.0;

/// The air over a floor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = Climate, example = json!({"air_c": 20, "floor_c": 18.5, "humidity_pct": 55, "air_speed_m_s": 0.1}))]
pub(crate) struct ClimateRequest {
    /// Air temperature in °C.
    #[schema(minimum = -10, maximum = 50)]
    pub(crate) air_c: f64,
    /// Floor temperature in °C; without it the floor is taken as 1 K colder than the air.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = -15, maximum = 60)]
    pub(crate) floor_c: Option<f64>,
    /// Relative humidity in %.
    #[schema(minimum = 1, maximum = 100)]
    pub(crate) humidity_pct: f64,
    /// Air speed over the floor in m/s; 0.1 without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 10)]
    pub(crate) air_speed_m_s: Option<f64>,
    /// The air outdoors, which comes in as the air of the room is changed; as moist as that of the room without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) outdoor: Option<OutdoorRequest>,
}

/// The air outdoors.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = OutdoorAir, example = json!({"air_c": 4, "humidity_pct": 85}))]
pub(crate) struct OutdoorRequest {
    /// Its temperature in °C.
    #[schema(minimum = -20, maximum = 50)]
    pub(crate) air_c: f64,
    /// Its relative humidity in %.
    #[schema(minimum = 1, maximum = 100)]
    pub(crate) humidity_pct: f64,
}

impl ClimateRequest {
    /// The climate, with what was not said filled in.
    pub(crate) fn climate(&self) -> Climate {
        Climate {
            air_c: self.air_c,
            floor_c: self.floor_c.unwrap_or(self.air_c - FLOOR_BELOW_AIR_K),
            humidity_pct: self.humidity_pct,
            air_speed_m_s: self.air_speed_m_s.unwrap_or(STILL_AIR_M_S),
            outdoor: self.outdoor.as_ref().map(|outdoor| OutdoorAir {
                air_c: outdoor.air_c,
                humidity_pct: outdoor.humidity_pct,
            }),
        }
    }
}

impl From<Climate> for ClimateRequest {
    fn from(climate: Climate) -> Self {
        Self {
            air_c: climate.air_c,
            floor_c: Some(climate.floor_c),
            humidity_pct: climate.humidity_pct,
            air_speed_m_s: Some(climate.air_speed_m_s),
            outdoor: climate.outdoor.map(|outdoor| OutdoorRequest {
                air_c: outdoor.air_c,
                humidity_pct: outdoor.humidity_pct,
            }),
        }
    }
}

/// The climate of a site that has said nothing.
impl From<&ClimateDefaults> for ClimateRequest {
    fn from(row: &ClimateDefaults) -> Self {
        Self {
            air_c: row.air_c,
            floor_c: Some(row.floor_c),
            humidity_pct: row.humidity_pct,
            air_speed_m_s: Some(row.air_speed_m_s),
            outdoor: None,
        }
    }
}

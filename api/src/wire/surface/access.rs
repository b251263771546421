//! When a floor may be closed, what a crew finds there to work with, and what took its place.

use chrono::NaiveDate;
use domain::survey::{self, Surroundings};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::SurfaceRequest;
use crate::wire::{
    external::External,
    words::{SlurryRoute, Weekday},
};

/// Hours on some days of the week in which a floor may be closed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"days": ["friday", "saturday"], "from": "22:00", "to": "06:00"}))]
pub(crate) struct AccessWindow {
    /// The days on which it opens.
    #[schema(min_items = 1, max_items = 7)]
    pub(crate) days: Vec<Weekday>,
    /// When it opens, by the site's clock.
    #[schema(
        min_length = 5,
        max_length = 5,
        pattern = "^([01][0-9]|2[0-3]):[0-5][0-9]$"
    )]
    pub(crate) from: String,
    /// When it closes; on the next day if that is not later than `from`.
    #[schema(
        min_length = 5,
        max_length = 5,
        pattern = "^([01][0-9]|2[0-3]):[0-5][0-9]$"
    )]
    pub(crate) to: String,
}

impl From<&AccessWindow> for survey::AccessWindow {
    fn from(window: &AccessWindow) -> Self {
        Self {
            days: window.days.iter().map(|day| (*day).into()).collect(),
            from_min: minutes(&window.from),
            to_min: minutes(&window.to),
        }
    }
}

/// Minutes after midnight; the schema has seen to the form.
fn minutes(clock: &str) -> i64 {
    let (hours, minutes) = clock.split_once(':').unwrap_or_default();
    let number = |text: &str| text.parse::<i64>().unwrap_or_default();
    number(hours)
        .saturating_mul(60)
        .saturating_add(number(minutes))
}

/// What a crew finds at a floor to work with.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = SurfaceServices, example = json!({
    "water": {"present": true, "distance_m": 12}, "power": {"present": true, "rcd": true},
    "drain": {"present": false}, "slurry_to": "collect",
}))]
pub(crate) struct Services {
    /// Clean water.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) water: Option<WaterPoint>,
    /// Sockets.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) power: Option<PowerPoint>,
    /// A drain or sluice.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) drain: Option<ServicePoint>,
    /// Where slurry and spent solution may go, by consent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) slurry_to: Option<SlurryRoute>,
}

/// Where something is to be had.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ServicePoint {
    /// Whether there is any within reach.
    pub(crate) present: bool,
    /// How far it is, in m.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 1000)]
    pub(crate) distance_m: Option<f64>,
}

/// Where water is drawn.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct WaterPoint {
    /// Whether there is any within reach.
    pub(crate) present: bool,
    /// How far it is, in m.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 1000)]
    pub(crate) distance_m: Option<f64>,
    /// Alkalinity of the water in mg/L of calcium carbonate, as its supplier tells it; 100 without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 2000)]
    pub(crate) alkalinity_mg_l: Option<f64>,
}

/// Where a machine is plugged in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct PowerPoint {
    /// Whether there is any within reach.
    pub(crate) present: bool,
    /// How far it is, in m.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 1000)]
    pub(crate) distance_m: Option<f64>,
    /// Whether a residual-current device guards it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) rcd: Option<bool>,
}

/// The surface that took the place of another, by its id or by its name in another system. Answers have the id.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = SurfaceReplacedBy, example = json!({
    "surface_id": "srf_0193e8a0-0000-7000-8000-000000000002", "on": "2026-11-25",
}))]
pub(crate) struct ReplacedBy {
    /// The surface; of the same site.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    pub(crate) surface_id: Option<String>,
    /// Its name in another system, in place of `surface_id`; it must be registered already.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) external: Option<External>,
    /// From which day on, by the site's calendar.
    #[schema(value_type = String, format = Date, max_length = 10, pattern = "^20[0-9]{2}-[0-9]{2}-[0-9]{2}$")]
    pub(crate) on: NaiveDate,
}

impl SurfaceRequest {
    /// What is in, under and around the floor.
    pub(super) fn surroundings(&self) -> Surroundings {
        let services = self.services.as_ref();
        let power = services.and_then(|services| services.power.as_ref());
        let water = services.and_then(|services| services.water.as_ref());
        let room = self.room.as_ref();
        Surroundings {
            profile: self.profile.map(Into::into),
            joints: self.joints.map(Into::into),
            moisture_method: self.moisture_method.map(Into::into),
            ramp_gradient_pct: self.ramp_gradient_pct,
            ventilation: self.ventilation.map(Into::into),
            air_changes_per_h: room.and_then(|room| room.air_changes_per_h),
            ceiling_height_m: room.and_then(|room| room.ceiling_height_m),
            room_volume_m3: room.and_then(|room| room.volume_m3),
            water_alkalinity_mg_l: water.and_then(|point| point.alkalinity_mg_l),
            residue_ph: self.residue_ph,
            ignition_source: self.ignition_source,
            underfloor_heating: self.underfloor_heating.unwrap_or(false),
            floor_boxes: self.floor_boxes.unwrap_or(false),
            smoke_detection: self.smoke_detection.unwrap_or(false),
            route_bypass: self.route_bypass.unwrap_or(false),
            water: water.map(|point| point.present),
            power: power.map(|point| point.present),
            rcd: power.and_then(|point| point.rcd),
            slurry_to: services
                .and_then(|services| services.slurry_to)
                .map(Into::into),
        }
    }

    /// The weekly hours in which the floor may be closed.
    pub(super) fn access_windows(&self) -> Vec<survey::AccessWindow> {
        let windows = self.access_windows.iter().flatten();
        windows.map(Into::into).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::minutes;

    #[test]
    fn a_time_of_day_is_minutes_after_midnight() {
        assert_eq!(minutes("00:00"), 0);
        assert_eq!(minutes("22:05"), 22 * 60 + 5);
    }
}

//! The room over a floor, on the wire.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// The room over a floor: its air takes up the water and the vapour of the work.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = SurfaceRoom, example = json!({"ceiling_height_m": 2.7, "air_changes_per_h": 2}))]
pub(crate) struct RoomOver {
    /// Height of the ceiling in m; without it as is usual for `space`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1, maximum = 100)]
    pub(crate) ceiling_height_m: Option<f64>,
    /// Its volume in m³, where the floor is not all of it or the ceiling not level; else area times height.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1, maximum = 10_000_000)]
    pub(crate) volume_m3: Option<f64>,
    /// How often an hour its air is changed; without it as is usual for `ventilation`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 60)]
    pub(crate) air_changes_per_h: Option<f64>,
}

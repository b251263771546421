//! What is in, under and around a floor: its face and joints, the room, and what a crew finds there to work with.

use crate::words::words;

words! {
    /// The face of a floor.
    Profile {
        /// Even.
        Smooth "smooth",
        /// A pressed pattern.
        Embossed "embossed",
        /// Raised studs.
        Studded "studded",
        /// Grit in its face, for grip.
        Gritty "gritty",
    }
    /// The joints of a floor.
    Joints {
        /// None.
        Seamless "seamless",
        /// Welded.
        Welded "welded",
        /// Filled: grout, sealant.
        Filled "filled",
        /// Butted or clicked together, nothing in them.
        Open "open",
    }
    /// How the moisture of the substrate was read.
    MoistureMethod {
        /// A probe in a hole of the substrate.
        InSituProbe "in_situ_probe",
        /// A hood on the bare substrate.
        SurfaceHood "surface_hood",
        /// An electrical meter on its face.
        SurfaceMeter "surface_meter",
    }
    /// How the air of the room is changed.
    Ventilation {
        /// Not at all.
        Closed "closed",
        /// By windows and doors.
        Natural "natural",
        /// By a fan that takes it out.
        Extract "extract",
    }
    /// Where slurry and spent solution may go.
    SlurryRoute {
        /// Into the foul drain, with consent.
        FoulDrain "foul_drain",
        /// Through an interceptor.
        Interceptor "interceptor",
        /// Into containers that are taken away.
        Collect "collect",
        /// Into the surface-water drain.
        SurfaceWater "surface_water",
        /// Nobody has agreed to any place.
        Nowhere "nowhere",
    }
}

/// What surrounds a floor, as far as it is known.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "a survey is a list of what was seen and what was not"
)]
pub struct Surroundings {
    /// Its face, where it is another than that of its material.
    pub profile: Option<Profile>,
    /// Its joints.
    pub joints: Option<Joints>,
    /// How the moisture of the substrate was read.
    pub moisture_method: Option<MoistureMethod>,
    /// Its slope, in %.
    pub ramp_gradient_pct: Option<f64>,
    /// How the air is changed.
    pub ventilation: Option<Ventilation>,
    /// How often an hour it is changed.
    pub air_changes_per_h: Option<f64>,
    /// Height of the ceiling in m.
    pub ceiling_height_m: Option<f64>,
    /// Volume of the room in m³, where the floor is not all of it or the ceiling not level.
    pub room_volume_m3: Option<f64>,
    /// Alkalinity of the tap water in mg/L of calcium carbonate.
    pub water_alkalinity_mg_l: Option<f64>,
    /// pH of the film that the last work left on the floor, measured on a wetted spot.
    pub residue_ph: Option<f64>,
    /// Whether a flame, a heater or anything that sparks is near.
    pub ignition_source: Option<bool>,
    /// Whether it is heated from below.
    pub underfloor_heating: bool,
    /// Whether boxes with sockets lie in it.
    pub floor_boxes: bool,
    /// Whether smoke detectors watch the room.
    pub smoke_detection: bool,
    /// Whether people can be led past the work: by another way, or on half of the width.
    pub route_bypass: bool,
    /// Whether there is water to draw.
    pub water: Option<bool>,
    /// Whether there is a socket for a machine.
    pub power: Option<bool>,
    /// Whether a residual-current device guards it.
    pub rcd: Option<bool>,
    /// Where slurry may go.
    pub slurry_to: Option<SlurryRoute>,
}

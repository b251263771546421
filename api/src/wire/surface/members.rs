//! The members of a surface, written down once for the request, the item of a batch and the view.

use chrono::NaiveDate;
use domain::quantity::Length;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    FindingView,
    access::{AccessWindow, ReplacedBy, Services},
    film::SurveyedFilm,
    maker::MakerInstruction,
    room::RoomOver,
};
use crate::wire::{
    external::External,
    outline::{self, Door, Ring},
    words::{
        Asbestos, Consent, Joints, Lead, MoistureMethod, Obstruction, Profile, Residue, Soil,
        Space, Traffic, Ventilation, Zone,
    },
};

/// Declares a struct with members of its own and with all that is said of a floor.
macro_rules! surface {
    ($(#[$meta:meta])* $name:ident { $($own:tt)* }) => {
        $(#[$meta])*
        pub(crate) struct $name {
            $($own)*
            /// The site that it belongs to; it cannot be changed.
            #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
            pub(crate) site_id: String,
            /// What people call it.
            #[schema(min_length = 1, max_length = 200, pattern = r"\S")]
            pub(crate) name: String,
            /// The storey that it lies on, in the site's own words.
            #[schema(min_length = 1, max_length = 100, pattern = r"\S")]
            pub(crate) storey: String,
            /// The length of its edges in m, kept to the millimetre. 0 stands for one that nobody measured.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false, minimum = 0, maximum = 10_000_000)]
            pub(crate) perimeter_m: Option<f64>,
            /// Its outline in m: a ring around it, then one around each column or void; sets its area and its perimeter.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false, min_items = 1, max_items = 200)]
            pub(crate) outline: Option<Vec<Ring>>,
            /// The doors in its outline; the crew leaves by the first.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false, min_items = 1, max_items = 50)]
            pub(crate) doors: Option<Vec<Door>>,
            /// The kind of space.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) space: Option<Space>,
            /// The year in which the building was built.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false, minimum = 1000, maximum = 2100)]
            pub(crate) built_year: Option<i16>,
            /// What a test or papers said of asbestos; `untested` without it.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) asbestos: Option<Asbestos>,
            /// What lay on it when somebody looked.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) film: Option<SurveyedFilm>,
            /// How many people walk there.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) traffic: Option<Traffic>,
            /// How soiled it is.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) soil: Option<Soil>,
            /// How much stands on it.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) obstruction: Option<Obstruction>,
            /// The day on which it was laid.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false, value_type = String, format = Date, max_length = 10,
                pattern = "^20[0-9]{2}-[0-9]{2}-[0-9]{2}$")]
            pub(crate) laid_on: Option<NaiveDate>,
            /// Moisture of the substrate in % RH.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false, minimum = 0, maximum = 100)]
            pub(crate) moisture_rh_pct: Option<f64>,
            /// Pendulum test value when wet.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false, minimum = 0, maximum = 150)]
            pub(crate) ptv_wet: Option<f64>,
            /// Gloss lost since hand-over, in %.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false, minimum = 0, maximum = 100)]
            pub(crate) gloss_loss_pct: Option<f64>,
            /// Whether it gets wet in use; false without it.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) wet_in_use: Option<bool>,
            /// Whether people are around during the work; true without it.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) occupied: Option<bool>,
            /// Whether it is the only way out of somewhere; false without it.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) sole_escape_route: Option<bool>,
            /// Whether it is a static-control floor; false without it.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) static_control: Option<bool>,
            /// Whether it lies on a raised access floor; false without it.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) raised_access: Option<bool>,
            /// Whether it is a heritage floor, on which work needs consent; false without it.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) heritage: Option<bool>,
            /// Whether the authority has consented to work on a heritage floor; asked for where it matters.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) heritage_consent: Option<Consent>,
            /// Whether black adhesive lies under it; asked for where an old floor is sanded or stripped.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) black_adhesive: Option<bool>,
            /// The colour zone that it lies in.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) zone: Option<Zone>,
            /// Whether it is of more than one material, so that no one answer is right for it; false without it.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) mixed_materials: Option<bool>,
            /// Whether silicone was found on it (furniture spray, treated cloths); false without it.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) silicone: Option<bool>,
            /// Moisture of the wood in % of its dry mass.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false, minimum = 0, maximum = 100)]
            pub(crate) wood_moisture_pct: Option<f64>,
            /// Thickness in mm of the layer of wood that can be sanded.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false, minimum = 0, maximum = 50)]
            pub(crate) wear_layer_mm: Option<f64>,
            /// What a test of old coatings for lead said; `untested` without it.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) lead: Option<Lead>,
            /// What was left on it and makes it slippery or dull.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) residue: Option<Residue>,
            /// Its face, where it is another than that of its material.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) profile: Option<Profile>,
            /// Its joints.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) joints: Option<Joints>,
            /// How `moisture_rh_pct` was read.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) moisture_method: Option<MoistureMethod>,
            /// Its slope in %; level without it.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false, minimum = 0, maximum = 50)]
            pub(crate) ramp_gradient_pct: Option<f64>,
            /// Whether it is heated from below; false without it.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) underfloor_heating: Option<bool>,
            /// Whether boxes with sockets lie in it; false without it.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) floor_boxes: Option<bool>,
            /// How the air of the room is changed.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) ventilation: Option<Ventilation>,
            /// The room over it.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) room: Option<RoomOver>,
            /// pH of what the last work left on the floor, read on a wetted spot.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false, minimum = 0, maximum = 14)]
            pub(crate) residue_ph: Option<f64>,
            /// Whether a flame, a heater or anything that sparks is near.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) ignition_source: Option<bool>,
            /// Whether smoke detectors watch the room; false without it.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) smoke_detection: Option<bool>,
            /// Whether people can be led past the work, by another way or on half of the width; false without it.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) route_bypass: Option<bool>,
            /// Water, power and drains.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) services: Option<Services>,
            /// The weekly hours in which it may be closed, by the site's clock. Where a wish names no `window_min`, the longest of them counts.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false, max_items = 28)]
            pub(crate) access_windows: Option<Vec<AccessWindow>>,
            /// What its maker says of its care; it wins over general practice.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) maker_instruction: Option<MakerInstruction>,
            /// The surface that took its place, and when: from that day on nothing is planned for this one.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            pub(crate) replaced_by: Option<ReplacedBy>,
            /// From which day on it is there no more and nothing took its place: it is not planned then, its record stays.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false, value_type = String, format = Date, max_length = 10, pattern = "^20[0-9]{2}-[0-9]{2}-[0-9]{2}$")]
            pub(crate) retired_on: Option<NaiveDate>,
            /// Whatever else there is to say; may have several lines.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false, max_length = 2000)]
            pub(crate) note: Option<String>,
        }
    };
}
pub(super) use surface;

/// Makes one of these structs from another.
macro_rules! with_members_of {
    ($from:ident => $to:ident { $($own:tt)* }) => {
        $to {
            site_id: $from.site_id,
            name: $from.name,
            storey: $from.storey,
            perimeter_m: $from.perimeter_m,
            outline: $from.outline,
            doors: $from.doors,
            space: $from.space,
            built_year: $from.built_year,
            asbestos: $from.asbestos,
            film: $from.film,
            traffic: $from.traffic,
            soil: $from.soil,
            obstruction: $from.obstruction,
            laid_on: $from.laid_on,
            moisture_rh_pct: $from.moisture_rh_pct,
            ptv_wet: $from.ptv_wet,
            gloss_loss_pct: $from.gloss_loss_pct,
            wet_in_use: $from.wet_in_use,
            occupied: $from.occupied,
            sole_escape_route: $from.sole_escape_route,
            static_control: $from.static_control,
            raised_access: $from.raised_access,
            heritage: $from.heritage,
            heritage_consent: $from.heritage_consent,
            black_adhesive: $from.black_adhesive,
            zone: $from.zone,
            mixed_materials: $from.mixed_materials,
            silicone: $from.silicone,
            wood_moisture_pct: $from.wood_moisture_pct,
            wear_layer_mm: $from.wear_layer_mm,
            lead: $from.lead,
            residue: $from.residue,
            profile: $from.profile,
            joints: $from.joints,
            moisture_method: $from.moisture_method,
            ramp_gradient_pct: $from.ramp_gradient_pct,
            underfloor_heating: $from.underfloor_heating,
            floor_boxes: $from.floor_boxes,
            ventilation: $from.ventilation,
            room: $from.room,
            residue_ph: $from.residue_ph,
            ignition_source: $from.ignition_source,
            smoke_detection: $from.smoke_detection,
            route_bypass: $from.route_bypass,
            services: $from.services,
            access_windows: $from.access_windows,
            maker_instruction: $from.maker_instruction,
            replaced_by: $from.replaced_by,
            retired_on: $from.retired_on,
            note: $from.note,
            $($own)*
        }
    };
}
pub(super) use with_members_of;

surface! {
    /// A surface to register: one continuous area of one material on one storey.
    ///
    /// Exactly one of `material` and `finish` must be there.
    #[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
    #[serde(deny_unknown_fields)]
    #[schema(example = json!({
        "site_id": "sit_0193e8a0-0000-7000-8000-000000000001", "name": "Corridor 2.104", "storey": "2",
        "material": "vinyl_sheet", "area_m2": 240, "perimeter_m": 126, "space": "corridor",
        "built_year": 2009, "film": {"kind": "polish", "coats": 4, "condition": "worn", "seen_at": "2026-05-04T09:00:00Z"},
        "traffic": "heavy", "external": {"system": "building-register", "id": "2.104/A"},
    }))]
    SurfaceRequest {
        /// The key of its material; `GET /v1/materials` lists them.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(nullable = false, min_length = 1, max_length = 60)]
        pub(crate) material: Option<String>,
        /// Its finish in the words of building data, such as `VINYL COMPOSITION TILE`, in place of `material` (`GET /v1/finishes`).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(nullable = false, min_length = 1, max_length = 200)]
        pub(crate) finish: Option<String>,
        /// Its area in m², kept to the mm²; needed unless there is an outline, and then within 2 % of its area.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(nullable = false, minimum = 0.01, maximum = 1_000_000)]
        pub(crate) area_m2: Option<f64>,
        /// Its name in another system.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(nullable = false)]
        pub(crate) external: Option<External>,
    }
}

surface! {
    /// A surface.
    #[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
    SurfaceView {
        /// Its id.
        #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
        pub(crate) id: String,
        /// Grows by one with each change, from 1.
        #[schema(minimum = 1)]
        pub(crate) version: i64,
        /// The key of its material, given or found by its finish.
        #[schema(min_length = 1, max_length = 60)]
        pub(crate) material: String,
        /// Its finish as it was given, if it was.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(nullable = false, min_length = 1, max_length = 200)]
        pub(crate) finish: Option<String>,
        /// Its area in m², as it is kept.
        #[schema(minimum = 0.01, maximum = 1_000_000)]
        pub(crate) area_m2: f64,
        /// Its name in another system.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(nullable = false)]
        pub(crate) external: Option<External>,
        /// What was noticed about it.
        #[schema(max_items = 20)]
        pub(crate) findings: Vec<FindingView>,
        /// When it was registered.
        #[schema(format = DateTime, max_length = 24)]
        pub(crate) created_at: String,
        /// When it was last changed.
        #[schema(format = DateTime, max_length = 24)]
        pub(crate) updated_at: String,
    }
}

impl SurfaceView {
    /// Puts a view together: id, version, material and findings, the request, when made and when changed.
    pub(super) fn from_parts(
        (id, version, material, findings): (String, i64, String, Vec<FindingView>),
        (request, area_m2): (SurfaceRequest, f64),
        (created_at, updated_at): (String, String),
    ) -> Self {
        with_members_of!(request => Self {
            id,
            version,
            material,
            finish: request.finish,
            area_m2,
            external: request.external,
            findings,
            created_at,
            updated_at,
        })
    }
    /// The surface as its request would say it: by its finish or its material, without what its outline says.
    pub(crate) fn into_request(mut self) -> SurfaceRequest {
        let material = Some(self.material).filter(|_| self.finish.is_none());
        let outline = self
            .outline
            .as_deref()
            .and_then(|rings| outline::read(rings).ok());
        let area_m2 = Some(self.area_m2).filter(|_| outline.is_none());
        if let Some(outline) = outline {
            self.perimeter_m = self
                .perimeter_m
                .filter(|told| Length::from_m(*told) != Some(outline.edge()));
        }
        with_members_of!(self => SurfaceRequest {
            material,
            finish: self.finish,
            area_m2,
            external: self.external,
        })
    }
}

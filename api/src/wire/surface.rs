//! Surfaces on the wire.

mod access;
mod batch;
mod film;
mod maker;
mod members;
mod room;

pub(crate) use access::{AccessWindow, ReplacedBy};
pub(crate) use batch::{
    AreasView, BatchBody, CountsView, ItemView, Mode, Outcome, SurfaceBatch, SurfaceBatchView,
    SurfaceMergeBatchRequest,
};
#[cfg(test)]
pub(crate) use batch::{SurfaceBatchRequest, SurfaceItem};
pub(crate) use film::{Film, SurveyedFilm};
pub(crate) use maker::MakerInstruction;
pub(crate) use members::{SurfaceRequest, SurfaceView};

use chrono::{DateTime, NaiveDate, Utc};
use domain::{
    geometry::{Outline, OutlineFault},
    id::SurfaceId,
    quantity::{Area, Length},
    survey::{self, Survey},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::outline::{Door, Ring};
use super::{outline, patch::patch_of, time};
use crate::problem::Problem;

patch_of! {
    /// A change of a surface.
    SurfacePatchRequest, SurfaceRequest, {"film": {"condition": "sound"}, "note": null}
}

/// Something that was noticed about a surface and is worth mending, though it stands in nobody's way.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[schema(as = SurfaceFindingView)]
pub(crate) struct FindingView {
    /// The rule that noticed it; `GET /v1/rules/{key}` tells more.
    #[schema(min_length = 1, max_length = 60)]
    pub(crate) rule: String,
    /// What it says.
    #[schema(max_length = 1000)]
    pub(crate) statement: String,
    /// The perimeter in m that is worked with in place of the one that is missing or impossible.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    pub(crate) perimeter_used_m: Option<f64>,
}

/// What of a surface's view the request does not say.
#[derive(Debug, Clone)]
pub(crate) struct SurfaceHead {
    /// The surface.
    pub(crate) id: SurfaceId,
    /// Its version.
    pub(crate) version: i64,
    /// When it was registered.
    pub(crate) created_at: DateTime<Utc>,
    /// When it was last changed.
    pub(crate) updated_at: DateTime<Utc>,
}

impl SurfaceRequest {
    /// Its outline, if it was drawn.
    ///
    /// # Errors
    /// Every [`OutlineFault`].
    pub(crate) fn outline(&self) -> Result<Option<Outline>, Vec<OutlineFault>> {
        self.outline.as_deref().map(outline::read).transpose()
    }

    /// The area that it tells.
    pub(crate) fn area(&self) -> Option<Area> {
        self.area_m2.and_then(Area::from_m2)
    }

    /// Its area: that of its outline if it has a sound one, else the one that it tells.
    pub(crate) fn area_of_floor(&self) -> Option<Area> {
        let drawn = self.outline().ok().flatten();
        drawn.map(|outline| outline.area()).or_else(|| self.area())
    }

    /// What it says of the floor, which is of `material` and has this outline.
    pub(crate) fn survey(&self, material: &str, outline: Option<Outline>) -> Survey {
        let drawn = outline.as_ref().map(Outline::area);
        let area = drawn.or_else(|| self.area()).unwrap_or(Area::ZERO);
        let doors = self.doors.iter().flatten();
        let film = self
            .film
            .as_ref()
            .map(SurveyedFilm::film)
            .unwrap_or_default();
        Survey {
            perimeter: self.perimeter(),
            outline,
            doors: doors.map(|door| door.at.point()).collect(),
            space: self.space.map(Into::into),
            built_year: self.built_year,
            asbestos: self.asbestos.map_or(survey::Asbestos::Untested, Into::into),
            film,
            traffic: self.traffic.map(Into::into),
            soil: self.soil.map(Into::into),
            obstruction: self.obstruction.map(Into::into),
            laid_on: self.laid_on,
            moisture_rh_pct: self.moisture_rh_pct,
            ptv_wet: self.ptv_wet,
            gloss_loss_pct: self.gloss_loss_pct,
            wet_in_use: self.wet_in_use.unwrap_or(false),
            occupied: self.occupied.unwrap_or(true),
            sole_escape_route: self.sole_escape_route.unwrap_or(false),
            static_control: self.static_control.unwrap_or(false),
            raised_access: self.raised_access.unwrap_or(false),
            heritage: self.heritage.unwrap_or(false),
            heritage_consent: self.heritage_consent.map(Into::into),
            black_adhesive: self.black_adhesive,
            closer: self.closer_look(),
            surroundings: self.surroundings(),
            access_windows: self.access_windows(),
            maker_instruction: self.maker_instruction.as_ref().map(Into::into),
            ..Survey::new(material, area)
        }
    }

    fn closer_look(&self) -> survey::CloserLook {
        survey::CloserLook {
            zone: self.zone.map(Into::into),
            mixed_materials: self.mixed_materials.unwrap_or(false),
            silicone: self.silicone.unwrap_or(false),
            wood_moisture_pct: self.wood_moisture_pct,
            wear_layer_mm: self.wear_layer_mm,
            lead: self.lead.map_or(survey::Lead::Untested, Into::into),
            residue: self.residue.map(Into::into),
            // What was used on it stands in the completions.
            recent_products: Vec::new(),
        }
    }

    fn perimeter(&self) -> Option<Length> {
        self.perimeter_m.and_then(perimeter)
    }

    /// The request with its quantities as they are kept.
    #[must_use]
    pub(crate) fn kept(self) -> Self {
        let to_mm2 = |told| Area::from_m2(told).map_or(told, Area::m2);
        let outline = self.outline.map(|rings| rings.into_iter().map(Ring::kept));
        let doors = self.doors.map(|doors| doors.into_iter().map(Door::kept));
        Self {
            area_m2: self.area_m2.map(to_mm2),
            perimeter_m: self.perimeter_m.and_then(perimeter).map(Length::m),
            outline: outline.map(Iterator::collect),
            doors: doors.map(Iterator::collect),
            ..self
        }
    }

    /// The request without what its outline says: its area, and a perimeter that does not differ.
    #[must_use]
    pub(crate) fn without_drawn(self, survey: &Survey, tolerance: f64) -> Self {
        if survey.outline.is_none() {
            return self;
        }
        let differs = survey.perimeter_differs(tolerance);
        Self {
            area_m2: None,
            perimeter_m: self.perimeter_m.filter(|_| differs),
            ..self
        }
    }
}

/// The perimeter that is told; building data writes 0 for one that nobody measured.
fn perimeter(told: f64) -> Option<Length> {
    Length::from_m(told).filter(|perimeter| perimeter.mm() > 0)
}

/// The surface that a stored document holds, as its request would say it.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn stored(document: &str) -> Result<SurfaceRequest, Problem> {
    super::stored::<SurfaceView>(document).map(SurfaceView::into_request)
}

/// When a surface is there no more, as it says: what is asked of many surfaces at once.
#[derive(Debug, Deserialize)]
pub(crate) struct End {
    /// What takes its place.
    pub(crate) replaced_by: Option<ReplacedBy>,
    /// From which day on nothing does.
    pub(crate) retired_on: Option<NaiveDate>,
}

/// When a stored surface is there no more.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn end(document: &str) -> Result<End, Problem> {
    super::stored(document)
}

/// A page of surfaces.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SurfacePage {
    /// The surfaces, oldest first.
    #[schema(max_items = 200)]
    items: Vec<SurfaceView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}

impl SurfaceView {
    /// The surface that a request makes; measures that it leaves out are those of the outline.
    pub(crate) fn new(
        head: &SurfaceHead,
        mut request: SurfaceRequest,
        survey: &Survey,
        findings: Vec<FindingView>,
    ) -> Self {
        let (created_at, updated_at) = (time::write(head.created_at), time::write(head.updated_at));
        let material = survey.material.clone();
        let parts = (head.id.to_string(), head.version, material, findings);
        let drawn = survey.outline.as_ref().map(|outline| outline.edge().m());
        request.perimeter_m = request.perimeter_m.or(drawn);
        Self::from_parts(parts, (request, survey.area.m2()), (created_at, updated_at))
    }
}

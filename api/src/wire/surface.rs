//! Surfaces on the wire.

mod batch;
mod members;

pub(crate) use batch::{
    AreasView, CountsView, ItemView, Mode, Outcome, SurfaceBatchRequest, SurfaceBatchView,
    SurfaceItem,
};
pub(crate) use members::{Film, SurfaceRequest, SurfaceView};

use chrono::{DateTime, Utc};
use domain::{
    film::Told,
    id::SurfaceId,
    quantity::{Area, Length},
    survey::{self, Survey},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{patch::patch_of, time};
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
    /// What it says of the floor, which is of `material`.
    pub(crate) fn survey(&self, material: &str) -> Survey {
        let area = Area::from_m2(self.area_m2).unwrap_or(Area::ZERO);
        let film = self.film.as_ref().map(Film::film).unwrap_or_default();
        Survey {
            perimeter: self.perimeter(),
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
            black_adhesive: self.black_adhesive.unwrap_or(false),
            ..Survey::new(material, area)
        }
    }

    /// The perimeter; building data writes 0 for one that nobody measured.
    fn perimeter(&self) -> Option<Length> {
        let perimeter = self.perimeter_m.and_then(Length::from_m);
        perimeter.filter(|perimeter| perimeter.mm() > 0)
    }

    /// The request with its quantities as they are kept.
    #[must_use]
    pub(crate) fn kept(self) -> Self {
        Self {
            area_m2: Area::from_m2(self.area_m2).map_or(self.area_m2, Area::m2),
            perimeter_m: self.perimeter().map(Length::m),
            ..self
        }
    }
}

impl Film {
    /// What it says as a word about the film.
    pub(crate) fn told(&self) -> Told {
        let film = self.film();
        Told {
            kind: film.kind,
            coats: film.coats,
            condition: film.condition,
            ..Told::default()
        }
    }

    fn film(&self) -> survey::Film {
        survey::Film {
            kind: self.kind.known(),
            coats: self.coats,
            condition: self.condition.map(Into::into),
        }
    }
}

/// The surface that a stored document holds, as its request would say it.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn stored(document: &str) -> Result<SurfaceRequest, Problem> {
    super::stored::<SurfaceView>(document).map(SurfaceView::into_request)
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
    /// The surface that a request makes.
    pub(crate) fn new(
        head: &SurfaceHead,
        request: SurfaceRequest,
        material: String,
        findings: Vec<FindingView>,
    ) -> Self {
        let (created_at, updated_at) = (time::write(head.created_at), time::write(head.updated_at));
        let parts = (head.id.to_string(), head.version, material, findings);
        Self::from_parts(parts, request, (created_at, updated_at))
    }
}

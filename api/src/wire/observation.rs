//! Observations on the wire: what was known of a surface's film at a moment.

use chrono::{DateTime, NaiveDate, Utc};
use domain::film::{Told, Word};
use infra::row::ObservationRow;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{external::External, remark::Remark, stored, surface::Film, time, words::FilmKind};
use crate::problem::Problem;

/// Where an observation comes from; decides how far it is trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum ObservationOrigin {
    /// Coats were counted on a cut or a wear-through, or measured where a gauge reads.
    Measured,
    /// Somebody looked.
    Seen,
    /// Somebody said so.
    Told,
    /// It stands in a document.
    Document,
}

impl From<ObservationOrigin> for Word {
    fn from(origin: ObservationOrigin) -> Self {
        match origin {
            ObservationOrigin::Measured => Self::Measured,
            ObservationOrigin::Seen => Self::Seen,
            ObservationOrigin::Told => Self::Told,
            ObservationOrigin::Document => Self::Document,
        }
    }
}

/// What was known of a surface's film at a moment.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "at": "2026-05-12T09:30:00Z", "origin": "seen",
    "film": {"kind": "polish", "coats": 4, "condition": "sound"}, "note": "Counted at the worn edge by the door."
}))]
pub(crate) struct ObservationRequest {
    /// The moment of which it speaks: from the year 2000, at most 24 hours from now.
    #[schema(value_type = String, format = DateTime, max_length = 40)]
    pub(crate) at: DateTime<Utc>,
    /// Where it comes from.
    pub(crate) origin: ObservationOrigin,
    /// What lies on the floor; what is left out stays as it was known before.
    pub(crate) film: Film,
    /// Coats of seal, if anybody counted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 50)]
    pub(crate) seal_coats: Option<i64>,
    /// The day on which the floor was last stripped, if anybody knows; not after `at`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, value_type = String, format = Date, max_length = 10,
        pattern = "^(19|20)[0-9]{2}-[0-9]{2}-[0-9]{2}$")]
    pub(crate) last_stripped_on: Option<NaiveDate>,
    /// What else is to be known; not the name of a person.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_length = 1, max_length = 2000)]
    pub(crate) note: Option<String>,
    /// Its name in another system.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) external: Option<External>,
}

impl ObservationRequest {
    /// What it says.
    pub(crate) fn told(&self) -> Told {
        Told {
            seal_coats: self.seal_coats,
            stripped_on: self.last_stripped_on,
            ..self.film.told()
        }
    }
}

/// What was known of a surface's film at a moment.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ObservationView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^obs_[0-9a-f-]{36}$")]
    id: String,
    /// `recorded` counts; `superseded` was corrected by another; `voided` does not count.
    #[schema(max_length = 20, pattern = "^[a-z]+$")]
    status: &'static str,
    /// The observation that this one corrects.
    #[schema(max_length = 40, pattern = "^obs_[0-9a-f-]{36}$")]
    supersedes: Option<String>,
    /// The observation that corrects this one.
    #[schema(max_length = 40, pattern = "^obs_[0-9a-f-]{36}$")]
    superseded_by: Option<String>,
    /// Why it is void; there only if it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    voided: Option<Remark>,
    /// The site of the surface.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    site_id: String,
    /// The surface.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    surface_id: String,
    /// The moment of which it speaks.
    #[schema(format = DateTime, max_length = 24)]
    at: String,
    /// Where it comes from: measured, seen, told or document; survey for the film that the surface was registered or
    /// changed with.
    #[schema(max_length = 20, pattern = "^[a-z]+$")]
    origin: &'static str,
    /// What lies on the floor.
    film: Film,
    /// Coats of seal.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    seal_coats: Option<i64>,
    /// The day on which the floor was last stripped.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = Date, max_length = 10)]
    last_stripped_on: Option<String>,
    /// What else is to be known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 2000)]
    note: Option<String>,
    /// Its name in another system.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    external: Option<External>,
    /// When it was recorded.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
}

impl ObservationView {
    /// The observation of a row as it stands now.
    ///
    /// # Errors
    /// `internal` for a remark that is not what was written.
    pub(crate) fn new(row: &ObservationRow) -> Result<Self, Problem> {
        let told = row.told;
        let voided = (!row.voided.is_empty()).then(|| stored(&row.voided));
        Ok(Self {
            id: row.id.to_string(),
            status: row.status.as_str(),
            supersedes: row.supersedes.map(|id| id.to_string()),
            superseded_by: row.superseded_by.map(|id| id.to_string()),
            voided: voided.transpose()?,
            site_id: row.site_id.to_string(),
            surface_id: row.surface_id.to_string(),
            at: time::write(row.observed_at),
            origin: row.word.word(),
            film: Film {
                kind: told.kind.map_or(FilmKind::Unknown, Into::into),
                coats: told.coats,
                condition: told.condition.map(Into::into),
            },
            seal_coats: told.seal_coats,
            last_stripped_on: told.stripped_on.map(|day| day.to_string()),
            note: row.note.clone(),
            external: row.external.as_ref().map(Into::into),
            created_at: time::write(row.created_at),
        })
    }
}

/// A page of observations.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ObservationPage {
    /// The observations, in the order of their recording.
    #[schema(max_items = 200)]
    items: Vec<ObservationView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}

//! Readings on the wire: one measured value each.

use chrono::{DateTime, Utc};
use domain::{quantity::float, reading::ReadingKind};
use infra::row::{FactStatus, ReadingRow};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use utoipa::ToSchema;

use super::{document, external::External, remark::Remark, stored, time};
use crate::problem::Problem;

/// What is measured; the unit is part of the word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum ReadingWord {
    /// pH of the wet floor, 0 to 14.
    SurfacePh,
    /// Gloss in gloss units, 0 to 200.
    GlossGu,
    /// Pendulum test value, wet, 0 to 150.
    PtvWet,
    /// Relative humidity in the floor, 0 to 100 %.
    MoistureRhPct,
    /// Resistance of the film to ground in ohm, 0 to 10¹².
    FilmResistanceOhm,
    /// People who walked over it in a day, 0 to 10 million.
    Footfall,
    /// Temperature of the air, -50 to 60 °C.
    AirC,
    /// Temperature of the floor, -50 to 80 °C.
    FloorC,
    /// Relative humidity of the air, 0 to 100 %.
    HumidityPct,
}

impl From<ReadingWord> for ReadingKind {
    fn from(word: ReadingWord) -> Self {
        match word {
            ReadingWord::SurfacePh => Self::SurfacePh,
            ReadingWord::GlossGu => Self::GlossGu,
            ReadingWord::PtvWet => Self::PtvWet,
            ReadingWord::MoistureRhPct => Self::MoistureRhPct,
            ReadingWord::FilmResistanceOhm => Self::FilmResistanceOhm,
            ReadingWord::Footfall => Self::Footfall,
            ReadingWord::AirC => Self::AirC,
            ReadingWord::FloorC => Self::FloorC,
            ReadingWord::HumidityPct => Self::HumidityPct,
        }
    }
}

/// A value that was measured.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "surface_id": "srf_01890a5d-ac96-774b-bcce-b302099a8057", "kind": "surface_ph", "value": 7.4,
    "at": "2026-03-02T04:10:00Z", "spot": "3 m from the door", "instrument": "meter-2"
}))]
pub(crate) struct ReadingRequest {
    /// The surface that was measured.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    pub(crate) surface_id: String,
    /// The completion that it was taken for; it must be on this surface.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 40, pattern = "^cmp_[0-9a-f-]{36}$")]
    pub(crate) completion_id: Option<String>,
    /// What was measured.
    pub(crate) kind: ReadingWord,
    /// The value in the unit of its kind, within the bounds of its kind; kept to the thousandth.
    #[schema(minimum = -50, maximum = 1_000_000_000_000_i64)]
    pub(crate) value: f64,
    /// When it was measured: from the year 2000, at most 24 hours from now.
    #[schema(value_type = String, format = DateTime, max_length = 40)]
    pub(crate) at: DateTime<Utc>,
    /// Where on the surface.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_length = 1, max_length = 200)]
    pub(crate) spot: Option<String>,
    /// What it was measured with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_length = 1, max_length = 200)]
    pub(crate) instrument: Option<String>,
    /// What else is to be known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_length = 1, max_length = 2000)]
    pub(crate) note: Option<String>,
    /// Its name in another system.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) external: Option<External>,
}

/// A value that was measured.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ReadingView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^rdg_[0-9a-f-]{36}$")]
    id: String,
    /// `recorded` counts; `superseded` was corrected by another; `voided` does not count.
    #[schema(max_length = 20, pattern = "^[a-z]+$")]
    status: &'static str,
    /// The reading that this one corrects.
    #[schema(max_length = 40, pattern = "^rdg_[0-9a-f-]{36}$")]
    supersedes: Option<String>,
    /// The reading that corrects this one.
    #[schema(max_length = 40, pattern = "^rdg_[0-9a-f-]{36}$")]
    superseded_by: Option<String>,
    /// Why it is void; there only if it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    voided: Option<Remark>,
    /// The site of the surface.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    site_id: String,
    /// The surface that was measured.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    surface_id: String,
    /// The completion that it was taken for.
    #[schema(max_length = 40, pattern = "^cmp_[0-9a-f-]{36}$")]
    completion_id: Option<String>,
    /// What was measured.
    kind: ReadingWord,
    /// The value in the unit of its kind, to the thousandth.
    value: f64,
    /// When it was measured.
    #[schema(format = DateTime, max_length = 24)]
    at: String,
    /// Where on the surface.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 200)]
    spot: Option<String>,
    /// What it was measured with.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 200)]
    instrument: Option<String>,
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

impl ReadingView {
    /// The reading of a row that was just made.
    pub(crate) fn new(row: &ReadingRow, request: &ReadingRequest) -> Self {
        Self {
            id: row.id.to_string(),
            status: row.status.as_str(),
            supersedes: row.supersedes.map(|id| id.to_string()),
            superseded_by: row.superseded_by.map(|id| id.to_string()),
            voided: None,
            site_id: row.site_id.to_string(),
            surface_id: row.surface_id.to_string(),
            completion_id: row.completion_id.map(|id| id.to_string()),
            kind: request.kind,
            value: float(row.thousandths) / 1_000.0,
            at: time::write(row.taken_at),
            spot: request.spot.clone(),
            instrument: request.instrument.clone(),
            note: request.note.clone(),
            external: request.external.clone(),
            created_at: time::write(row.created_at),
        }
    }
}

/// A page of readings.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ReadingPage {
    /// The readings, in the order of their recording.
    #[schema(max_items = 200)]
    items: Vec<ReadingView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}

/// The document of a row as it stands now: what was recorded, and what became of it.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn as_it_stands(row: ReadingRow) -> Result<String, Problem> {
    if row.status == FactStatus::Recorded {
        return Ok(row.document);
    }
    document(&members(&row)?)
}

/// The members of [`as_it_stands`]: status, what corrects it and why it is void are told after the writing.
///
/// # Errors
/// `internal` for a document that is not what was written.
fn members(row: &ReadingRow) -> Result<Map<String, Value>, Problem> {
    let mut kept: Map<String, Value> = stored(&row.document)?;
    kept.insert("status".to_owned(), row.status.as_str().into());
    let by = row.superseded_by.map(|id| id.to_string());
    kept.insert("superseded_by".to_owned(), by.into());
    if !row.voided.is_empty() {
        kept.insert("voided".to_owned(), stored(&row.voided)?);
    }
    Ok(kept)
}

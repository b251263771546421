//! What lies on a floor at a moment, and what that rests on.

use chrono::{DateTime, Utc};
use domain::film::{Coats, Contradiction, EntryId, Ground, State};
use infra::row::SurfaceRow;
use serde::Serialize;
use utoipa::ToSchema;

use super::{
    number, time,
    words::{FilmCondition, FilmKind},
};

/// The most entries that an answer names as what it rests on; the latest are named.
const MAX_BASIS: usize = 200;

/// How many coats there are; parts of a coat are worn coats.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct CoatsView {
    /// No fewer.
    #[schema(minimum = 0)]
    low: f64,
    /// Most likely.
    #[schema(minimum = 0)]
    likely: f64,
    /// No more.
    #[schema(minimum = 0)]
    high: f64,
}

impl From<Coats> for CoatsView {
    fn from(coats: Coats) -> Self {
        Self {
            low: number::coats(coats.low),
            likely: number::coats(coats.likely),
            high: number::coats(coats.high),
        }
    }
}

/// Two things about a film that cannot both be. It stands until somebody looks, or the whole floor is stripped.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ContradictionView {
    /// What kind of contradiction; a stable word. More may come.
    ///
    /// `kind_differs`, `coats_differ`: what somebody said denies what went before; look at the floor and record an observation, or
    /// date the survey. `recoat_on_bare`, `strip_of_bare`, `coat_on_wax`: work that makes no sense on what lay there; correct the
    /// report or record what really lay there. `part_only`: a part of the floor was done, the rest is as it was.
    #[schema(max_length = 60, pattern = "^[a-z_]+$")]
    code: &'static str,
    /// What does not fit.
    #[schema(max_length = 1000)]
    statement: String,
    /// The observation or completion that does not fit with what went before it.
    #[schema(max_length = 40, pattern = "^(obs|cmp|srf)_[0-9a-f-]{36}$")]
    entry: String,
}

/// Something that a film's state rests on.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct GroundView {
    /// The observation or completion, or the surface for a survey of its own; null for wear.
    #[schema(max_length = 40, pattern = "^(obs|cmp|srf)_[0-9a-f-]{36}$")]
    entry: Option<String>,
    /// When it happened.
    #[schema(format = DateTime, max_length = 24)]
    at: String,
    /// How it is known: measured, seen, told, document or survey; for work whether its coats are reported, planned or
    /// usual; null for wear.
    #[schema(max_length = 20, pattern = "^[a-z]+$")]
    word: Option<&'static str>,
    /// What it says.
    #[schema(max_length = 1000)]
    statement: String,
    /// Where the figures in it come from, where they are ours.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 500)]
    source: Option<String>,
}

fn name(entry: EntryId) -> String {
    match entry {
        EntryId::Observation(id) => id.to_string(),
        EntryId::Completion(id) => id.to_string(),
        EntryId::Surface(id) => id.to_string(),
    }
}

impl From<&Contradiction> for ContradictionView {
    fn from(found: &Contradiction) -> Self {
        Self {
            code: found.code,
            statement: found.statement.clone(),
            entry: name(found.entry),
        }
    }
}

impl From<&Ground> for GroundView {
    fn from(ground: &Ground) -> Self {
        Self {
            entry: ground.entry.map(name),
            at: time::write(ground.at),
            word: ground.word.map(domain::film::Word::word),
            statement: ground.statement.clone(),
            source: ground.source.clone(),
        }
    }
}

/// What lies on a floor at a moment, by all that was told and done up to it.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct FilmStateView {
    /// The moment.
    #[schema(format = DateTime, max_length = 24)]
    at: String,
    /// Its kind; `unknown` if nobody knows.
    kind: FilmKind,
    /// Coats of polish as plans take them: the likely count in whole coats; null where nobody counted, or where it is too
    /// long ago.
    #[schema(minimum = 0)]
    coats: Option<i64>,
    /// Its condition; null if nobody knows, or if it may have changed unseen since.
    condition: Option<FilmCondition>,
    /// Coats of polish; null if nobody counted.
    polish_coats: Option<CoatsView>,
    /// Coats of seal; null if nobody counted.
    seal_coats: Option<CoatsView>,
    /// When the whole floor was last stripped.
    #[schema(format = DateTime, max_length = 24)]
    last_stripped_at: Option<String>,
    /// Whole days since then.
    #[schema(minimum = 0)]
    days_since_stripped: Option<i64>,
    /// When a coat was last laid.
    #[schema(format = DateTime, max_length = 24)]
    last_coated_at: Option<String>,
    /// Whole days since then.
    #[schema(minimum = 0)]
    days_since_coated: Option<i64>,
    /// How sure this is, from 0 (nobody knows) to 1 (certain); it halves with time, the faster the more traffic.
    #[schema(minimum = 0, maximum = 1)]
    confidence: f64,
    /// What does not fit together and nobody has settled since.
    #[schema(max_items = 20)]
    contradictions: Vec<ContradictionView>,
    /// What it rests on, in the order of happening.
    #[schema(max_items = 200)]
    basis: Vec<GroundView>,
}

impl From<&State> for FilmStateView {
    fn from(state: &State) -> Self {
        let film = state.film();
        let moment = |when: Option<(DateTime<Utc>, EntryId)>| when.map(|(at, _)| time::write(at));
        let days =
            |when: Option<(DateTime<Utc>, EntryId)>| when.map(|(at, _)| state.days_since(at));
        let left_out = state.basis.len().saturating_sub(MAX_BASIS);
        Self {
            at: time::write(state.at),
            kind: film.kind.map_or(FilmKind::Unknown, Into::into),
            coats: film.coats,
            condition: film.condition.map(Into::into),
            polish_coats: state.polish.map(Into::into),
            seal_coats: state.seal.map(Into::into),
            last_stripped_at: moment(state.stripped),
            days_since_stripped: days(state.stripped),
            last_coated_at: moment(state.coated),
            days_since_coated: days(state.coated),
            confidence: number::confidence(state.confidence),
            contradictions: state.contradictions.iter().map(Into::into).collect(),
            basis: state.basis.iter().skip(left_out).map(Into::into).collect(),
        }
    }
}

/// A surface's film at a moment.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct SurfaceStateView {
    /// The surface.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    surface_id: String,
    /// Its version now, whose area and traffic this was worked out with.
    #[schema(minimum = 1)]
    surface_version: i64,
    /// The edition of the knowledge base, whose figures of wear and trust this was worked out with.
    #[schema(max_length = 40)]
    knowledge_version: String,
    /// What lies on it.
    film: FilmStateView,
}

impl SurfaceStateView {
    /// The state of a surface.
    pub(crate) fn new(row: &SurfaceRow, knowledge_version: &str, state: &State) -> Self {
        Self {
            surface_id: row.id.to_string(),
            surface_version: row.version,
            knowledge_version: knowledge_version.to_owned(),
            film: state.into(),
        }
    }
}

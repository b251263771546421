//! What is known to have happened to a film, and in which order it counts.

use chrono::{DateTime, NaiveDate, Utc};

use super::{Floor, Word};
use crate::{
    id::{CompletionId, ObservationId, PlanId, SurfaceId},
    knowledge::Takes,
    quantity::{Area, whole},
    survey::{FilmCondition, FilmKind},
};

/// Names the record that an entry was read from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum EntryId {
    /// An observation.
    Observation(ObservationId),
    /// A completion.
    Completion(CompletionId),
    /// A surface, for a survey that stands in no observation.
    Surface(SurfaceId),
}

/// What was said of a film; what is `None` was not said.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Told {
    /// Its kind.
    pub kind: Option<FilmKind>,
    /// Coats of polish.
    pub coats: Option<i64>,
    /// Coats of seal.
    pub seal_coats: Option<i64>,
    /// Its condition.
    pub condition: Option<FilmCondition>,
    /// The day on which the floor was last stripped.
    pub stripped_on: Option<NaiveDate>,
}

/// Work that was done.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Job {
    /// When it began.
    pub started_at: DateTime<Utc>,
    /// The key of its process.
    pub process: String,
    /// The plan that it followed: work on parts of a floor by one plan is one job.
    pub plan: Option<PlanId>,
    /// The area that was worked on.
    pub area: Area,
    /// Coats of polish as reported.
    pub polish: Option<i64>,
    /// Coats of seal as reported.
    pub seal: Option<i64>,
    /// Coats of polish that the plan promises.
    pub planned_polish: Option<i64>,
    /// Coats of seal that the plan promises.
    pub planned_seal: Option<i64>,
}

/// What happened.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Event {
    /// Work was done.
    Done(Job),
    /// Something was said of the film.
    Told(Word, Told),
}

/// One record about a film.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// The record.
    pub id: EntryId,
    /// When it happened: work at its end.
    pub at: DateTime<Utc>,
    /// Whether it counts: what was superseded or voided does not.
    pub counts: bool,
    /// What happened.
    pub event: Event,
}

/// By what entries are sorted: moment, class, rank in the class, recording of a survey, content; ids tell only copies
/// apart.
pub(super) type Order = (DateTime<Utc>, u8, i64, Option<EntryId>, Event, EntryId);

/// The place of an entry among the others.
pub(super) fn order(floor: Floor<'_>, entry: &Entry) -> Order {
    let (class, rank) = match &entry.event {
        Event::Done(job) => {
            let process = floor.base.process(&job.process);
            let rank = match process.map(|process| process.film.takes) {
                Some(Takes::All) => 0,
                Some(Takes::Polish | Takes::Coats(_)) => 1,
                Some(Takes::Nothing) | None => 2,
            };
            (0, rank)
        }
        Event::Told(word, _) => {
            let trust = floor.base.film.trust(*word);
            (1, whole(trust.confidence * 1e3).unwrap_or(0))
        }
    };
    // A survey's moment is that of its recording, and so is the order of ids.
    let recorded = matches!(entry.event, Event::Told(Word::Survey, _)).then_some(entry.id);
    (
        entry.at,
        class,
        rank,
        recorded,
        entry.event.clone(),
        entry.id,
    )
}

//! What is due, on the wire.

mod chart;

use chrono::NaiveDate;
use domain::{
    due::{CountedFrom, Why},
    id::PlanId,
    knowledge::{KnowledgeBase, Process},
};
use infra::row::{DueRow, SiteRow, SurfaceRow};
use serde::Serialize;
use utoipa::ToSchema;

use super::{plan::Named, surface::stored};
use crate::problem::Problem;

pub(crate) use chart::{Calendar, MONTHS, chart};

/// A due date with what an answer tells beside it.
pub(crate) struct Told<'a> {
    /// The date.
    pub(crate) row: &'a DueRow,
    /// Its floor.
    pub(crate) floor: &'a SurfaceRow,
    /// The site of its floor.
    pub(crate) site: &'a SiteRow,
    /// The last plan that is accepted for it.
    pub(crate) plan: Option<PlanId>,
}

/// A process that recurs on a floor, and when it is due.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DueView {
    /// The floor.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    surface_id: String,
    /// What people call it.
    #[schema(max_length = 200)]
    surface_name: String,
    /// Its storey.
    #[schema(max_length = 50)]
    storey: String,
    /// Its site.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    site_id: String,
    /// What people call that.
    #[schema(max_length = 200)]
    site_name: String,
    /// What is due.
    process: Named,
    /// Whether it is routine cleaning.
    routine: bool,
    /// The day on which it was last done on the whole floor; absent if nobody reported so.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    last_done_on: Option<NaiveDate>,
    /// The day on which it is due.
    due_on: NaiveDate,
    /// Days since then, by the site's calendar; 0 up to the day itself.
    #[schema(minimum = 0)]
    overdue_days: i64,
    /// Why it is due then: `interval` (the days since it was done are over), `film` (what lies on the floor asks for it) or
    /// `never_done` (nobody reported that it was done).
    #[schema(max_length = 20, pattern = "^[a-z_]+$")]
    why: &'static str,
    /// Why the day is what it is.
    basis: DueBasisView,
    /// The plan that is accepted for it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 40, pattern = "^pln_[0-9a-f-]{36}$")]
    plan_id: Option<String>,
}

/// Why a day is what it is.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DueBasisView {
    /// From what days are counted: `last_done`, `last_coat` (when the film that it keeps was last laid or taken off),
    /// `film_told` (when something was told of the film) or `first_survey`.
    #[schema(max_length = 20, pattern = "^[a-z_]+$")]
    counted_from: &'static str,
    /// The day from which they are counted.
    counted_from_on: NaiveDate,
    /// Days until it is due again once it is done, at this traffic.
    #[schema(minimum = 1)]
    interval_days: i64,
    /// The traffic; absent where nobody counted, and medium is taken.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 20, pattern = "^[a-z_]+$")]
    traffic: Option<&'static str>,
    /// In words.
    #[schema(max_length = 500)]
    statement: String,
    /// Where the figures come from.
    #[schema(max_length = 500)]
    source: String,
    /// How far they can be trusted.
    #[schema(max_length = 20)]
    grade: &'static str,
}

impl DueView {
    /// A due date as it is told on a day of its site.
    ///
    /// # Errors
    /// `internal` for a document that is not what was written.
    pub(crate) fn new(
        told: &Told<'_>,
        today: NaiveDate,
        base: &KnowledgeBase,
    ) -> Result<Self, Problem> {
        let (row, due) = (told.row, &told.row.due);
        let process = base.process(&due.process);
        let traffic = stored(&told.floor.document)?.traffic.map(Into::into);
        let traffic = traffic.map(|traffic: domain::survey::Traffic| traffic.word());
        let name = process.map_or(&due.process, |process| &process.name);
        let statement = statement(told, base);
        let (source, grade) = source(due.why, process, base);
        Ok(Self {
            surface_id: row.surface_id.to_string(),
            surface_name: told.floor.name.clone(),
            storey: told.floor.storey.clone(),
            site_id: row.site_id.to_string(),
            site_name: told.site.name.clone(),
            process: Named {
                key: due.process.clone(),
                name: name.clone(),
            },
            routine: due.routine,
            last_done_on: due.last_done_on,
            due_on: due.due_on,
            overdue_days: (today - due.due_on).num_days().max(0),
            why: due.why.word(),
            basis: DueBasisView {
                counted_from: due.counted_from.word(),
                counted_from_on: due.counted_from_on,
                interval_days: due.interval_days,
                traffic,
                statement,
                source,
                grade,
            },
            plan_id: told.plan.map(|id| id.to_string()),
        })
    }
}

/// Why it is due then, in one sentence.
fn statement(told: &Told<'_>, base: &KnowledgeBase) -> String {
    let due = &told.row.due;
    let (from, days) = (due.counted_from_on, due.interval_days);
    match (due.why, due.counted_from) {
        (Why::Film, _) if due.due_on <= from => {
            let why = base
                .process(&due.process)
                .map(|process| process.why.as_str());
            let why = why.unwrap_or("What lies on the floor asks for it.");
            format!("By what was told of the film on {from}: {why}")
        }
        (Why::Film, _) => {
            format!(
                "By how the film wears since it was told of on {from}, it asks for it from then on."
            )
        }
        (_, CountedFrom::LastDone) => {
            format!("It was last done on {from} and is due again after {days} days.")
        }
        (_, CountedFrom::LastCoat) => format!(
            "What it keeps was laid or taken off on {from}; it is due {days} days after that."
        ),
        (_, CountedFrom::FilmTold | CountedFrom::FirstSurvey) if due.due_on <= from => format!(
            "Nobody reported that it was ever done: it is due since the first survey on {from}."
        ),
        (_, CountedFrom::FilmTold | CountedFrom::FirstSurvey) => format!(
            "Nobody reported that it was ever done, and the film needs nothing yet: {days} days after the first survey on {from}."
        ),
    }
}

/// Where the figures behind a day come from: those of the process, or those of how films wear.
fn source(why: Why, process: Option<&Process>, base: &KnowledgeBase) -> (String, &'static str) {
    let of_film = (base.film.source.clone(), base.film.grade.word());
    match (why, process) {
        (Why::Film, _) | (_, None) => of_film,
        (_, Some(process)) => (process.source.clone(), process.grade.word()),
    }
}

/// A page of due dates.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DuePage {
    /// The due dates, the earliest first.
    #[schema(max_items = 200)]
    items: Vec<DueView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}

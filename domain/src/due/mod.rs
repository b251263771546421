//! What is due on a floor, and when: a pure function of its survey, of what was told of its film and of what was done.
//!
//! Which processes recur on which floor is asked from the knowledge base: what it says of when a process suits, of whom it
//! serves and of the days until it is due again. No process and no material is named here.

mod done;
pub mod forecast;
mod look;
mod recurring;
mod when;

use chrono::{DateTime, NaiveDate, Utc};

pub(crate) use done::times_done;
pub use done::{Done, last_done};
pub(crate) use look::goal;

use self::{
    look::{Ground, Look},
    recurring::recurring,
    when::when,
};
use crate::{
    film::Entry,
    knowledge::Process,
    plan::{DraftPlanError, PlanInput},
    survey::Traffic,
    words::words,
};

words! {
    /// Why something is due when it is.
    Why {
        /// It was done, and the days until it is due again are over.
        Interval "interval",
        /// What lies on the floor asks for it, by what was told of it or by how it wears.
        Film "film",
        /// Nobody reported that it was ever done: it is counted from the first survey.
        NeverDone "never_done",
    }
    /// From what days are counted.
    CountedFrom {
        /// The day on which it was last done on the whole floor.
        LastDone "last_done",
        /// The day on which the film that it keeps was last laid or taken off.
        LastCoat "last_coat",
        /// The day on which something was told of the film.
        FilmTold "film_told",
        /// The day of the first survey.
        FirstSurvey "first_survey",
    }
}

/// What is known of a floor's past.
#[derive(Debug, Clone, Copy)]
pub struct Past<'a> {
    /// What was told of its film and done to it, as [`state_at`](crate::film::state_at) takes it.
    pub entries: &'a [Entry],
    /// What was done by completions that count, by any process.
    pub done: &'a [Done],
    /// When the floor was first surveyed.
    pub surveyed_at: DateTime<Utc>,
}

/// One process that recurs on a floor.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Due {
    /// The key of the process.
    pub process: String,
    /// Whether it is routine cleaning, which is done by the day and seldom reported.
    pub routine: bool,
    /// The day on which it was last done on the whole floor; `None` if nobody reported so.
    pub last_done_on: Option<NaiveDate>,
    /// The day on which it is due.
    pub due_on: NaiveDate,
    /// Why then.
    pub why: Why,
    /// From what the days are counted.
    pub counted_from: CountedFrom,
    /// The day from which they are counted.
    pub counted_from_on: NaiveDate,
    /// The days until it is due again once it is done, at this floor's traffic.
    pub interval_days: i64,
}

/// What recurs on the floor of `input` and when it is due next, the earliest first and then in the order of the keys.
///
/// The film of the survey counts for nothing: it is folded from `past`. The moment of `input` counts for nothing either, so
/// that the answer is the same until something is told or done.
///
/// # Errors
/// [`DraftPlanError`] where the survey names a material that the knowledge base does not have, or the climate cannot be
/// used.
pub fn due(input: &PlanInput<'_>, past: Past<'_>) -> Result<Vec<Due>, DraftPlanError> {
    let ground = Ground::new(input, past);
    let look = Look::new(input, past, &ground)?;
    let mut all = Vec::new();
    for process in recurring(&look) {
        all.push(when(&look, process)?);
    }
    all.sort_by(|one, other| (one.due_on, &one.process).cmp(&(other.due_on, &other.process)));
    Ok(all)
}

/// Days until a process is due again at the traffic of a floor; medium where nobody counted.
pub fn interval_days(process: &Process, traffic: Option<Traffic>) -> i64 {
    let traffic = traffic.unwrap_or(Traffic::Medium).word();
    let days = process.interval_days.get(traffic).copied();
    days.unwrap_or(365).max(1)
}

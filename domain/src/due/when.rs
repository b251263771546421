//! When a process that recurs is due next.

use chrono::{DateTime, Days, NaiveDate, Utc};

use super::{CountedFrom, Due, Why, interval_days, look::Look, recurring::is_routine};
use crate::{
    film::touches_film,
    knowledge::{Process, Takes, Truth},
    plan::DraftPlanError,
};

/// From what days are counted, and how many.
struct Clock {
    from: DateTime<Utc>,
    what: CountedFrom,
    days: i64,
    why: Why,
}

/// When `process` is due on the floor: the day on which its interval is over, or an earlier one on which the film asks
/// for it.
pub(super) fn when(look: &Look<'_>, process: &Process) -> Result<Due, DraftPlanError> {
    let interval_days = interval_days(process, look.input.survey.traffic);
    let last = look.last.get(&process.key).copied();
    let clock = clock(look, process, (last, interval_days));
    let from = look.day(clock.from);
    let mut due = Due {
        process: process.key.clone(),
        routine: is_routine(process),
        last_done_on: last.map(|at| look.day(at)),
        due_on: after(from, clock.days),
        why: clock.why,
        counted_from: clock.what,
        counted_from_on: from,
        interval_days,
    };
    if let Some(day) = asked_by_film(look, process, (last, &due))? {
        due.due_on = day;
        due.why = Why::Film;
        due.counted_from = CountedFrom::FilmTold;
        due.counted_from_on = look.day(look.state.at);
    }
    Ok(due)
}

fn after(day: NaiveDate, days: i64) -> NaiveDate {
    let days = Days::new(u64::try_from(days).unwrap_or(0));
    day.checked_add_days(days).unwrap_or(day)
}

/// Whether the film decides if a process is right.
fn is_of_film(process: &Process) -> bool {
    process.needs_film_known || touches_film(process)
}

/// The interval by the calendar. New coats begin what keeps them anew, and taking off everything what takes off
/// everything. What nobody reported is due from the first survey on, unless it is known of the film that it needs nothing
/// yet.
fn clock(look: &Look<'_>, process: &Process, (last, days): (Option<DateTime<Utc>>, i64)) -> Clock {
    let anew = match process.film.takes {
        Takes::All | Takes::Polish => look.state.stripped.map(|(at, _)| at),
        Takes::Nothing | Takes::Coats(_) if is_of_film(process) => look.state.coated_at(),
        Takes::Nothing | Takes::Coats(_) => None,
    };
    let counted = |from, what, days, why| Clock {
        from,
        what,
        days,
        why,
    };
    match (last, anew) {
        (Some(last), anew) if anew.is_none_or(|anew| anew <= last) => {
            counted(last, CountedFrom::LastDone, days, Why::Interval)
        }
        (_, Some(anew)) => counted(anew, CountedFrom::LastCoat, days, Why::Interval),
        (_, None) => {
            let needs_nothing = is_of_film(process) && look.suits(process) == Truth::False;
            let days = if needs_nothing { days } else { 0 };
            let from = look.past.surveyed_at;
            counted(from, CountedFrom::FirstSurvey, days, Why::NeverDone)
        }
    }
}

/// The first day before it is `due` by the calendar on which the film asks for the process; `None` where it asks for it no sooner.
///
/// What suits a floor right after it was done there is asked for by its interval alone. Between what was told and the
/// end of the interval films only wear, so the first day is found by halving.
fn asked_by_film(
    look: &Look<'_>,
    process: &Process,
    (last, due): (Option<DateTime<Utc>>, &Due),
) -> Result<Option<NaiveDate>, DraftPlanError> {
    let (told_at, by) = (look.state.at, due.due_on);
    if !is_of_film(process) || look.past.entries.is_empty() {
        return Ok(None);
    }
    let told_on = look.day(told_at);
    if look.suits(process) == Truth::True {
        let is_told_since = last.is_none_or(|last| last < told_at);
        // The first survey says since when nobody knew; here somebody does.
        let is_sooner = told_on <= by || due.counted_from == CountedFrom::FirstSurvey;
        return Ok((is_told_since && is_sooner).then_some(told_on));
    }
    if by <= told_on || look.will_suit(process, look.noon(by))? != Truth::True {
        return Ok(None);
    }
    let (mut not_yet, mut asks) = (told_on, by);
    while let Some(middle) = between(not_yet, asks) {
        if look.will_suit(process, look.noon(middle))? == Truth::True {
            asks = middle;
        } else {
            not_yet = middle;
        }
    }
    Ok((asks < by).then_some(asks))
}

/// The day halfway between two; `None` where there is none between them.
fn between(first: NaiveDate, last: NaiveDate) -> Option<NaiveDate> {
    let days = u64::try_from((last - first).num_days()).ok()?;
    (days >= 2)
        .then(|| first.checked_add_days(Days::new(days / 2)))
        .flatten()
}

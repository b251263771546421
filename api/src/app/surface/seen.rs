//! When the film of a survey was seen.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use infra::clock::truncate_to_millis;

use super::{classify::at, told};
use crate::{body::Fault, wire::surface::SurfaceRequest};

/// How far in the future a survey may lie, for clocks that are set wrong.
const MAX_AHEAD_H: i64 = 24;

/// The moment at which the film of a surface was seen, if its survey has one.
pub(crate) fn seen_at(request: &SurfaceRequest) -> Option<DateTime<Utc>> {
    request.film.as_ref()?.seen_at
}

/// Dates the film of a request: one that says what was said before was seen when it was, any other now.
pub(super) fn date(
    request: &mut SurfaceRequest,
    before: Option<&SurfaceRequest>,
    now: DateTime<Utc>,
) {
    let said = told(request);
    let is_said_again = said.is_some() && before.and_then(told) == said;
    let Some(film) = &mut request.film else {
        return;
    };
    film.seen_at = match film.seen_at {
        Some(told) => Some(truncate_to_millis(told)),
        None if is_said_again => before.and_then(seen_at),
        None => said.map(|_said| now),
    };
}

/// What is wrong with the moment at which a film was seen.
pub(super) fn fault(request: &SurfaceRequest, now: DateTime<Utc>, root: &str) -> Option<Fault> {
    let seen = seen_at(request)?;
    let first = NaiveDate::from_ymd_opt(2000, 1, 1).and_then(|day| day.and_hms_opt(0, 0, 0));
    let (code, detail) = if seen.signed_duration_since(now) > TimeDelta::hours(MAX_AHEAD_H) {
        let detail = format!("This lies more than {MAX_AHEAD_H} hours in the future.");
        ("in_future", detail)
    } else if first.is_some_and(|first| seen < first.and_utc()) {
        let detail = "Surveys before the year 2000 are not kept here.".to_owned();
        ("too_early", detail)
    } else {
        return None;
    };
    Some(at(root, "film/seen_at", code, detail))
}

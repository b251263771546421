//! From hours of the wall clock to moments, through changes of the clock.

use chrono::{DateTime, Days, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, TimeZone as _, Utc};
use chrono_tz::Tz;

use crate::{
    schedule::Window,
    survey::{AccessWindow, Weekday},
};

/// From one moment up to another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Span {
    /// Its first moment.
    pub from: DateTime<Utc>,
    /// The moment after its last.
    pub to: DateTime<Utc>,
}

/// The moment at which a clock on the wall shows a time. What it shows twice is the first of the two, what it never shows is
/// the moment at which it is set forward.
fn moment(zone: Tz, wall: NaiveDateTime) -> DateTime<Utc> {
    let mut at = wall;
    // No clock is ever set forward by more than a few hours.
    for _quarter in 0..16 {
        if let Some(found) = zone.from_local_datetime(&at).earliest() {
            return found.with_timezone(&Utc);
        }
        at = at
            .checked_add_signed(TimeDelta::minutes(15))
            .unwrap_or(NaiveDateTime::MAX);
    }
    wall.and_utc()
}

/// The moment at which a day begins, or a time of it.
pub(super) fn at(zone: Tz, day: NaiveDate, minute: i64) -> DateTime<Utc> {
    let midnight = day.and_time(NaiveTime::MIN);
    let wall = midnight.checked_add_signed(TimeDelta::minutes(minute));
    moment(zone, wall.unwrap_or(midnight))
}

/// All weekly hours within a span, in order and joined where they overlap. A night in which the clock is changed is as long
/// as it is: 22:00 to 06:00 has seven hours, or nine. None begin on a day that is off.
pub fn weekly(
    hours: &[AccessWindow],
    zone: Tz,
    within: Span,
    is_off: impl Fn(NaiveDate) -> bool,
) -> Vec<Span> {
    let mut spans = Vec::new();
    // The hours of the evening before may still run.
    let first = within.from.with_timezone(&zone).date_naive();
    let mut day = first.checked_sub_days(Days::new(1)).unwrap_or(first);
    let last = within.to.with_timezone(&zone).date_naive();
    while day <= last {
        let weekday = Weekday::on(day);
        for hours in hours
            .iter()
            .filter(|hours| hours.days.contains(&weekday) && !is_off(day))
        {
            let next = i64::from(hours.to_min <= hours.from_min).saturating_mul(1_440);
            spans.push(Span {
                from: at(zone, day, hours.from_min),
                to: at(zone, day, hours.to_min.saturating_add(next)),
            });
        }
        let Some(next) = day.succ_opt() else { break };
        day = next;
    }
    joined(spans)
}

/// Spans in order, those that overlap or touch made one, empty ones left out.
pub fn joined(mut spans: Vec<Span>) -> Vec<Span> {
    spans.retain(|span| span.from < span.to);
    spans.sort_unstable();
    let mut joined: Vec<Span> = Vec::new();
    for span in spans {
        match joined.last_mut() {
            Some(last) if span.from <= last.to => last.to = last.to.max(span.to),
            _ => joined.push(span),
        }
    }
    joined
}

/// Spans without what lies in others.
pub fn without(spans: Vec<Span>, taken: &[Span]) -> Vec<Span> {
    let taken = joined(taken.to_vec());
    let mut left = Vec::new();
    for span in spans {
        let first = taken.partition_point(|taken| taken.to <= span.from);
        let mut from = span.from;
        for taken in taken.iter().skip(first) {
            if taken.from >= span.to {
                break;
            }
            left.push(Span {
                from,
                to: taken.from,
            });
            from = from.max(taken.to);
        }
        left.push(Span { from, to: span.to });
    }
    left.retain(|span| span.from < span.to);
    left
}

/// Spans as windows of whole minutes after the beginning of `within`, cut to it; in order and without overlap.
pub fn minutes(spans: &[Span], within: Span) -> Vec<Window> {
    let windows = spans.iter().filter_map(|span| {
        let (from, to) = (span.from.max(within.from), span.to.min(within.to));
        // Rounded inwards: a floor is not taken a second before it is free.
        let seconds = (from - within.from).num_seconds();
        let from = seconds.checked_add(59)?.div_euclid(60);
        let to = (to - within.from).num_minutes();
        (from < to).then_some(Window { from, to })
    });
    windows.collect()
}

//! Calendars that others hand over (RFC 5545), read for the stretches of time that their events take up.
//!
//! Read are events with a beginning, an end or a length, rules by days, weeks, months and years, days left out, and single
//! occurrences that were moved or cancelled. What else a calendar may say of its events is refused where it would change when they
//! are; what says nothing of time is passed over. The work is bounded, and every fault is told with its line.

mod instance;
mod line;
mod recur;
mod value;

#[cfg(test)]
mod tests;

use chrono::{DateTime, Days, NaiveDateTime, TimeDelta, TimeZone as _, Utc};
use chrono_tz::Tz;

use self::{
    line::{Line, lines, without_folds},
    recur::{Rule, occurrences},
    value::{Length, Moment, length, moments},
};
use crate::placing::{Span, joined};

/// The most bytes of a calendar.
pub const MAX_BYTES: usize = 100_000;
/// The most events of a calendar.
pub const MAX_EVENTS: usize = 500;
/// The most days that are looked at for the rules of all events of all calendars that are read for one purpose.
pub const MAX_DAYS: usize = 200_000;
/// The most occurrences of all events that lie in the span.
pub const MAX_OCCURRENCES: usize = 2_000;

/// What is wrong with a calendar, and in which of its lines, from 1.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {wrong}")]
pub struct Fault {
    /// The line.
    pub line: usize,
    /// What is wrong there.
    pub wrong: Wrong,
}

/// What is wrong.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Wrong {
    /// It has more bytes than are read.
    #[error("a calendar has at most {MAX_BYTES} bytes")]
    Bytes,
    /// It has more events than are read.
    #[error("a calendar has at most {MAX_EVENTS} events")]
    Events,
    /// Its rules go over more days than are looked at.
    #[error("the rules of calendars go over at most {MAX_DAYS} days in all: begin them later")]
    Days,
    /// More lies in the span than is taken.
    #[error("at most {MAX_OCCURRENCES} occurrences of events lie within the time of a schedule")]
    Occurrences,
    /// It does not begin with a calendar, or the calendar does not end.
    #[error("a calendar begins with BEGIN:VCALENDAR and ends with END:VCALENDAR")]
    NoCalendar,
    /// A component ends that did not begin last.
    #[error("this ends what did not begin last")]
    Unbalanced,
    /// A line without a name and a colon.
    #[error("a line has a name, a colon and a value")]
    Malformed,
    /// A value that cannot be read.
    #[error("`{0}` cannot be read as a value of {1}")]
    Value(String, &'static str),
    /// A zone that nobody knows.
    #[error("`{0}` is no time zone of the IANA database, such as Europe/Paris")]
    Zone(String),
    /// A property that an event has twice.
    #[error("an event has {0} once")]
    Twice(&'static str),
    /// An event without a beginning.
    #[error("an event has a DTSTART")]
    NoStart,
    /// An event that ends before it begins, or as long as nothing.
    #[error("an event ends after it begins")]
    Ends,
    /// An end and a length.
    #[error("an event has a DTEND or a DURATION, not both")]
    EndAndLength,
    /// A day where the event begins at a time of day, or the reverse.
    #[error("{0} is a day where DTSTART is one, and a time of day where it is one")]
    Kind(&'static str),
    /// A part of a rule, or a property, that is not read, and would change when events are.
    #[error("{0} is not read here: write such events out one by one")]
    NotRead(String),
    /// An event in the place of an occurrence of another, without the name that both have.
    #[error("an event with a RECURRENCE-ID has the UID of the event that recurs")]
    NoUid,
    /// A part of a rule that does not go with its other parts.
    #[error("{0}")]
    Misplaced(&'static str),
    /// Both an end and a number of occurrences.
    #[error("a rule has UNTIL or COUNT, not both")]
    UntilAndCount,
}

/// An event as it is read.
#[derive(Debug, Default)]
struct Event {
    line: usize,
    start: Option<Moment>,
    end: Option<(usize, Moment)>,
    length: Option<(usize, Length)>,
    rule: Option<(usize, Rule)>,
    left_out: Vec<(usize, Moment)>,
    is_cancelled: bool,
    uid: Option<String>,
    sequence: u32,
    /// The occurrence of the event of the same `uid` in whose place it is.
    instead_of: Option<(usize, Moment)>,
}

/// All stretches of time within a span that the events of a calendar take up, in order and joined where they overlap. Times
/// without a zone are those of `zone`. `days` is how many days may still be looked at, [`MAX_DAYS`] before the first calendar.
///
/// # Errors
/// Everything that is wrong with it, in the order of its lines.
pub fn expand(
    text: &str,
    zone: Tz,
    within: Span,
    days: &mut usize,
) -> Result<Vec<Span>, Vec<Fault>> {
    if text.len() > MAX_BYTES {
        let wrong = Wrong::Bytes;
        return Err(vec![Fault { line: 1, wrong }]);
    }
    let mut faults = Vec::new();
    let events = events(&lines(text, &mut faults), zone, &mut faults);
    let events = instance::settle(events, zone, &mut faults);
    let mut taken = Vec::new();
    for event in events.iter().filter(|event| !event.is_cancelled) {
        if let Err(fault) = spans(event, (zone, within), days, &mut taken) {
            let is_enough = fault.wrong == Wrong::Occurrences;
            faults.push(fault);
            if is_enough {
                break;
            }
        }
    }
    if faults.is_empty() {
        return Ok(joined(taken));
    }
    faults.sort_by_key(|fault| fault.line);
    // Two events of one name may be at odds with the same change.
    faults.dedup();
    Err(faults)
}

/// The events of a calendar.
fn events(lines: &[Line<'_>], zone: Tz, faults: &mut Vec<Fault>) -> Vec<Event> {
    let mut events = Vec::new();
    let mut open: Vec<String> = Vec::new();
    let mut event = Event::default();
    let mut is_whole = false;
    let mut fault = |line: usize, wrong: Wrong| faults.push(Fault { line, wrong });
    for line in lines {
        let value = line.value.trim().to_ascii_uppercase();
        match line.name.as_str() {
            "BEGIN" => {
                if open.is_empty() && value != "VCALENDAR" {
                    fault(line.number, Wrong::NoCalendar);
                    return events;
                }
                if value == "VEVENT" {
                    if open.contains(&value) {
                        let wrong = Wrong::NotRead("an event within an event".to_owned());
                        fault(line.number, wrong);
                        return events;
                    }
                    event = Event {
                        line: line.number,
                        ..Event::default()
                    };
                }
                open.push(value);
            }
            "END" => {
                if open.pop().as_ref() != Some(&value) {
                    fault(line.number, Wrong::Unbalanced);
                    return events;
                }
                is_whole |= open.is_empty();
                if value == "VEVENT" {
                    if events.len() == MAX_EVENTS {
                        fault(line.number, Wrong::Events);
                        return events;
                    }
                    events.push(std::mem::take(&mut event));
                }
            }
            _ if open.is_empty() => {
                fault(line.number, Wrong::NoCalendar);
                return events;
            }
            // What alarms and zones say of time is not when events are.
            _ if open.last().is_some_and(|open| open == "VEVENT") => {
                if let Err(wrong) = property(&mut event, line, zone) {
                    fault(line.number, wrong);
                }
            }
            _ => {}
        }
    }
    if !is_whole || !open.is_empty() {
        fault(
            lines.last().map_or(1, |line| line.number),
            Wrong::NoCalendar,
        );
    }
    events
}

/// Reads a property of an event.
fn property(event: &mut Event, line: &Line<'_>, zone: Tz) -> Result<(), Wrong> {
    let number = line.number;
    match line.name.as_str() {
        "DTSTART" => {
            let start = value::moment(line, zone, "DTSTART")?;
            once(&mut event.start, start, "DTSTART")
        }
        "DTEND" => {
            let end = (number, value::moment(line, zone, "DTEND")?);
            once(&mut event.end, end, "DTEND")
        }
        "DURATION" => {
            let read = length(line.value)
                .ok_or_else(|| Wrong::Value(line.value.to_owned(), "DURATION"))?;
            once(&mut event.length, (number, read), "DURATION")
        }
        "RRULE" => {
            let rule = (number, recur::rule(line.value)?);
            once(&mut event.rule, rule, "RRULE")
        }
        "EXDATE" => {
            let left_out = moments(line, zone, "EXDATE")?;
            event
                .left_out
                .extend(left_out.into_iter().map(|moment| (number, moment)));
            Ok(())
        }
        "STATUS" => {
            event.is_cancelled = line.value.trim().eq_ignore_ascii_case("CANCELLED");
            Ok(())
        }
        "UID" => {
            let uid = without_folds(line.value).trim().to_owned();
            once(&mut event.uid, uid, "UID")
        }
        "SEQUENCE" => {
            let sequence = line.value.trim().parse::<u32>();
            event.sequence =
                sequence.map_err(|_text| Wrong::Value(line.value.to_owned(), "SEQUENCE"))?;
            Ok(())
        }
        "RECURRENCE-ID" => {
            if let Some(range) = line.parameter("RANGE") {
                return Err(Wrong::NotRead(format!("RECURRENCE-ID;RANGE={range}")));
            }
            let moment = (number, value::moment(line, zone, "RECURRENCE-ID")?);
            once(&mut event.instead_of, moment, "RECURRENCE-ID")
        }
        name @ ("RDATE" | "EXRULE") => Err(Wrong::NotRead(name.to_owned())),
        _ => Ok(()),
    }
}

fn once<T>(place: &mut Option<T>, value: T, name: &'static str) -> Result<(), Wrong> {
    if place.replace(value).is_some() {
        return Err(Wrong::Twice(name));
    }
    Ok(())
}

/// Adds the stretches of an event that meet a span.
fn spans(
    event: &Event,
    (site, within): (Tz, Span),
    days: &mut usize,
    found: &mut Vec<Span>,
) -> Result<(), Fault> {
    let fault = |line: usize, wrong: Wrong| Fault { line, wrong };
    let start = event
        .start
        .ok_or_else(|| fault(event.line, Wrong::NoStart))?;
    let takes = takes(event, start, site)?;
    for (line, moment) in &event.left_out {
        if moment.is_day != start.is_day {
            return Err(fault(*line, Wrong::Kind("EXDATE")));
        }
    }
    let walls = match &event.rule {
        None => vec![start.wall],
        Some((line, rule)) => {
            let until = within.to.with_timezone(&start.zone(site)).naive_local();
            occurrences(rule, start, (until, site), days).map_err(|wrong| fault(*line, wrong))?
        }
    };
    let left_out = event.left_out.iter();
    let mut left_out: Vec<DateTime<Utc>> = left_out.map(|(_, moment)| moment.at(site)).collect();
    left_out.sort_unstable();
    for wall in walls {
        let from = instant(start.zone(site), wall);
        let to = match takes {
            Takes::Exactly(time) => from + time,
            Takes::Length(length) => {
                let days = Days::new(length.days);
                let wall = wall.checked_add_days(days).unwrap_or(wall);
                instant(start.zone(site), wall) + length.time
            }
        };
        if from < within.to && to > within.from && left_out.binary_search(&from).is_err() {
            if found.len() == MAX_OCCURRENCES {
                return Err(fault(event.line, Wrong::Occurrences));
            }
            found.push(Span { from, to });
        }
    }
    Ok(())
}

/// How long each occurrence takes.
#[derive(Debug, Clone, Copy)]
enum Takes {
    /// So long, whatever the clock is changed to (3.8.5.3).
    Exactly(TimeDelta),
    /// Days of the calendar, and time besides (3.3.6).
    Length(Length),
}

fn takes(event: &Event, start: Moment, site: Tz) -> Result<Takes, Fault> {
    let fault = |line: usize, wrong: Wrong| Fault { line, wrong };
    match (event.end, event.length) {
        (Some(_), Some((line, _))) => Err(fault(line, Wrong::EndAndLength)),
        (Some((line, end)), None) if end.is_day != start.is_day => {
            Err(fault(line, Wrong::Kind("DTEND")))
        }
        (Some((line, end)), None) if end.at(site) <= start.at(site) => {
            Err(fault(line, Wrong::Ends))
        }
        (Some((_, end)), None) if start.is_day => {
            let days = (end.wall - start.wall).num_days();
            Ok(Takes::Length(Length {
                days: days.unsigned_abs(),
                time: TimeDelta::zero(),
            }))
        }
        (Some((_, end)), None) => Ok(Takes::Exactly(end.at(site) - start.at(site))),
        (None, Some((line, length))) => {
            if start.is_day && length.time != TimeDelta::zero() {
                return Err(fault(line, Wrong::Kind("DURATION")));
            }
            if length.days == 0 && length.time == TimeDelta::zero() {
                return Err(fault(line, Wrong::Ends));
            }
            Ok(Takes::Length(length))
        }
        // A day lasts a day, a moment no time at all (3.6.1).
        (None, None) => Ok(Takes::Length(Length {
            days: u64::from(start.is_day),
            time: TimeDelta::zero(),
        })),
    }
}

/// The moment at which a clock of a zone shows a time: the first where it shows it twice; where it never does, the moment by the
/// clock as it was before it was set forward (3.3.5).
fn instant(zone: Tz, wall: NaiveDateTime) -> DateTime<Utc> {
    if let Some(found) = zone.from_local_datetime(&wall).earliest() {
        return found.with_timezone(&Utc);
    }
    let half_a_day = TimeDelta::hours(12);
    let before = wall.checked_sub_signed(half_a_day).unwrap_or(wall);
    let before = zone.from_local_datetime(&before).earliest();
    before.map_or_else(
        || wall.and_utc(),
        |before| before.with_timezone(&Utc) + half_a_day,
    )
}

//! Rules by which events recur (3.3.10): every so many days, or on days of every so many weeks.

use chrono::{Datelike as _, Days, NaiveDate, NaiveDateTime, Weekday};
use chrono_tz::Tz;

use super::{
    Wrong,
    line::without_folds,
    value::{Moment, parse},
};

/// A rule.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Rule {
    is_weekly: bool,
    interval: u32,
    count: Option<u32>,
    until: Option<Moment>,
    days: Vec<Weekday>,
    week_begins: Weekday,
}

fn weekday(text: &str) -> Option<Weekday> {
    Some(match text {
        "MO" => Weekday::Mon,
        "TU" => Weekday::Tue,
        "WE" => Weekday::Wed,
        "TH" => Weekday::Thu,
        "FR" => Weekday::Fri,
        "SA" => Weekday::Sat,
        "SU" => Weekday::Sun,
        _ => return None,
    })
}

/// Reads a rule.
pub(super) fn rule(text: &str) -> Result<Rule, Wrong> {
    let whole = without_folds(text).trim().to_ascii_uppercase();
    let unread = |part: &str| Wrong::Value(part.to_owned(), "RRULE");
    let mut rule = Rule {
        is_weekly: false,
        interval: 1,
        count: None,
        until: None,
        days: Vec::new(),
        week_begins: Weekday::Mon,
    };
    let mut seen: Vec<String> = Vec::new();
    for part in whole.split(';').filter(|part| !part.is_empty()) {
        let (name, value) = part.split_once('=').ok_or_else(|| unread(part))?;
        if seen.iter().any(|other| other == name) {
            return Err(unread(part));
        }
        seen.push(name.to_owned());
        let number = || {
            let number = value.parse::<u32>().ok();
            number
                .filter(|number| (1..=100_000).contains(number))
                .ok_or_else(|| unread(part))
        };
        match (name, value) {
            ("FREQ", "DAILY") => rule.is_weekly = false,
            ("FREQ", "WEEKLY") => rule.is_weekly = true,
            ("FREQ", "SECONDLY" | "MINUTELY" | "HOURLY" | "MONTHLY" | "YEARLY") => {
                return Err(Wrong::NotRead(part.to_owned()));
            }
            ("INTERVAL", _) => rule.interval = number()?,
            ("COUNT", _) => rule.count = Some(number()?),
            ("UNTIL", _) => rule.until = Some(parse(value, None).ok_or_else(|| unread(part))?),
            ("BYDAY", _) => {
                let days = value.split(',').map(weekday).collect::<Option<Vec<_>>>();
                rule.days = days.ok_or_else(|| unread(part))?;
            }
            ("WKST", _) => rule.week_begins = weekday(value).ok_or_else(|| unread(part))?,
            (
                "BYSECOND" | "BYMINUTE" | "BYHOUR" | "BYMONTHDAY" | "BYYEARDAY" | "BYWEEKNO"
                | "BYMONTH" | "BYSETPOS" | "RSCALE" | "SKIP",
                _,
            ) => {
                return Err(Wrong::NotRead(name.to_owned()));
            }
            _ => return Err(unread(part)),
        }
    }
    if !seen.iter().any(|name| name == "FREQ") {
        return Err(unread(&whole));
    }
    if rule.count.is_some() && rule.until.is_some() {
        return Err(Wrong::UntilAndCount);
    }
    Ok(rule)
}

/// What a clock shows at each occurrence up to a time. The beginning of the event is the first, whatever the rule says.
pub(super) fn occurrences(
    rule: &Rule,
    start: Moment,
    (to, site): (NaiveDateTime, Tz),
    left: &mut usize,
) -> Result<Vec<NaiveDateTime>, Wrong> {
    let first = start.wall.date();
    let is_over = |wall: NaiveDateTime| match rule.until {
        None => false,
        // A day holds all that begins on it; a time of day without a zone is of the clock of the event.
        Some(until) if until.is_day => wall.date() > until.wall.date(),
        Some(until) if until.is_of_clock(&start, site) => wall > until.wall,
        Some(until) => super::instant(start.zone(site), wall) > until.at(site),
    };
    if rule
        .until
        .is_some_and(|until| start.is_day && !until.is_day)
    {
        return Err(Wrong::Kind("UNTIL"));
    }
    let most = rule.count.map_or(usize::MAX, |count| {
        usize::try_from(count).unwrap_or(usize::MAX)
    });
    let mut found = vec![start.wall];
    let mut day = first;
    while found.len() < most {
        let Some(next) = day.succ_opt() else { break };
        day = next;
        let wall = day.and_time(start.wall.time());
        if wall >= to || is_over(wall) {
            break;
        }
        *left = left.checked_sub(1).ok_or(Wrong::Days)?;
        if is_on(rule, first, day) {
            found.push(wall);
        }
    }
    Ok(found)
}

/// Whether a rule names a day.
fn is_on(rule: &Rule, first: NaiveDate, day: NaiveDate) -> bool {
    let interval = i64::from(rule.interval);
    if !rule.is_weekly {
        let apart = (day - first).num_days();
        return apart.rem_euclid(interval) == 0
            && (rule.days.is_empty() || rule.days.contains(&day.weekday()));
    }
    let begins = |day: NaiveDate| {
        let since = day.weekday().days_since(rule.week_begins);
        day.checked_sub_days(Days::new(u64::from(since)))
            .unwrap_or(day)
    };
    let weeks = (begins(day) - begins(first)).num_days().div_euclid(7);
    let is_named = if rule.days.is_empty() {
        day.weekday() == first.weekday()
    } else {
        rule.days.contains(&day.weekday())
    };
    weeks.rem_euclid(interval) == 0 && is_named
}

//! Rules by which events recur (3.3.10): on days of every so many days, weeks, months or years.

mod named;

use chrono::{Days, NaiveDate, NaiveDateTime, Weekday};
use chrono_tz::Tz;

use self::named::Named;
use super::{
    Wrong,
    line::without_folds,
    value::{Moment, parse},
};

/// How often an event recurs, but for the interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Frequency {
    Daily,
    Weekly,
    Monthly,
    Yearly,
}

/// A day of the week, or the so-manieth of it in a month or year: from the end where it is negative.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct WeekdayOf {
    nth: Option<i32>,
    day: Weekday,
}

/// A rule.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Rule {
    frequency: Frequency,
    interval: u32,
    count: Option<u32>,
    until: Option<Moment>,
    days: Vec<WeekdayOf>,
    month_days: Vec<i32>,
    year_days: Vec<i32>,
    months: Vec<u32>,
    positions: Vec<i32>,
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

fn weekday_of(text: &str) -> Option<WeekdayOf> {
    let at = text.len().checked_sub(2)?;
    let (nth, day) = (text.get(..at)?, weekday(text.get(at..)?)?);
    let nth = if nth.is_empty() {
        None
    } else {
        Some(signed(nth, 53)?)
    };
    Some(WeekdayOf { nth, day })
}

/// A number from 1, or from -1 for one that is counted from the end.
fn signed(text: &str, most: u32) -> Option<i32> {
    let digits = text.strip_prefix(['+', '-']).unwrap_or(text);
    let is_number = !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
    let number = text.parse::<i32>().ok().filter(|_| is_number)?;
    (1..=most)
        .contains(&number.unsigned_abs())
        .then_some(number)
}

/// Reads a rule.
pub(super) fn rule(text: &str) -> Result<Rule, Wrong> {
    let whole = without_folds(text).trim().to_ascii_uppercase();
    let unread = |part: &str| Wrong::Value(part.to_owned(), "RRULE");
    let mut rule = Rule {
        frequency: Frequency::Daily,
        interval: 1,
        count: None,
        until: None,
        days: Vec::new(),
        month_days: Vec::new(),
        year_days: Vec::new(),
        months: Vec::new(),
        positions: Vec::new(),
        week_begins: Weekday::Mon,
    };
    let mut seen: Vec<String> = Vec::new();
    for part in whole.split(';').filter(|part| !part.is_empty()) {
        let (name, value) = part.split_once('=').ok_or_else(|| unread(part))?;
        if seen.iter().any(|other| other == name) {
            return Err(unread(part));
        }
        seen.push(name.to_owned());
        read(&mut rule, (name, value)).map_err(|wrong| wrong.unwrap_or_else(|| unread(part)))?;
    }
    if !seen.iter().any(|name| name == "FREQ") {
        return Err(unread(&whole));
    }
    if rule.count.is_some() && rule.until.is_some() {
        return Err(Wrong::UntilAndCount);
    }
    rule.say_once();
    if let Some(part) = misplaced(&rule) {
        return Err(Wrong::Misplaced(part));
    }
    Ok(rule)
}

impl Rule {
    /// What is listed twice counts once, and costs no more.
    fn say_once(&mut self) {
        for list in [
            &mut self.month_days,
            &mut self.year_days,
            &mut self.positions,
        ] {
            list.sort_unstable();
            list.dedup();
        }
        self.months.sort_unstable();
        self.months.dedup();
        self.days
            .sort_unstable_by_key(|of| (of.day.num_days_from_monday(), of.nth));
        self.days.dedup();
    }
}

/// Reads a part of a rule; it is nothing where it cannot be read.
fn read(rule: &mut Rule, (name, value): (&str, &str)) -> Result<(), Option<Wrong>> {
    let number = || {
        let number = value.parse::<u32>().ok();
        number.filter(|number| (1..=100_000).contains(number))
    };
    let list = |most: u32| {
        let numbers = value.split(',').map(|text| signed(text, most));
        numbers.collect::<Option<Vec<i32>>>()
    };
    match name {
        "FREQ" => {
            rule.frequency = match value {
                "DAILY" => Frequency::Daily,
                "WEEKLY" => Frequency::Weekly,
                "MONTHLY" => Frequency::Monthly,
                "YEARLY" => Frequency::Yearly,
                "SECONDLY" | "MINUTELY" | "HOURLY" => {
                    return Err(Some(Wrong::NotRead(format!("{name}={value}"))));
                }
                _ => return Err(None),
            }
        }
        "INTERVAL" => rule.interval = number().ok_or(None)?,
        "COUNT" => rule.count = Some(number().ok_or(None)?),
        "UNTIL" => rule.until = Some(parse(value, None).ok_or(None)?),
        "BYDAY" => {
            let days = value.split(',').map(weekday_of);
            rule.days = days.collect::<Option<_>>().ok_or(None)?;
        }
        "BYMONTHDAY" => rule.month_days = list(31).ok_or(None)?,
        "BYYEARDAY" => rule.year_days = list(366).ok_or(None)?,
        "BYMONTH" => {
            let months = list(12).ok_or(None)?;
            let months = months.into_iter().map(|month| u32::try_from(month).ok());
            rule.months = months.collect::<Option<_>>().ok_or(None)?;
        }
        "BYSETPOS" => rule.positions = list(366).ok_or(None)?,
        "WKST" => rule.week_begins = weekday(value).ok_or(None)?,
        "BYSECOND" | "BYMINUTE" | "BYHOUR" | "BYWEEKNO" | "RSCALE" | "SKIP" => {
            return Err(Some(Wrong::NotRead(name.to_owned())));
        }
        _ => return Err(None),
    }
    Ok(())
}

/// The part of a rule that its frequency does not take (3.3.10).
fn misplaced(rule: &Rule) -> Option<&'static str> {
    let (is_monthly, is_yearly) = (
        rule.frequency == Frequency::Monthly,
        rule.frequency == Frequency::Yearly,
    );
    let has_nth = rule.days.iter().any(|day| day.nth.is_some());
    let has_other = !rule.days.is_empty()
        || !rule.month_days.is_empty()
        || !rule.year_days.is_empty()
        || !rule.months.is_empty();
    if has_nth && !is_monthly && !is_yearly {
        return Some("a number before a day of BYDAY belongs to FREQ=MONTHLY or FREQ=YEARLY");
    }
    if !rule.month_days.is_empty() && rule.frequency == Frequency::Weekly {
        return Some("BYMONTHDAY does not go with FREQ=WEEKLY");
    }
    if !rule.year_days.is_empty() && !is_yearly {
        return Some("BYYEARDAY belongs to FREQ=YEARLY");
    }
    if !rule.positions.is_empty() && !has_other {
        return Some("BYSETPOS picks from what BYDAY, BYMONTHDAY, BYYEARDAY or BYMONTH name");
    }
    None
}

/// What a clock shows at each occurrence up to a time. The beginning of the event is the first, whatever the rule says.
pub(super) fn occurrences(
    rule: &Rule,
    start: Moment,
    (to, site): (NaiveDateTime, Tz),
    left: &mut usize,
) -> Result<Vec<NaiveDateTime>, Wrong> {
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
    let mut named = Named::new(rule, start.wall.date());
    // The day on which the span ends is looked at too: it may begin on it.
    let end = to.date().succ_opt().unwrap_or(NaiveDate::MAX);
    // Nor is anything looked for after the last, whatever the zone that it is told in.
    let last = rule.until.and_then(|until| {
        let day = until.wall.date();
        day.checked_add_days(Days::new(2))
    });
    let end = last.map_or(end, |last| last.min(end));
    while found.len() < most {
        let Some(day) = named.next(end, left)? else {
            break;
        };
        let wall = day.and_time(start.wall.time());
        if wall >= to || is_over(wall) {
            break;
        }
        found.push(wall);
    }
    Ok(found)
}

//! Values of a calendar: days, times of day and lengths.

use chrono::{DateTime, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, Utc};
use chrono_tz::Tz;

use super::{
    Wrong, instant,
    line::{Line, without_folds},
};

/// A day, or a time of day, and the zone that it is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Moment {
    /// What a clock shows; the beginning of the day for a day.
    pub(super) wall: NaiveDateTime,
    /// The zone of that clock; that of the site if none is told.
    zone: Option<Tz>,
    /// Whether it is a day.
    pub(super) is_day: bool,
}

impl Moment {
    /// The zone that it is of, where that of the site is this one.
    pub(super) fn zone(&self, site: Tz) -> Tz {
        self.zone.unwrap_or(site)
    }

    /// Whether it is what the clock of another one shows: it is of the same zone, or of none.
    pub(super) fn is_of_clock(&self, other: &Self, site: Tz) -> bool {
        self.zone.is_none() || self.zone(site) == other.zone(site)
    }

    /// When that is.
    pub(super) fn at(&self, site: Tz) -> DateTime<Utc> {
        instant(self.zone(site), self.wall)
    }
}

/// A length of time: days of the calendar, and time besides.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Length {
    pub(super) days: u64,
    pub(super) time: TimeDelta,
}

/// The one moment that is the value of a line.
pub(super) fn moment(line: &Line<'_>, site: Tz, name: &'static str) -> Result<Moment, Wrong> {
    let found = moments(line, site, name)?;
    match found.as_slice() {
        [one] => Ok(*one),
        _ => Err(Wrong::Value(line.value.to_owned(), name)),
    }
}

/// The moments that are the value of a line, with the zone that its parameters tell (3.2.19, 3.3.4, 3.3.5).
pub(super) fn moments(
    line: &Line<'_>,
    _site: Tz,
    name: &'static str,
) -> Result<Vec<Moment>, Wrong> {
    let zone = match line.parameter("TZID") {
        None => None,
        Some(id) => {
            let named = id.trim_start_matches('/').parse::<Tz>();
            Some(named.map_err(|_unknown| Wrong::Zone(id.to_owned()))?)
        }
    };
    let is_day = line
        .parameter("VALUE")
        .is_some_and(|kind| kind.eq_ignore_ascii_case("DATE"));
    let whole = without_folds(line.value);
    let read = |text: &str| {
        let found = parse(text.trim(), zone);
        let found = found.filter(|moment| moment.is_day == is_day);
        found.ok_or_else(|| Wrong::Value(text.to_owned(), name))
    };
    whole.split(',').map(read).collect()
}

/// A day as `20261225`, a time of day as `20261225T180000`, with `Z` for one of UTC.
pub(super) fn parse(text: &str, zone: Option<Tz>) -> Option<Moment> {
    let Some((day, time)) = text.split_once('T') else {
        return Some(Moment {
            wall: date(text)?.and_time(NaiveTime::MIN),
            zone,
            is_day: true,
        });
    };
    let (time, zone) = match time.strip_suffix('Z') {
        Some(time) => (time, Some(Tz::UTC)),
        None => (time, zone),
    };
    let number = |range: std::ops::Range<usize>| time.get(range)?.parse::<u32>().ok();
    let is_time = time.len() == 6 && time.bytes().all(|b| b.is_ascii_digit());
    // A leap second is read as the second before it (3.3.12).
    let second = number(4..6)?.min(59);
    let time = NaiveTime::from_hms_opt(number(0..2)?, number(2..4)?, second)?;
    is_time.then_some(Moment {
        wall: date(day)?.and_time(time),
        zone,
        is_day: false,
    })
}

fn date(text: &str) -> Option<NaiveDate> {
    let is_date = text.len() == 8 && text.bytes().all(|b| b.is_ascii_digit());
    let number = |range: std::ops::Range<usize>| text.get(range)?.parse::<u32>().ok();
    let year = i32::try_from(number(0..4)?).ok()?;
    // Calendars of buildings are of our time; others would only cost work.
    let is_ours = (1970..=2200).contains(&year);
    let date = NaiveDate::from_ymd_opt(year, number(4..6)?, number(6..8)?)?;
    (is_date && is_ours).then_some(date)
}

/// A length as `P15DT5H0M20S` or `P7W` (3.3.6). Less than nothing is none.
pub(super) fn length(text: &str) -> Option<Length> {
    let text = without_folds(text);
    let text = text.trim();
    let text = text.strip_prefix('+').unwrap_or(text).strip_prefix('P')?;
    let (days, time) = text.split_once('T').map_or((text, ""), |parts| parts);
    if text.is_empty() || text.ends_with('T') {
        return None;
    }
    let days = units(days, "WD")?;
    let time = units(time, "HMS")?;
    let of = |units: &[(char, u32)], unit: char| {
        let own = units.iter().find(|(other, _)| *other == unit);
        own.map_or(0, |(_, count)| i64::from(*count))
    };
    let hours = of(&time, 'H').checked_mul(3_600)?;
    let minutes = of(&time, 'M').checked_mul(60)?;
    let seconds = hours.checked_add(minutes)?.checked_add(of(&time, 'S'))?;
    let weeks = of(&days, 'W').checked_mul(7)?;
    Some(Length {
        days: weeks.checked_add(of(&days, 'D'))?.unsigned_abs(),
        time: TimeDelta::try_seconds(seconds)?,
    })
}

/// Numbers, each before its unit, the units in this order; at most five digits each.
fn units(mut text: &str, allowed: &str) -> Option<Vec<(char, u32)>> {
    let mut found = Vec::new();
    let mut left = allowed;
    while !text.is_empty() {
        let end = text.find(|c: char| !c.is_ascii_digit())?;
        let count = text.get(..end).filter(|digits| digits.len() <= 5)?;
        let unit = text.get(end..)?.chars().next()?;
        left = left.get(left.find(unit)?.checked_add(1)?..)?;
        found.push((unit, count.parse().ok()?));
        text = text.get(end.checked_add(1)?..)?;
    }
    Some(found)
}

//! The days of the holiday, and its calendars as a school's office writes them.

use chrono::{DateTime, Datelike as _, Days, NaiveDate, NaiveTime, SecondsFormat, Utc};

/// A schedule begins at most 300 days from now; some of them are left for who reads on.
const FARTHEST: u64 = 290;
/// So far ahead is planned where the summer is too far away.
const NEAREST: u64 = 28;
/// From the first day to the last: five weeks.
const LENGTH: u64 = 34;

/// Five weeks in which the school is closed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Holiday {
    /// A Monday.
    pub(super) first: NaiveDate,
    /// The last day, a Sunday.
    pub(super) last: NaiveDate,
    /// The first Wednesday: somebody is shown round in the morning.
    pub(super) visit: NaiveDate,
}

impl Holiday {
    /// The next summer holiday, from the first Monday after 24 July. In the weeks after it, from which no schedule reaches so far,
    /// five weeks that begin in a month.
    pub(super) fn after(today: NaiveDate) -> Self {
        let within = |first: &NaiveDate| {
            (today + Days::new(1)..=today + Days::new(FARTHEST)).contains(first)
        };
        let years = [today.year(), today.year().saturating_add(1)];
        let mut summers = years
            .into_iter()
            .filter_map(|year| NaiveDate::from_ymd_opt(year, 7, 24))
            .map(monday);
        let first = summers.find(within);
        let first = first.unwrap_or_else(|| monday(today + Days::new(NEAREST)));
        Self {
            first,
            last: first + Days::new(LENGTH),
            visit: first + Days::new(2),
        }
    }

    /// The first moment of work.
    pub(super) fn from(&self) -> String {
        at(self.first, 6)
    }

    /// The moment by which all is open: the Friday evening of its last week.
    pub(super) fn to(&self) -> String {
        at(self.last - Days::new(2), 18)
    }

    /// The Friday afternoon of its first week.
    pub(super) fn end_of_week(&self) -> String {
        at(self.first + Days::new(4), 15)
    }

    /// When the school is closed.
    pub(super) fn closing_days(&self) -> String {
        calendar(&format!(
            "UID:holiday@school.example\r\nSUMMARY:Holiday\r\nDTSTART;VALUE=DATE:{}\r\nDTEND;VALUE=DATE:{}\r\n",
            self.first.format("%Y%m%d"),
            (self.last + Days::new(1)).format("%Y%m%d")
        ))
    }

    /// When somebody walks over every floor nevertheless: an hour on the first Monday of each month, kept since years, and one
    /// morning.
    pub(super) fn visits(&self) -> String {
        let visit = self.visit.format("%Y%m%d");
        let year = self.first.year().saturating_sub(3);
        let rounds = NaiveDate::from_ymd_opt(year, 1, 1).map_or(self.first, monday);
        calendar(&format!(
            "UID:visit@school.example\r\nSUMMARY:New pupils are shown round\r\nDTSTART:{visit}T090000\r\nDTEND:{visit}T120000\r\n\
             END:VEVENT\r\nBEGIN:VEVENT\r\nUID:round@school.example\r\nSUMMARY:The governors' round\r\n\
             DTSTART:{}T120000\r\nDURATION:PT1H\r\nRRULE:FREQ=MONTHLY;BYDAY=1MO\r\n",
            rounds.format("%Y%m%d")
        ))
    }
}

fn calendar(events: &str) -> String {
    format!(
        "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nBEGIN:VEVENT\r\n{events}END:VEVENT\r\nEND:VCALENDAR\r\n"
    )
}

/// A day that is a Monday, or the next one after it.
fn monday(day: NaiveDate) -> NaiveDate {
    let since = u64::from(day.weekday().num_days_from_monday());
    day + Days::new(7_u64.saturating_sub(since) % 7)
}

fn at(day: NaiveDate, hour: u32) -> String {
    let time = NaiveTime::from_hms_opt(hour, 0, 0).unwrap_or_default();
    let at: DateTime<Utc> = day.and_time(time).and_utc();
    at.to_rfc3339_opts(SecondsFormat::Secs, true)
}

#[cfg(test)]
mod tests {
    use chrono::{Datelike as _, Days, NaiveDate, Weekday};

    use super::{FARTHEST, Holiday};

    fn day(text: &str) -> NaiveDate {
        text.parse().expect("is a day")
    }

    #[test]
    fn it_is_the_next_summer_where_a_schedule_reaches_so_far() {
        let holiday = Holiday::after(day("2026-03-01"));
        assert_eq!(holiday.first, day("2026-07-27"));
        assert_eq!(holiday.last, day("2026-08-30"));
        assert_eq!(Holiday::after(day("2026-11-29")).first, day("2027-07-26"));
        // Too late for this summer, too early for the next.
        assert_eq!(Holiday::after(day("2026-07-27")).first, day("2026-08-24"));
    }

    #[test]
    fn on_every_day_of_four_years_it_lies_ahead_and_in_reach() {
        for n in 0..4 * 366 {
            let today = day("2026-01-01") + Days::new(n);
            let holiday = Holiday::after(today);
            let ahead = (holiday.first - today).num_days();
            assert!(
                (1..=i64::try_from(FARTHEST).expect("fits")).contains(&ahead),
                "{today}"
            );
            assert_eq!(holiday.first.weekday(), Weekday::Mon);
            assert_eq!(holiday.last.weekday(), Weekday::Sun);
            assert_eq!(holiday.visit.weekday(), Weekday::Wed);
        }
    }
}

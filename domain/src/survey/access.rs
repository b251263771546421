//! The weekly hours in which a floor may be closed, by the clock of its site.

use chrono::{Datelike as _, NaiveDate};

use crate::words::words;

/// Minutes of a day and of a week.
const DAY: i64 = 1_440;
const WEEK: i64 = 7 * DAY;

words! {
    /// A day of the week.
    Weekday {
        /// Monday.
        Monday "monday",
        /// Tuesday.
        Tuesday "tuesday",
        /// Wednesday.
        Wednesday "wednesday",
        /// Thursday.
        Thursday "thursday",
        /// Friday.
        Friday "friday",
        /// Saturday.
        Saturday "saturday",
        /// Sunday.
        Sunday "sunday",
    }
}

impl Weekday {
    /// The day of the week of a date.
    pub fn on(day: NaiveDate) -> Self {
        match day.weekday() {
            chrono::Weekday::Mon => Self::Monday,
            chrono::Weekday::Tue => Self::Tuesday,
            chrono::Weekday::Wed => Self::Wednesday,
            chrono::Weekday::Thu => Self::Thursday,
            chrono::Weekday::Fri => Self::Friday,
            chrono::Weekday::Sat => Self::Saturday,
            chrono::Weekday::Sun => Self::Sunday,
        }
    }
}

/// Hours on some days of the week in which a floor may be closed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AccessWindow {
    /// The days on which it opens.
    pub days: Vec<Weekday>,
    /// When it opens, in minutes after midnight.
    pub from_min: i64,
    /// When it closes, in minutes after midnight; on the next day if that is not later than when it opens.
    pub to_min: i64,
}

/// Minutes of the longest time in a week without a break in which a floor may be closed; `None` without windows.
///
/// Windows that touch or overlap count as one. By the clock: the night in which clocks change is an hour off.
pub fn longest_window(windows: &[AccessWindow]) -> Option<i64> {
    let mut spans: Vec<(i64, i64)> = windows.iter().flat_map(spans).collect();
    spans.sort_unstable();
    let mut longest = None;
    let mut open: Option<(i64, i64)> = None;
    // The week follows itself: a second turn joins Sunday night to Monday morning.
    let again = spans.iter().map(|(from, to)| (from + WEEK, to + WEEK));
    for (from, to) in spans.iter().copied().chain(again) {
        let span = match open {
            Some((begun, until)) if from <= until => (begun, until.max(to)),
            _ => (from, to),
        };
        longest = longest.max(Some((span.1 - span.0).min(WEEK)));
        open = Some(span);
    }
    longest
}

/// From when to when, in minutes after the week begins.
fn spans(window: &AccessWindow) -> impl Iterator<Item = (i64, i64)> {
    let (from, to) = (window.from_min, window.to_min);
    let length = if to > from {
        to - from
    } else {
        to + DAY - from
    };
    let midnights = window.days.iter().map(|day| {
        let before = Weekday::ALL.iter().take_while(|other| *other != day);
        before.map(|_day| DAY).sum::<i64>()
    });
    midnights.map(move |midnight| (midnight + from, midnight + from + length))
}

#[cfg(test)]
mod tests {
    use super::{AccessWindow, Weekday, longest_window};

    fn window(days: &[Weekday], from_h: i64, to_h: i64) -> AccessWindow {
        AccessWindow {
            days: days.to_vec(),
            from_min: from_h * 60,
            to_min: to_h * 60,
        }
    }

    #[test]
    fn the_longest_window_may_run_over_midnight() {
        assert_eq!(longest_window(&[]), None);
        let day = window(&[Weekday::Tuesday], 9, 12);
        assert_eq!(longest_window(std::slice::from_ref(&day)), Some(180));
        let night = window(&[Weekday::Friday], 22, 6);
        assert_eq!(longest_window(&[day, night]), Some(480));
    }

    #[test]
    fn windows_that_touch_are_one_and_sunday_runs_into_monday() {
        let evening = window(&[Weekday::Sunday], 18, 0);
        let morning = window(&[Weekday::Monday], 0, 6);
        assert_eq!(longest_window(&[morning.clone(), evening]), Some(720));
        let other = window(&[Weekday::Tuesday], 18, 0);
        assert_eq!(longest_window(&[morning, other]), Some(360));
        let within = window(&[Weekday::Monday], 8, 18);
        let shorter = window(&[Weekday::Monday], 9, 10);
        assert_eq!(longest_window(&[within, shorter]), Some(600));
    }

    #[test]
    fn no_window_is_longer_than_a_week() {
        let always = window(Weekday::ALL, 0, 0);
        assert_eq!(longest_window(&[always]), Some(7 * 1_440));
        let two_days = window(&[Weekday::Saturday, Weekday::Sunday], 0, 0);
        assert_eq!(longest_window(&[two_days]), Some(2 * 1_440));
    }
}

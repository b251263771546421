//! From weekly hours, holidays and one-off openings to access windows.

use super::{Time, Window};

/// Weekly hours: from a minute of a day of the week on for so long, past midnight if need be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Weekly {
    /// Day of the week, 0 for Monday to 6.
    pub weekday: u8,
    /// Minute of the day at which they begin, below 1,440.
    pub from_min: u32,
    /// How many minutes they last, at most 1,440.
    pub minutes: u32,
}

/// A stretch of time that differs from the week, in minutes from the first day's midnight.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exception {
    /// Closed all the time, as on a holiday with guests in the house.
    Closed(Window),
    /// Open all the time, as in school holidays.
    Open(Window),
}

/// When a space may be worked in.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Access {
    /// The weekly hours.
    pub weekly: Vec<Weekly>,
    /// What differs, the later over the earlier.
    pub exceptions: Vec<Exception>,
}

/// The windows of the first `days` days, in units of `unit_min` minutes: cut to whole units, joined where they touch.
/// `first_weekday` is the day of the week of day 0. Minutes are those of the wall; a change of clocks is the caller's.
pub fn access_windows(access: &Access, first_weekday: u8, days: u32, unit_min: u32) -> Vec<Window> {
    let day_min = 1_440;
    let horizon = Time::from(days) * day_min;
    let mut windows = Vec::new();
    // The night before day 0 may still be open on it.
    for day in -1..Time::from(days) {
        let weekday = (Time::from(first_weekday) + day).rem_euclid(7);
        for hours in access
            .weekly
            .iter()
            .filter(|h| Time::from(h.weekday) == weekday)
        {
            let from = day * day_min + Time::from(hours.from_min);
            windows.push(Window {
                from,
                to: from + Time::from(hours.minutes.min(1_440)),
            });
        }
    }
    let mut windows = joined(windows);
    for exception in &access.exceptions {
        match exception {
            Exception::Open(window) => {
                windows.push(*window);
                windows = joined(windows);
            }
            Exception::Closed(closed) => {
                let parts = windows.into_iter().flat_map(|w| {
                    let before = Window {
                        from: w.from,
                        to: w.to.min(closed.from),
                    };
                    let after = Window {
                        from: w.from.max(closed.to),
                        to: w.to,
                    };
                    [before, after]
                });
                windows = joined(parts.collect());
            }
        }
    }
    let unit = Time::from(unit_min.max(1));
    let whole = windows.into_iter().map(|w| Window {
        from: (w.from.max(0) + unit - 1).div_euclid(unit),
        to: w.to.min(horizon).div_euclid(unit),
    });
    whole.filter(|w| w.from < w.to).collect()
}

/// Windows in order, those that touch made one, empty ones left out.
pub(super) fn joined(mut windows: Vec<Window>) -> Vec<Window> {
    windows.retain(|w| w.from < w.to);
    windows.sort_unstable();
    let mut joined: Vec<Window> = Vec::new();
    for window in windows {
        match joined.last_mut() {
            Some(last) if window.from <= last.to => last.to = last.to.max(window.to),
            _ => joined.push(window),
        }
    }
    joined
}

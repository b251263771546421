//! Due dates as a calendar (SVG 1.1) that is legible in black and white: a year of days, each with how much is due on it.

use std::{collections::BTreeMap, fmt::Write as _};

use chrono::{Datelike, NaiveDate, Weekday};

use crate::wire::report::{
    Month,
    chart::{WIDTH, escaped, text},
};

const TITLE: &str = "Floor care that falls due, by day";
/// How many months are shown.
pub(crate) const MONTHS: i32 = 12;
const LEFT: f64 = 96.0;
const TOP: f64 = 104.0;
const CELL: f64 = 25.0;
const SUM: f64 = LEFT + 31.0 * CELL + 10.0;

/// How much is due on each day, and what was due before today.
#[derive(Debug, Default)]
pub(crate) struct Calendar {
    /// By day, from the first month on.
    pub(crate) days: BTreeMap<NaiveDate, u64>,
    /// Before the day of asking.
    pub(crate) n_overdue: u64,
}

/// Draws a year from a month on, as of a day, of a site or of all.
pub(crate) fn chart(calendar: &Calendar, first: Month, (today, of): (NaiveDate, &str)) -> String {
    let mut svg = String::new();
    text(&mut svg, (24.0, 34.0), 20, "start", TITLE);
    let overdue = match calendar.n_overdue {
        0 => "nothing is overdue".to_owned(),
        n => format!("{n} overdue before today"),
    };
    let about = format!("{of}; floors and processes by the day on which they are due; {overdue}");
    text(&mut svg, (24.0, 60.0), 14, "start", &about);
    for day in 1..=31_u32 {
        let x = LEFT + CELL * (f64::from(day) - 0.5);
        text(&mut svg, (x, TOP - 8.0), 11, "middle", &day.to_string());
    }
    text(&mut svg, (SUM + 24.0, TOP - 8.0), 11, "end", "sum");
    let mut told = vec![overdue];
    let mut y = TOP;
    for ahead in 0..MONTHS {
        let Some(month) = first.plus(ahead) else {
            break;
        };
        let sum = days(&mut svg, calendar, (month, today), y);
        let label = month.to_string();
        text(&mut svg, (LEFT - 10.0, y + 17.0), 13, "end", &label);
        text(
            &mut svg,
            (SUM + 24.0, y + 17.0),
            13,
            "end",
            &sum.to_string(),
        );
        told.push(format!("{label}: {sum}"));
        y += CELL;
    }
    let words = "Grey: Saturday and Sunday. Thick frame: today. Darker: more is due.";
    text(&mut svg, (24.0, y + 28.0), 12, "start", words);
    let source = format!("Source: Wearcourse, intervals and films of floors; as of {today}.");
    text(&mut svg, (24.0, y + 48.0), 12, "start", &source);
    let height = y + 66.0;
    format!(
        r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" width="{WIDTH}" height="{height}" role="img" font-family="sans-serif" fill="#000"><title>{TITLE}</title><desc>{}</desc><rect width="100%" height="100%" fill="#fff"/>{svg}</svg>"##,
        escaped(&format!("{}.", told.join("; ")))
    )
}

/// The days of a month; answers how much is due in it.
fn days(svg: &mut String, calendar: &Calendar, (month, today): (Month, NaiveDate), y: f64) -> u64 {
    let mut sum: u64 = 0;
    let Some(mut day) = month.first_day() else {
        return sum;
    };
    let number = day.month();
    while day.month() == number {
        let due = calendar.days.get(&day).copied().unwrap_or(0);
        sum = sum.saturating_add(due);
        let x = LEFT + CELL * f64::from(day.day0());
        let (fill, ink) = shade(due, matches!(day.weekday(), Weekday::Sat | Weekday::Sun));
        let thick = if day == today { "3" } else { "0.5" };
        // Writing to a string does not fail.
        let _ = write!(
            svg,
            r##"<rect x="{x:.1}" y="{y:.1}" width="{CELL}" height="{CELL}" fill="{fill}" stroke="#000" stroke-width="{thick}"/>"##
        );
        if due > 0 {
            let (at, shown) = (
                x + CELL / 2.0,
                if due > 999 {
                    "…".to_owned()
                } else {
                    due.to_string()
                },
            );
            let _ = write!(
                svg,
                r#"<text x="{at:.1}" y="{:.1}" font-size="12" text-anchor="middle" fill="{ink}">{shown}</text>"#,
                y + 17.0
            );
        }
        let Some(next) = day.succ_opt() else { break };
        day = next;
    }
    sum
}

/// What a day is filled with, and what its figure is written in: enough contrast between the two at any step.
const fn shade(due: u64, weekend: bool) -> (&'static str, &'static str) {
    match (due, weekend) {
        (0, true) => ("#e4e4e4", "#000"),
        (0, false) => ("#fff", "#000"),
        (1..=2, _) => ("#bbb", "#000"),
        (3..=9, _) => ("#666", "#fff"),
        _ => ("#111", "#fff"),
    }
}

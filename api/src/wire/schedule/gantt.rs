//! A schedule as a chart (SVG 1.1) that is legible in black and white: a row for each floor, a bar for each visit.

use std::fmt::Write as _;

use chrono::{DateTime, Datelike as _, Days, NaiveTime, TimeZone as _, Utc};
use chrono_tz::Tz;

use super::visit::Visit;
use crate::wire::report::chart::escaped;

const WIDTH: f64 = 1_200.0;
const LEFT: f64 = 230.0;
const RIGHT: f64 = 170.0;
const TOP: f64 = 92.0;
const ROW: f64 = 30.0;
const FOOT: f64 = 40.0;
/// No bar is narrower, or nobody would see it.
const LEAST: f64 = 2.0;
/// The most days that are named on the axis.
const MOST_NAMED: usize = 16;
/// The most characters of a name.
const NAME: usize = 30;

/// Draws visits, by the clock of a site.
pub(crate) fn chart(site: &str, zone: Tz, visits: &[Visit]) -> String {
    let mut floors: Vec<&str> = Vec::new();
    let mut crews: Vec<&str> = Vec::new();
    for visit in visits {
        if !floors.contains(&visit.surface_id.as_str()) {
            floors.push(&visit.surface_id);
        }
        if !crews.contains(&visit.crew.as_str()) {
            crews.push(&visit.crew);
        }
    }
    let days = days(zone, visits);
    let first = days.first().copied().unwrap_or_default();
    let last = days.last().copied().unwrap_or_default();
    let minutes = domain::quantity::float((last - first).num_minutes().max(1));
    let x = |at: DateTime<Utc>| {
        let since = domain::quantity::float((at - first).num_minutes());
        LEFT + since / minutes * (WIDTH - LEFT - RIGHT)
    };
    let number = |count: usize| domain::quantity::float(i64::try_from(count).unwrap_or(0));
    let bottom = TOP + ROW * number(floors.len());
    let mut body = String::new();
    axis(&mut body, (zone, &days), bottom, &x);
    for (row, floor) in floors.iter().enumerate() {
        let y = TOP + ROW * number(row);
        let own: Vec<&Visit> = visits
            .iter()
            .filter(|visit| visit.surface_id == *floor)
            .collect();
        floor_row(&mut body, y, &own, zone, &x);
        for visit in &own {
            let crew = crews.iter().position(|crew| *crew == visit.crew);
            bar(&mut body, visit, (y, crew.unwrap_or(0)), zone, &x);
        }
    }
    legend(&mut body, &crews);
    let told: Vec<String> = visits.iter().map(|visit| told(visit, zone)).collect();
    let title = format!("Floors of {site}: when each is worked on and when it opens");
    format!(
        concat!(
            r#"<svg xmlns="http://www.w3.org/2000/svg" width="{w}" height="{h}" viewBox="0 0 {w} {h}" role="img" "#,
            r#"aria-labelledby="t d" font-family="sans-serif"><title id="t">{title}</title><desc id="d">{desc}</desc>"#,
            r##"<defs><pattern id="p1" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">"##,
            r##"<rect width="6" height="6" fill="#fff"/><rect width="3" height="6" fill="#000"/></pattern>"##,
            r##"<pattern id="p2" width="5" height="5" patternUnits="userSpaceOnUse"><rect width="5" height="5" fill="#fff"/>"##,
            r##"<circle cx="2.5" cy="2.5" r="1.5" fill="#000"/></pattern></defs>"##,
            r##"<rect width="{w}" height="{h}" fill="#fff"/><text x="24" y="28" font-size="17" font-weight="bold">{title}</text>{body}"##,
            r##"<text x="24" y="{foot:.0}" font-size="12">Dates and hours by the clock of {zone}. A bar is a visit of a crew; a diamond is when people may walk on the finished floor.</text></svg>"##
        ),
        w = WIDTH,
        h = bottom + FOOT,
        title = escaped(&title),
        desc = escaped(&told.join(" ")),
        body = body,
        foot = bottom + FOOT - 12.0,
        zone = escaped(zone.name()),
    )
}

/// The name of a floor, its line, and when it opens.
fn floor_row(
    body: &mut String,
    y: f64,
    own: &[&Visit],
    zone: Tz,
    x: &dyn Fn(DateTime<Utc>) -> f64,
) {
    let name = own.first().map_or("", |visit| visit.surface.as_str());
    let name: String = name.chars().take(NAME).collect();
    label(body, (LEFT - 8.0, y + 19.0), "end", &name);
    let (low, right) = (y + ROW, WIDTH - RIGHT);
    let _ = write!(
        body,
        r##"<line x1="{LEFT}" y1="{low:.1}" x2="{right:.1}" y2="{low:.1}" stroke="#999" stroke-width="0.5"/>"##
    );
    let Some(opens) = own.iter().map(|visit| visit.walk_at).max() else {
        return;
    };
    let at = x(opens).min(right);
    let _ = write!(
        body,
        r##"<path d="M{at:.1} {:.1}l7 11l-7 11l-7 -11Z" fill="#fff" stroke="#000" stroke-width="1.5"/>"##,
        y + 4.0
    );
    let told = opens.with_timezone(&zone).format("open %a %-d %b %H:%M");
    label(body, (right + 12.0, y + 19.0), "start", &told.to_string());
}

fn told(visit: &Visit, zone: Tz) -> String {
    let local = |at: DateTime<Utc>| at.with_timezone(&zone).format("%Y-%m-%d %H:%M").to_string();
    format!(
        "{}: {} by {} from {} to {}, open {}.",
        visit.surface,
        visit.parts.join(", "),
        visit.crew,
        local(visit.from),
        local(visit.to),
        local(visit.walk_at)
    )
}

/// The midnights between which all visits lie.
fn days(zone: Tz, visits: &[Visit]) -> Vec<DateTime<Utc>> {
    let from = visits
        .iter()
        .map(|visit| visit.from)
        .min()
        .unwrap_or_default();
    let to = visits
        .iter()
        .map(|visit| visit.walk_at)
        .max()
        .unwrap_or_default();
    let mut day = from.with_timezone(&zone).date_naive();
    let last = to.with_timezone(&zone).date_naive();
    let midnight = |day: chrono::NaiveDate| {
        let local = day.and_time(NaiveTime::MIN);
        let found = zone.from_local_datetime(&local).earliest();
        found.map_or_else(|| local.and_utc(), |at| at.with_timezone(&Utc))
    };
    let mut days = vec![midnight(day)];
    while day <= last {
        let Some(next) = day.checked_add_days(Days::new(1)) else {
            break;
        };
        day = next;
        days.push(midnight(day));
    }
    days
}

fn axis(
    body: &mut String,
    (zone, days): (Tz, &[DateTime<Utc>]),
    bottom: f64,
    x: &dyn Fn(DateTime<Utc>) -> f64,
) {
    let every = days.len().div_ceil(MOST_NAMED).max(1);
    for (index, day) in days.iter().enumerate() {
        let at = x(*day);
        let local = day.with_timezone(&zone);
        let width = if local.weekday() == chrono::Weekday::Mon {
            1.2
        } else {
            0.5
        };
        let _ = write!(
            body,
            r##"<line x1="{at:.1}" y1="{0:.1}" x2="{at:.1}" y2="{bottom:.1}" stroke="#777" stroke-width="{width}"/>"##,
            TOP - 6.0
        );
        let is_last = index.saturating_add(1) == days.len();
        if index % every == 0 && !is_last {
            label(
                body,
                (at + 2.0, TOP - 12.0),
                "start",
                &local.format("%a %-d %b").to_string(),
            );
        }
    }
}

fn bar(
    body: &mut String,
    visit: &Visit,
    (y, crew): (f64, usize),
    zone: Tz,
    x: &dyn Fn(DateTime<Utc>) -> f64,
) {
    let (from, to) = (x(visit.from), x(visit.to));
    let fill = fill(crew);
    let _ = write!(
        body,
        r##"<rect x="{from:.1}" y="{:.1}" width="{:.1}" height="18" fill="{fill}" stroke="#000"><title>{}</title></rect>"##,
        y + 6.0,
        (to - from).max(LEAST),
        escaped(&told(visit, zone))
    );
}

const fn fill(crew: usize) -> &'static str {
    match crew % 4 {
        0 => "#555",
        1 => "url(#p1)",
        2 => "url(#p2)",
        _ => "#fff",
    }
}

fn legend(body: &mut String, crews: &[&str]) {
    let mut x = 24.0;
    for (index, crew) in crews.iter().take(8).enumerate() {
        let name: String = crew.chars().take(NAME).collect();
        let _ = write!(
            body,
            r##"<rect x="{x:.0}" y="42" width="26" height="14" fill="{}" stroke="#000"/>"##,
            fill(index)
        );
        label(body, (x + 32.0, 54.0), "start", &name);
        let letters = i64::try_from(name.chars().count()).unwrap_or(0);
        x += 60.0 + domain::quantity::float(letters) * 7.5;
    }
}

fn label(body: &mut String, (x, y): (f64, f64), anchor: &str, words: &str) {
    let _ = write!(
        body,
        r#"<text x="{x:.1}" y="{y:.1}" font-size="12" text-anchor="{anchor}">{}</text>"#,
        escaped(words)
    );
}

//! A forecast as a chart (SVG 1.1) that is legible in black and white: for each currency the cost of each month, with how far it may
//! come, and how many jobs fall due in it.

use std::fmt::Write as _;

use domain::money::Currency;

use super::{Cost, Forecast, money};
use crate::wire::report::{
    Month,
    chart::{LEFT, PLOT, RIGHT, TOP, WIDTH, count, escaped, rect, text, tick_text, ticks},
};

/// What lies below the plot.
const FOOT: f64 = 100.0;
const TITLE: &str = "Cost of floor care that falls due, by month";

/// A month as it is drawn.
struct Point {
    month: Month,
    n_jobs: u64,
    /// Units of the currency.
    p50: f64,
    p80: f64,
    p90: f64,
    told: String,
}

fn point(month: Month, cost: &Cost, rho: f64, currency: Currency) -> Point {
    let found = cost.sum.percentiles(rho);
    let amount = |amount: f64| money(amount, currency).text();
    let jobs = match cost.n_jobs {
        1 => "1 job".to_owned(),
        n => format!("{n} jobs"),
    };
    Point {
        told: format!(
            "{month}: {jobs}, P50 {}, P80 {}, P90 {}",
            amount(found.p50),
            amount(found.p80),
            amount(found.p90)
        ),
        month,
        n_jobs: cost.n_jobs,
        p50: found.p50 / 1e4,
        p80: found.p80 / 1e4,
        p90: found.p90 / 1e4,
    }
}

/// Draws a forecast, one picture below the other for each currency.
pub(crate) fn chart(forecast: &Forecast) -> String {
    let rho = forecast.base.spread.shared;
    let (mut body, mut told, mut height) = (String::new(), Vec::new(), 0.0);
    for (currency, months) in forecast.currencies.values() {
        let pairs = forecast.months.iter().zip(months);
        let points: Vec<Point> = pairs
            .map(|(month, cost)| point(*month, cost, rho, *currency))
            .collect();
        let words: Vec<&str> = points.iter().map(|point| point.told.as_str()).collect();
        told.push(format!("In {}. {}.", currency.code(), words.join("; ")));
        let _ = write!(body, r#"<g transform="translate(0 {height:.0})">"#);
        picture(&mut body, forecast, currency.code(), &points);
        body.push_str("</g>");
        height += TOP + PLOT + FOOT;
    }
    if told.is_empty() {
        let nothing = "Nothing falls due in these months.";
        text(&mut body, (24.0, 40.0), 14, "start", nothing);
        told.push(nothing.to_owned());
        height = 80.0;
    }
    let desc = escaped(&told.join(" "));
    format!(
        r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" width="{WIDTH}" height="{height}" role="img" font-family="sans-serif" fill="#000"><title>{TITLE}</title><desc>{desc}</desc><rect width="100%" height="100%" fill="#fff"/>{body}</svg>"##
    )
}

/// Heading, axis, columns and what stands below them.
fn picture(svg: &mut String, forecast: &Forecast, currency: &str, points: &[Point]) {
    text(svg, (24.0, 34.0), 20, "start", TITLE);
    let unit = format!("{currency}, before tax");
    text(svg, (24.0, 60.0), 14, "start", &unit);
    rect(svg, (560.0, 48.0), (18.0, 14.0), "#999");
    text(svg, (586.0, 60.0), 14, "start", "P50: half of all cases");
    whisker(svg, 766.0, (46.0, 54.0, 64.0), 7.0);
    text(svg, (780.0, 60.0), 14, "start", "up to P80 and P90");
    let floor = TOP + PLOT;
    let most = points.iter().map(|point| point.p90).fold(0.0, f64::max);
    let (step, top) = ticks(most);
    let height = |size: f64| PLOT * size / top;
    let mut tick = 0.0;
    while tick <= top + step / 2.0 {
        let y = floor - height(tick);
        let end = WIDTH - RIGHT;
        // Writing to a string does not fail.
        let _ = write!(
            svg,
            r##"<path d="M{LEFT} {y:.1}H{end:.1}" stroke="#bbb" stroke-width="1"/>"##
        );
        let label = tick_text(tick, step);
        text(svg, (LEFT - 8.0, y + 5.0), 13, "end", &label);
        tick += step;
    }
    let slot = (WIDTH - LEFT - RIGHT) / count(points.len()).max(1.0);
    let wide = (slot * 0.6).min(48.0);
    let every = points.len().div_ceil(12).max(1);
    let mut middle = LEFT + slot / 2.0;
    for (place, point) in points.iter().enumerate() {
        if point.p50 > 0.0 {
            let high = height(point.p50);
            rect(
                svg,
                (middle - wide / 2.0, floor - high),
                (wide, high),
                "#999",
            );
            let ends = (
                floor - height(point.p90),
                floor - height(point.p80),
                floor - high,
            );
            whisker(svg, middle, ends, wide / 3.0);
        }
        if place % every == 0 {
            let (label, jobs) = (point.month.to_string(), point.n_jobs.to_string());
            text(svg, (middle, floor + 20.0), 13, "middle", &label);
            text(svg, (middle, floor + 40.0), 13, "middle", &jobs);
        }
        middle += slot;
    }
    text(svg, (LEFT - 8.0, floor + 40.0), 13, "end", "jobs due");
    let end = WIDTH - RIGHT;
    let _ = write!(
        svg,
        r##"<path d="M{LEFT} {floor}H{end:.1}" stroke="#000" stroke-width="1.5"/>"##
    );
    let source = format!(
        "Source: Wearcourse, what is due and comes again, at today's rates; made {}.",
        forecast.at.date_naive()
    );
    text(svg, (24.0, floor + 72.0), 12, "start", &source);
}

/// A line from P50 up to P90, with a bar across at P80 and at its end.
fn whisker(svg: &mut String, x: f64, (p90, p80, p50): (f64, f64, f64), half: f64) {
    let (left, right) = (x - half, x + half);
    let _ = write!(
        svg,
        r##"<path d="M{x:.1} {p50:.1}V{p90:.1}M{left:.1} {p80:.1}H{right:.1}M{left:.1} {p90:.1}H{right:.1}" stroke="#000" stroke-width="1.5" fill="none"/>"##
    );
}

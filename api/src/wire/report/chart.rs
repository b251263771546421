//! A cost report as a chart (SVG 1.1) that is legible in black and white: planned beside actual over time, or the cost of a m² by
//! anything else. Each currency has a picture of its own; numbers are those of the rows.

use std::fmt::Write as _;

use super::{CostRowView, Month, NetAndTax};
use crate::wire::money::MoneyView;

/// What a chart is sent as.
pub(crate) const CONTENT_TYPE: &str = "image/svg+xml";
/// The most bars of one chart that is not over time.
pub(crate) const MAX_BARS: usize = 40;

/// Sizes in pixels.
pub(crate) const WIDTH: f64 = 960.0;
pub(crate) const LEFT: f64 = 90.0;
pub(crate) const RIGHT: f64 = 24.0;
pub(crate) const TOP: f64 = 96.0;
pub(crate) const PLOT: f64 = 280.0;
const FOOT: f64 = 76.0;
const BAR: f64 = 30.0;
const NAMES: f64 = 250.0;

/// What a chart shows, and of which months.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Chart<'a> {
    /// Whether rows are stretches of time.
    pub(crate) is_over_time: bool,
    /// What rows are grouped by, in words.
    pub(crate) by: &'a str,
    /// The first month and the one after the last.
    pub(crate) months: (Month, Month),
}

/// One place on the axis.
struct Point {
    label: String,
    planned: Option<Bar>,
    actual: Option<Bar>,
}

/// An amount as it is drawn and as it is told.
struct Bar {
    size: f64,
    text: String,
}

impl Bar {
    fn of(money: &MoneyView) -> Self {
        // What counts is never negative; a text that is no number is drawn as nothing and told as it is.
        let size = money.amount.parse::<f64>().unwrap_or(0.0).max(0.0);
        let text = money.amount.clone();
        Self { size, text }
    }
}

impl Point {
    fn of(chart: Chart<'_>, row: &CostRowView) -> Self {
        let net = |sum: &NetAndTax| Bar::of(&sum.net);
        if chart.is_over_time {
            return Self {
                label: label(row),
                planned: row.planned.as_ref().map(net),
                actual: Some(net(&row.actual)),
            };
        }
        Self {
            label: label(row),
            planned: None,
            actual: row.actual_per_m2.as_ref().map(Bar::of),
        }
    }

    fn most(&self) -> f64 {
        let bars = [&self.planned, &self.actual].into_iter().flatten();
        bars.map(|bar| bar.size).fold(0.0, f64::max)
    }

    /// In words, for whoever does not see the picture.
    fn told(&self) -> String {
        let actual = self.actual.as_ref().map_or("none", |bar| bar.text.as_str());
        match &self.planned {
            Some(planned) => format!("{}: planned {}, actual {actual}", self.label, planned.text),
            None => format!("{}: {actual}", self.label),
        }
    }
}

/// What people call what a row is grouped by.
fn label(row: &CostRowView) -> String {
    let words = [
        row.month.as_ref(),
        row.quarter.as_ref(),
        row.year.as_ref(),
        row.site_name.as_ref(),
        row.surface_name.as_ref(),
        row.contractor_name.as_ref(),
        row.storey.as_ref(),
        row.material.as_ref(),
        row.process.as_ref(),
        row.stage.as_ref().and_then(Option::as_ref),
        row.product_class.as_ref().and_then(Option::as_ref),
    ];
    let rest = if row.is_other == Some(true) {
        "all others"
    } else {
        "none"
    };
    words
        .into_iter()
        .flatten()
        .next()
        .map_or_else(|| rest.to_owned(), Clone::clone)
}

/// Draws the rows, one picture below the other for each currency.
pub(crate) fn chart(chart: Chart<'_>, rows: &[CostRowView]) -> String {
    let mut currencies: Vec<&str> = rows.iter().map(|row| row.currency).collect();
    currencies.sort_unstable();
    currencies.dedup();
    let (mut body, mut told, mut height) = (String::new(), Vec::new(), 0.0);
    for currency in currencies {
        let own = rows.iter().filter(|row| row.currency == currency);
        let points: Vec<Point> = own.map(|row| Point::of(chart, row)).collect();
        let words: Vec<String> = points.iter().map(Point::told).collect();
        told.push(format!("In {currency}. {}.", words.join("; ")));
        let _ = write!(body, r#"<g transform="translate(0 {height})">"#);
        heading(&mut body, chart, currency);
        height += if chart.is_over_time {
            columns(&mut body, chart, &points)
        } else {
            bars(&mut body, chart, &points)
        };
        body.push_str("</g>");
    }
    if told.is_empty() {
        text(
            &mut body,
            (LEFT, 40.0),
            14,
            "start",
            "Nothing was done or accepted in these months.",
        );
        told.push("Nothing was done or accepted in these months.".to_owned());
        height = 80.0;
    }
    let (title, desc) = (escaped(&title(chart)), escaped(&told.join(" ")));
    format!(
        r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" width="{WIDTH}" height="{height}" role="img" font-family="sans-serif" fill="#000"><title>{title}</title><desc>{desc}</desc><defs><pattern id="planned" width="6" height="6" patternUnits="userSpaceOnUse"><rect width="6" height="6" fill="#fff"/><path d="M0 6L6 0" stroke="#000" stroke-width="1"/></pattern></defs><rect width="100%" height="100%" fill="#fff"/>{body}</svg>"##
    )
}

fn title(chart: Chart<'_>) -> String {
    if chart.is_over_time {
        format!("Cost of floor care by {}: planned beside actual", chart.by)
    } else {
        format!("Cost of a m² of floor care by {}", chart.by)
    }
}

/// Title, unit and legend.
fn heading(svg: &mut String, chart: Chart<'_>, currency: &str) {
    text(svg, (24.0, 34.0), 20, "start", &title(chart));
    let unit = if chart.is_over_time {
        format!("{currency}, before tax")
    } else {
        format!("{currency} a m² that was worked on, before tax")
    };
    text(svg, (24.0, 60.0), 14, "start", &unit);
    if chart.is_over_time {
        for (x, fill, word) in [
            (720.0, "url(#planned)", "planned"),
            (830.0, "#222", "actual"),
        ] {
            rect(svg, (x, 48.0), (18.0, 14.0), fill);
            text(svg, (x + 26.0, 60.0), 14, "start", word);
        }
    }
}

/// Columns over time; answers how high the picture is.
fn columns(svg: &mut String, chart: Chart<'_>, points: &[Point]) -> f64 {
    let floor = TOP + PLOT;
    let most = points.iter().map(Point::most).fold(0.0, f64::max);
    let (step, top) = ticks(most);
    let height = |size: f64| PLOT * size / top;
    let mut tick = 0.0;
    while tick <= top + step / 2.0 {
        let y = floor - height(tick);
        let _ = write!(
            svg,
            r##"<path d="M{LEFT} {y:.1}H{:.1}" stroke="#bbb" stroke-width="1"/>"##,
            WIDTH - RIGHT
        );
        text(
            svg,
            (LEFT - 8.0, y + 5.0),
            13,
            "end",
            &tick_text(tick, step),
        );
        tick += step;
    }
    let n = count(points.len());
    let slot = (WIDTH - LEFT - RIGHT) / n.max(1.0);
    let wide = (slot * 0.38).min(40.0);
    let every = points.len().div_ceil(12).max(1);
    let mut middle = LEFT + slot / 2.0;
    for (place, point) in points.iter().enumerate() {
        let pairs = [
            (&point.planned, middle - wide, "url(#planned)"),
            (&point.actual, middle, "#222"),
        ];
        for (bar, x, fill) in pairs {
            if let Some(bar) = bar.as_ref().filter(|bar| bar.size > 0.0) {
                let high = height(bar.size);
                rect(svg, (x, floor - high), (wide, high), fill);
            }
        }
        if place % every == 0 {
            text(svg, (middle, floor + 20.0), 13, "middle", &point.label);
        }
        middle += slot;
    }
    let _ = write!(
        svg,
        r##"<path d="M{LEFT} {floor}H{:.1}" stroke="#000" stroke-width="1.5"/>"##,
        WIDTH - RIGHT
    );
    source(svg, floor + 52.0, chart);
    floor + FOOT
}

/// Bars beside names; answers how high the picture is.
fn bars(svg: &mut String, chart: Chart<'_>, points: &[Point]) -> f64 {
    let most = points.iter().map(Point::most).fold(0.0, f64::max);
    let (_, top) = ticks(most);
    // The amounts stand behind the bars.
    let long = WIDTH - NAMES - RIGHT - 90.0;
    let mut y = TOP - 12.0;
    for point in points {
        text(svg, (NAMES - 10.0, y + 19.0), 14, "end", &cut(&point.label));
        match &point.actual {
            Some(bar) => {
                let size = long * bar.size / top;
                rect(svg, (NAMES, y + 4.0), (size, BAR - 10.0), "#222");
                text(svg, (NAMES + size + 8.0, y + 19.0), 14, "start", &bar.text);
            }
            None => text(
                svg,
                (NAMES + 8.0, y + 19.0),
                14,
                "start",
                "no area was worked on",
            ),
        }
        y += BAR;
    }
    let _ = write!(
        svg,
        r##"<path d="M{NAMES} {:.1}V{y}" stroke="#000" stroke-width="1.5"/>"##,
        TOP - 12.0
    );
    source(svg, y + 34.0, chart);
    y + 58.0
}

/// Where the numbers come from.
fn source(svg: &mut String, y: f64, chart: Chart<'_>) {
    let (from, to) = chart.months;
    let last = to.plus(-1).unwrap_or(to);
    let words = format!(
        "Source: Wearcourse, completions that count, {from} to {last}. What is committed is not in it."
    );
    text(svg, (24.0, y), 12, "start", &words);
}

/// The step of an axis and its end: 1, 2 or 5 times a power of ten, at most six steps.
pub(crate) fn ticks(most: f64) -> (f64, f64) {
    let least = (most / 6.0).max(0.01);
    let power = 10_f64.powf(least.log10().floor());
    let steps = [1.0, 2.0, 5.0, 10.0].map(|factor| factor * power);
    let step = steps
        .into_iter()
        .find(|step| *step >= least)
        .unwrap_or(power * 10.0);
    (step, (most / step).ceil().max(1.0) * step)
}

pub(crate) fn tick_text(tick: f64, step: f64) -> String {
    if step < 1.0 {
        format!("{tick:.2}")
    } else {
        format!("{tick:.0}")
    }
}

pub(crate) fn count(n: usize) -> f64 {
    u32::try_from(n).map_or(f64::from(u32::MAX), f64::from)
}

/// A name that fits beside its bar.
pub(crate) fn cut(name: &str) -> String {
    const MOST: usize = 30;
    if name.chars().count() <= MOST {
        return name.to_owned();
    }
    let head: String = name.chars().take(MOST - 1).collect();
    format!("{head}…")
}

pub(crate) fn rect(svg: &mut String, (x, y): (f64, f64), (width, height): (f64, f64), fill: &str) {
    // Writing to a string does not fail.
    let _ = write!(
        svg,
        r##"<rect x="{x:.1}" y="{y:.1}" width="{width:.1}" height="{height:.1}" fill="{fill}" stroke="#000" stroke-width="1"/>"##
    );
}

pub(crate) fn text(svg: &mut String, (x, y): (f64, f64), size: u32, anchor: &str, words: &str) {
    let words = escaped(words);
    let _ = write!(
        svg,
        r#"<text x="{x:.1}" y="{y:.1}" font-size="{size}" text-anchor="{anchor}">{words}</text>"#
    );
}

/// Text as XML has it; what XML cannot hold is left out.
pub(crate) fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => {}
            c => safe.push(c),
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::{escaped, ticks};

    #[test]
    fn an_axis_has_round_steps_and_holds_the_highest() {
        for (most, expected) in [
            (0.0, (0.01, 0.01)),
            (6.0, (1.0, 6.0)),
            (6.1, (2.0, 8.0)),
            (43.0, (10.0, 50.0)),
            (2_900.0, (500.0, 3_000.0)),
        ] {
            let (step, top) = ticks(most);
            let near = |one: f64, other: f64| (one - other).abs() < 1e-9 * other.max(1.0);
            assert!(
                near(step, expected.0) && near(top, expected.1),
                "{most}: {step}, {top}"
            );
        }
    }

    #[test]
    fn a_hostile_name_is_text() {
        assert_eq!(
            escaped("<script>&\"\u{1}x\u{ffff}"),
            "&lt;script&gt;&amp;&quot;x"
        );
    }
}

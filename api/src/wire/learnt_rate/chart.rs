//! Learnt figures as a chart (SVG 1.1) that is legible in black and white: for each figure how far jobs have moved it from the
//! usual one, how well it is known by now, and from how many jobs.

use std::fmt::Write as _;

use chrono::NaiveDate;
use domain::learning::Kind;

use crate::{
    app::learning::{LearntLine, Subject},
    wire::report::chart::{RIGHT, WIDTH, count, cut, escaped, rect, text},
};

const TITLE: &str = "Learnt from jobs: rates, coverage and dry times beside what is usual";
/// Names end here; the scale begins.
const NAMES: f64 = 250.0;
/// How many jobs stands here.
const JOBS: f64 = WIDTH - RIGHT;
const SCALE_END: f64 = WIDTH - RIGHT - 140.0;
const TOP: f64 = 118.0;
const ROW: f64 = 30.0;
/// The scale goes from a fourth of what is usual to four times.
const MOST: f64 = 4.0;
const MARKS: [(f64, &str); 5] = [
    (0.25, "¼"),
    (0.5, "½"),
    (1.0, "usual"),
    (2.0, "2×"),
    (4.0, "4×"),
];

/// Where a factor lies on the logarithmic scale; what is beyond it lies at its end.
fn at(factor: f64) -> f64 {
    let share = (factor.ln() / MOST.ln()).clamp(-1.0, 1.0);
    NAMES + (SCALE_END - NAMES) * (share + 1.0) / 2.0
}

fn told(rate: &LearntLine) -> String {
    let subject = &rate.subject;
    let [_, typical, _] = subject.usual;
    // Rates in whole square metres, multiples to the hundredth.
    let digits = if subject.kind == Kind::Rate { 0 } else { 2 };
    let shown = |multiple: f64| format!("{:.digits$}", typical * multiple);
    let [low, high] = rate.figure.interval_80();
    format!(
        "{}: usual {}, learnt {} {} ({} to {} in four cases of five), from {} jobs",
        named(subject),
        shown(1.0),
        shown(rate.figure.median()),
        subject.unit,
        shown(low),
        shown(high),
        rate.figure.n_jobs,
    )
}

/// What a figure is called in a row.
fn named(subject: &Subject) -> String {
    match subject.kind {
        Kind::Rate => subject.name.clone(),
        Kind::Coverage => format!("coverage: {}", subject.name),
        Kind::DryTime => format!("dry time: {}", subject.name),
    }
}

/// Draws the figures of a site, as they are on a day.
pub(crate) fn chart(rates: &[LearntLine], day: NaiveDate) -> String {
    let mut svg = String::new();
    text(&mut svg, (24.0, 34.0), 20, "start", TITLE);
    let about = "as multiples: rates of the usual one, coverage of the data sheet, dry times of the drying model";
    text(&mut svg, (24.0, 60.0), 14, "start", about);
    legend(&mut svg);
    let floor = TOP + ROW * count(rates.len());
    if rates.is_empty() {
        text(
            &mut svg,
            (24.0, TOP + 20.0),
            14,
            "start",
            "No job has told a figure yet.",
        );
    } else {
        for (factor, label) in MARKS {
            let (x, bold) = (at(factor), if label == "usual" { "1.5" } else { "0.5" });
            // Writing to a string does not fail.
            let _ = write!(
                svg,
                r##"<path d="M{x:.1} {:.1}V{floor:.1}" stroke="#777" stroke-width="{bold}"/>"##,
                TOP - 6.0
            );
            text(&mut svg, (x, TOP - 12.0), 13, "middle", label);
        }
        text(&mut svg, (JOBS, TOP - 12.0), 13, "end", "jobs");
    }
    for (n, rate) in rates.iter().enumerate() {
        row(&mut svg, TOP + ROW * count(n), rate);
    }
    let height = floor + 60.0;
    let source = format!("Source: Wearcourse, completions that count; as of {day}.");
    text(&mut svg, (24.0, floor + 36.0), 12, "start", &source);
    let words: Vec<String> = rates.iter().map(told).collect();
    let desc = if words.is_empty() {
        "No job has told a figure yet.".to_owned()
    } else {
        format!("{}.", words.join("; "))
    };
    format!(
        r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" width="{WIDTH}" height="{height}" role="img" font-family="sans-serif" fill="#000"><title>{TITLE}</title><desc>{}</desc><rect width="100%" height="100%" fill="#fff"/>{svg}</svg>"##,
        escaped(&desc)
    )
}

fn legend(svg: &mut String) {
    rect(svg, (24.0, 74.0), (36.0, 10.0), "#ddd");
    text(svg, (68.0, 84.0), 13, "start", "lowest to highest usually");
    interval(svg, (290.0, 326.0, 79.0), 308.0);
    text(
        svg,
        (336.0, 84.0),
        13,
        "start",
        "learnt, and where it lies in four cases of five",
    );
    text(svg, (660.0, 84.0), 13, "start", "* plans use it");
}

fn row(svg: &mut String, y: f64, rate: &LearntLine) {
    let [slowest, typical, fastest] = rate.subject.usual;
    let (left, right) = (at(slowest / typical), at(fastest / typical));
    text(
        svg,
        (NAMES - 10.0, y + 20.0),
        14,
        "end",
        &cut(&named(&rate.subject)),
    );
    rect(svg, (left, y + 10.0), (right - left, 10.0), "#ddd");
    let [low, high] = rate.figure.interval_80();
    interval(svg, (at(low), at(high), y + 15.0), at(rate.figure.median()));
    let median = rate.figure.median();
    if median < MOST.recip() || median > MOST {
        let (x, anchor) = if median > 1.0 {
            (SCALE_END - 12.0, "end")
        } else {
            (NAMES + 12.0, "start")
        };
        let beyond = format!("beyond: {median:.2}×");
        text(svg, (x, y + 20.0), 13, anchor, &beyond);
    }
    let used = if rate.standing.word() == "used" {
        " *"
    } else {
        ""
    };
    let jobs = format!("{}{used}", rate.figure.n_jobs);
    text(svg, (JOBS, y + 20.0), 14, "end", &jobs);
}

/// A line from low to high with bars at its ends, and a dot where the figure lies.
fn interval(svg: &mut String, (low, high, y): (f64, f64, f64), at: f64) {
    let (above, below) = (y - 6.0, y + 6.0);
    let _ = write!(
        svg,
        r##"<path d="M{low:.1} {y:.1}H{high:.1}M{low:.1} {above:.1}V{below:.1}M{high:.1} {above:.1}V{below:.1}" stroke="#000" stroke-width="2" fill="none"/><circle cx="{at:.1}" cy="{y:.1}" r="5" fill="#000"/>"##
    );
}

//! The time from closing to reopening as a bar, with a mark where each part of the work is done.

use maud::{Markup, html};

use super::{
    measure::minutes,
    told::{Event, TimeLine},
    words::Words,
};

/// How wide the bar is, in its own units.
const WIDTH: f64 = 480.0;
const LEFT: f64 = 12.0;
const TOP: f64 = 26.0;
const HEIGHT: f64 = 26.0;
/// How far two marks stand apart at least for both to have their numbers on one line.
const APART: f64 = 20.0;

/// The bar of a plan that is done in one go; one that is done in several windows has a table of them.
pub(super) fn bar(line: &TimeLine, words: &Words) -> Markup {
    let opened = line.events.iter().find(|event| event.key == "walk");
    let Some(opened) = opened.filter(|event| event.used_min > 0 && line.nights.is_empty()) else {
        return html! {};
    };
    let marks: Vec<(usize, &Event)> = (1..)
        .zip(&line.events)
        .filter(|(_, event)| event.used_min <= opened.used_min)
        .collect();
    let at = |minute: i64| LEFT + share(minute, opened.used_min) * (WIDTH - 2.0 * LEFT);
    let work = marks.iter().filter(|(_, event)| event.key == "work_done");
    let done = work.map(|(_, event)| event.used_min).max().unwrap_or(0);
    html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {WIDTH} 92")) width=(WIDTH) height="92" role="img" aria-label=(format!("{}: {} {}, {} {}", words.when, words.last_work, minutes(done), words.reopened, minutes(opened.used_min))) {
            rect x=(tenth(LEFT)) y=(TOP) width=(tenth(at(done) - LEFT)) height=(HEIGHT) fill="#444" stroke="#000" {}
            rect x=(tenth(at(done))) y=(TOP) width=(tenth(at(opened.used_min) - at(done))) height=(HEIGHT) fill="#fff" stroke="#000" stroke-dasharray="5 3" {}
            @for (n, event) in &marks {
                @let x = at(event.used_min);
                @let high = is_high(&marks, *n, &at);
                path d=(format!("M{0} {1}V{2}", tenth(x), if high { 18 } else { 22 }, TOP + HEIGHT + 6.0)) stroke="#000" stroke-width="1.5" {}
                text x=(tenth(x)) y=(if high { 12 } else { 20 }) text-anchor="middle" font-size="14" font-weight="bold" { (n) }
            }
            text x=(tenth(LEFT)) y="74" font-size="15" { "0" }
            @if done > 0 && at(done) > 100.0 && at(done) < 380.0 {
                text x=(tenth(at(done))) y="74" text-anchor="middle" font-size="15" { (minutes(done)) }
            }
            text x=(tenth(WIDTH - LEFT)) y="74" text-anchor="end" font-size="15" font-weight="bold" { (minutes(opened.used_min)) }
            text x=(tenth(LEFT)) y="90" font-size="13" { "■ " (words.working) "  □ " (words.waiting) }
        }
    }
}

/// Whether a mark's number stands higher, because the one before it stands close by.
fn is_high(marks: &[(usize, &Event)], n: usize, at: &impl Fn(i64) -> f64) -> bool {
    let mut high = false;
    let mut before: Option<f64> = None;
    for (number, event) in marks {
        let x = at(event.used_min);
        high = !high && before.is_some_and(|before| x - before < APART);
        before = Some(x);
        if *number == n {
            break;
        }
    }
    high
}

/// What part of the whole a minute is.
fn share(minute: i64, whole: i64) -> f64 {
    let float = domain::quantity::float;
    float(minute) / float(whole)
}

fn tenth(value: f64) -> String {
    format!("{value:.1}")
}

#[cfg(test)]
mod tests {
    use super::share;

    #[test]
    fn a_minute_lies_where_its_share_of_the_time_is() {
        assert!((share(30, 120) - 0.25).abs() < 1e-12);
        assert!((share(120, 120) - 1.0).abs() < 1e-12);
    }
}

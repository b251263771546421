//! Steps, times and final checks of a sheet.

use chrono::TimeDelta;
use maud::{Markup, html};

use super::{
    Sheet, bar,
    measure::{Measure, minutes},
    told::{Acceptance, Coat, Hold, Step, StepProduct, TimeLine},
    words::Words,
};

/// One step, with what belongs to it beside it.
pub(super) fn step(step: &Step, measure: Measure, words: &Words) -> Markup {
    let before = step.hold.as_ref().filter(|hold| hold.at == "before");
    let after = step.hold.as_ref().filter(|hold| hold.at != "before");
    html! {
        li {
            @if let Some(hold) = before { (reading(hold, words.hold_before, measure, words)) }
            p lang="en" { span.number { (step.number) } (step.action) }
            dl {
                @if let Some(tool) = &step.tool { dt { (words.with) } dd lang="en" { (tool) @if let Some(pad) = &step.pad { ", " (words.pad) ": " (pad) } } }
                @if let Some(used) = &step.product { dt { (words.product) } dd lang="en" { (product(used, measure, words)) } }
                @if let Some(water) = step.water_l { dt { (words.water) } dd { (measure.volume(water)) } }
                @if let Some(dwell) = &step.dwell {
                    dt { (words.works_for) }
                    dd lang="en" { (minutes(dwell.least_min)) " – " (minutes(dwell.most_min)) ". " (dwell.note) }
                }
                @if let Some(laid) = &step.coat { dt { (words.coat) } dd { (coat(laid, measure, words)) } }
                @if step.labour_h > 0.0 { dt { (words.labour) } dd { (measure.figure(step.labour_h, 1)) " h" } }
            }
            @if let Some(hold) = after { (reading(hold, words.hold_after, measure, words)) }
            @if let Some(wait) = &step.wait {
                p { strong { (words.wait) ": " (minutes(wait.used_min)) } " " span lang="en" { "(" (wait.name) ")" }
                    @if wait.p50_min < wait.used_min { " – " (words.half_of_cases) ": " (minutes(wait.p50_min)) } }
            }
            @if let Some(remedy) = &step.if_fails { p { (words.if_not) ": " span lang="en" { (remedy) } } }
        }
    }
}

fn product(used: &StepProduct, measure: Measure, words: &Words) -> Markup {
    html! {
        strong { (used.name) } ": "
        @if used.dilution == "undiluted" { (words.undiluted) } @else { (used.dilution) " (" (words.parts) ")" }
        @if let Some(bucket) = used.concentrate_ml_per_10_l_water.filter(|_| used.dilution != "undiluted") {
            "; " strong { (measure.bucket(bucket)) } " " (words.bucket)
        }
        @if let Some(working) = used.working_l {
            "; " (measure.volume(working)) " " (words.in_all)
            @if let Some(concentrate) = used.concentrate_l.filter(|_| used.dilution != "undiluted") { " (" (measure.volume(concentrate)) ")" }
        }
    }
}

fn coat(coat: &Coat, measure: Measure, words: &Words) -> Markup {
    let direction = match coat.direction.as_str() {
        "across" => words.across,
        _ => words.along,
    };
    html! {
        (coat.number) " " (words.of) " " (coat.of) ", " (measure.area(coat.area_m2)) ", " (direction) "; "
        strong { @if coat.edge_gap_mm > 0.0 { (words.stop_short) " " (measure.gap(coat.edge_gap_mm)) } @else { (words.to_skirting) } }
    }
}

/// What must be read before the work goes on, with a box to write it down.
fn reading(hold: &Hold, when: &str, measure: Measure, words: &Words) -> Markup {
    html! {
        div.hold {
            p { strong { (when) ": " } span lang="en" { (hold.statement) " (" (hold.reading) ")" } }
            p {
                @if let Some(limits) = measure.limits(hold.least, hold.most, hold.unit.as_deref()) { (words.limits) ": " strong { (limits) } " · " }
                (words.read) ": " span.box {}
            }
            p { (words.if_not) ": " span lang="en" { (hold.if_fails) } }
        }
    }
}

/// What happens when: after closing, and by the clock where it was said when the floor is closed.
pub(super) fn time_line(sheet: &Sheet<'_>, line: &TimeLine, words: &Words) -> Markup {
    let clock = |after: i64| {
        let moment = sheet
            .closed_at?
            .checked_add_signed(TimeDelta::try_minutes(after)?)?;
        let format = sheet.language.moment(sheet.units);
        Some(moment.with_timezone(&sheet.zone).format(format).to_string())
    };
    html! {
        (bar::bar(line, words))
        table {
            tr {
                th scope="col" { "Nr." }
                th scope="col" { (words.when) }
                th scope="col" { (words.after_closing) }
                @if sheet.closed_at.is_some() { th scope="col" { (words.clock) " (" (sheet.zone.name()) ")" } }
            }
            @for (n, event) in (1..).zip(&line.events) {
                tr {
                    td.n { (n) }
                    td lang="en" { @if event.key == "walk" { strong { (event.what) } } @else { (event.what) } }
                    td.n { (minutes(event.used_min)) }
                    @if let Some(clock) = clock(event.used_min) { td { (clock) } }
                }
            }
        }
        @if !line.nights.is_empty() {
            table {
                tr { th scope="col" { (words.night) } th scope="col" { (words.steps) } th scope="col" { (words.done) } th scope="col" { (words.open_after) } }
                @for night in &line.nights {
                    tr {
                        td.n { (night.number) }
                        td lang="en" { (night.work.join(", ")) ". " (night.leaves) }
                        td.n { (minutes(night.work_min)) }
                        td.n { (minutes(night.open_after_min)) }
                    }
                }
            }
        }
    }
}

/// What is looked at before the floor is handed over, and what helps where something went wrong.
pub(super) fn acceptance(acceptance: &Acceptance, measure: Measure, words: &Words) -> Markup {
    html! {
        ul {
            @for check in &acceptance.checks {
                li lang="en" {
                    span.tick {} strong { (check.statement) } " (" (check.reading) ") "
                    @if let Some(limits) = measure.limits(check.least, check.most, check.unit.as_deref()) { (words.limits) ": " (limits) " " span.box {} }
                    " " (words.if_not) ": " (check.if_fails)
                }
            }
        }
        @if let Some(inspection) = &acceptance.inspection {
            p { (words.sample
                .replace("{sample}", &inspection.sample.to_string())
                .replace("{cells}", &inspection.n_cells.to_string())
                .replace("{cell}", &measure.area(inspection.cell_m2))
                .replace("{accept}", &inspection.accept.to_string())) }
        }
        @if !acceptance.defects.is_empty() {
            h3 { (words.goes_wrong) }
            table {
                tr { th scope="col" { (words.seen) } th scope="col" { (words.from_what) } th scope="col" { (words.remedy) } }
                @for defect in &acceptance.defects {
                    tr lang="en" { td { (defect.what) } td { (defect.causes.join("; ")) } td { (defect.remedy) } }
                }
            }
        }
    }
}

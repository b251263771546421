//! The page.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::{Sheet, code, drawing, measure::Measure, parts, told::Work, words::Words};

/// Its look: black on white, no colour that means anything, large enough for a phone at night, and A4 when printed.
pub(crate) const STYLE: &str = "\
*{box-sizing:border-box}\
body{font:16px/1.45 system-ui,sans-serif;color:#000;background:#fff;max-width:52rem;margin:0 auto;padding:1rem}\
h1{font-size:1.5rem;margin:0 0 .25rem}h2{font-size:1.2rem;margin:1.5rem 0 .5rem;border-bottom:2px solid #000}h3{font-size:1rem;margin:.75rem 0 .25rem}\
dl{display:grid;grid-template-columns:fit-content(30%) 1fr;gap:.15rem .75rem;margin:.5rem 0}dt{font-weight:600}dd{margin:0}\
table{border-collapse:collapse;width:100%;margin:.5rem 0}th,td{border:1px solid #555;padding:.3rem .5rem;text-align:left;vertical-align:top}\
td.n{text-align:right;white-space:nowrap}\
ol.steps{padding:0;list-style:none}ol.steps>li{border:1px solid #555;padding:.5rem .75rem;margin:.6rem 0;break-inside:avoid}\
.number{display:inline-block;min-width:1.8rem;font-weight:700;font-size:1.1rem}\
.hold{border:3px solid #000;padding:.4rem .6rem;margin:.5rem 0}.box{display:inline-block;min-width:7rem;height:1.8rem;border:1px solid #000;vertical-align:middle;margin:0 .3rem}\
.tick{display:inline-block;width:1.2rem;height:1.2rem;border:1px solid #000;vertical-align:middle;margin-right:.4rem}\
.stop{border:3px solid #000;padding:.5rem .75rem;font-weight:700;margin:.75rem 0}\
.line{display:block;border-bottom:1px solid #000;height:1.9rem}\
.small{font-size:.85rem}.address{overflow-wrap:anywhere}svg{max-width:100%;height:auto}section.report{break-inside:avoid}figure{margin:.5rem 0;break-inside:avoid}\
@media screen and (max-width:40rem){th,td{padding:.2rem .3rem;overflow-wrap:anywhere}td.n{white-space:normal}}\
@media print{@page{size:A4;margin:14mm}body{font-size:11pt;padding:0;max-width:none}h2,h3{break-after:avoid}}";

/// The whole page.
pub(crate) fn html(sheet: &Sheet<'_>) -> String {
    let (plan, words) = (sheet.plan, sheet.language.words());
    let measure = Measure {
        language: sheet.language,
        units: sheet.units,
    };
    let page = html! {
        (DOCTYPE)
        html lang=(sheet.language.tag()) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (words.job_sheet) " – " (sheet.surface) ", " (sheet.site) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                (head(sheet, measure, words))
                main {
                    @match &plan.work {
                        Some(work) => (job(sheet, work, measure, words)),
                        None => (no_work(sheet, words)),
                    }
                }
                footer.small {
                    p { (words.first) }
                    p { (words.plan) " " (plan.id) " · " (plan.version) " · " (plan.knowledge_version) }
                }
            }
        }
    };
    page.into_string()
}

fn head(sheet: &Sheet<'_>, measure: Measure, words: &Words) -> Markup {
    let plan = sheet.plan;
    html! {
        header {
            h1 { (words.job_sheet) }
            @if let Some(process) = &plan.process { p lang="en" { strong { (process.name) } } }
            dl {
                dt { (words.floor) } dd { (sheet.surface) ", " (sheet.site) }
                dt { (words.storey) } dd { (sheet.storey) }
                dt { (words.area) } dd { (measure.area(sheet.area_m2)) }
                @if let Some(work) = &plan.work { dt { (words.crew) } dd { (work.time_line.crew_size) } }
            }
            p lang="en" { (plan.summary) }
            @if plan.status != "accepted" { p.stop { (words.not_accepted) } }
        }
    }
}

/// A floor on which nothing is to be done: why, and what may be.
fn no_work(sheet: &Sheet<'_>, words: &Words) -> Markup {
    let plan = sheet.plan;
    html! {
        p.stop { (words.no_work) }
        ul lang="en" {
            @for finding in plan.findings.iter().filter(|finding| finding.severity == "refuse") {
                li { strong { (finding.statement) } " " (finding.reason) " " (finding.clears) }
            }
        }
        @if !plan.questions.is_empty() {
            h2 { (words.to_find_out) }
            ul lang="en" { @for question in &plan.questions { li { (question.ask) " " (question.how_to_find_out) } } }
        }
        @if let Some(referral) = &plan.referral {
            h2 { (words.refer) }
            p lang="en" { strong { (referral.trade) } }
            ul lang="en" { @for item in &referral.hand_over { li { (item) } } }
        }
        @for (title, processes) in [(words.meanwhile, &plan.meanwhile), (words.instead, &plan.instead)] {
            @if !processes.is_empty() {
                h2 { (title) }
                ul lang="en" { @for key in processes { li { (plan.name_of(key)) } } }
            }
        }
        (cautions(sheet, words))
    }
}

fn job(sheet: &Sheet<'_>, work: &Work, measure: Measure, words: &Words) -> Markup {
    html! {
        h2 { (words.before_start) }
        (cautions(sheet, words))
        (bring(work, measure, words))
        h2 { (words.when) }
        (parts::time_line(sheet, &work.time_line, words))
        h2 { (words.steps) }
        ol.steps { @for step in &work.steps { (parts::step(step, measure, words)) } }
        @if work.layouts.iter().any(|layout| layout.n_bays > 1 || !layout.bays.is_empty()) {
            h2 { (words.bays) }
            p { (words.bays_order) }
            @for (n, layout) in work.layouts.iter().enumerate() { (drawing::layout(layout, &plan(sheet, work, n), measure, words)) }
        }
        h2 { (words.hand_over) }
        (parts::acceptance(&work.acceptance, measure, words))
        @if let Some(form) = sheet.form {
            section.report {
                h2 { (words.report) }
                p { (words.report_by) }
                (code::code(form, words.report))
                p.small.address { (form) }
            }
        }
        h2 { (words.call) }
        dl { @for who in [words.supervisor, words.building, words.emergency] { dt { (who) } dd { span.line {} } } }
        h2 { (words.sign_off) }
        dl { @for what in [words.begun, words.done, words.batches, words.signature] { dt { (what) } dd { span.line {} } } }
    }
}

/// What the drawing of a layout shows beside its bays; the gap only where some of its coats leave it out.
fn plan<'a>(sheet: &Sheet<'a>, work: &'a Work, n: usize) -> drawing::Plan<'a> {
    let treats = work.layouts.get(n).map_or(&[][..], |layout| &layout.treats);
    let coats = work.steps.iter().filter_map(|step| step.coat.as_ref());
    let gaps = coats.filter(|coat| treats.contains(&format!("coat {}", coat.number)));
    drawing::Plan {
        number: n,
        shape: work.shape.as_ref(),
        floor: sheet.outline,
        gap_mm: gaps.map(|coat| coat.edge_gap_mm).fold(0.0, f64::max),
    }
}

/// What to mind, worst harm first, and what rules warn of.
fn cautions(sheet: &Sheet<'_>, words: &Words) -> Markup {
    let plan = sheet.plan;
    let warnings = plan
        .findings
        .iter()
        .filter(|finding| finding.severity == "warn");
    html! {
        @if !plan.cautions.is_empty() || plan.verdict == "allowed_with_warnings" {
            h3 { (words.mind) }
            ul lang="en" {
                @for warning in warnings { li { strong { (warning.statement) } " " (warning.reason) } }
                @for caution in &plan.cautions { li { (caution.text) } }
            }
        }
    }
}

fn bring(work: &Work, measure: Measure, words: &Words) -> Markup {
    let steps = work.steps.iter();
    let mut ppe: Vec<&str> = steps
        .filter_map(|step| step.product.as_ref())
        .flat_map(|product| &product.ppe)
        .map(String::as_str)
        .collect();
    ppe.sort_unstable();
    ppe.dedup();
    html! {
        @if !ppe.is_empty() { h3 { (words.wear) } ul lang="en" { @for item in ppe { li { span.tick {} (item) } } } }
        h3 { (words.bring) }
        @if !work.products.is_empty() {
            table {
                tr { th scope="col" { (words.product) } th scope="col" { (words.amount) } th scope="col" { (words.packs) } }
                @for line in &work.products {
                    tr {
                        td lang="en" { (line.product.name) }
                        td.n { (measure.volume(line.total_l)) }
                        td { @for (n, pack) in line.packs.iter().enumerate() { @if n > 0 { " + " } (pack.count) " × " (measure.volume(pack.size_l)) } }
                    }
                }
            }
        }
        dl {
            @if !work.pads.is_empty() {
                dt { (words.pads) }
                dd lang="en" { @for (n, pad) in work.pads.iter().enumerate() { @if n > 0 { ", " } (measure.figure(pad.count, 2)) " × " (pad.pad) } }
            }
            dt { (words.water) }
            dd { (measure.volume(work.water.clean_l)) " " (words.clean_water) "; " (measure.volume(work.water.dilution_l)) " " (words.for_dilution) "; " (measure.volume(work.water.slurry_l)) " " (words.slurry) }
        }
    }
}

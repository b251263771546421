//! What is recorded of a report, and in what it differs from its plan.

use chrono::{DateTime, NaiveDate, Utc};
use maud::{Markup, html};
use serde::Deserialize;

use super::{
    ask::{Ask, STAGES},
    page::Floor,
};
use crate::{
    sheet::{measure::Measure, words::FormWords},
    wire,
};

/// A completion, as far as it is shown.
#[derive(Deserialize)]
struct Done {
    id: String,
    started_at: DateTime<Utc>,
    finished_at: DateTime<Utc>,
    area_m2: f64,
    #[serde(default)]
    labour: Vec<Worked>,
    #[serde(default)]
    products: Vec<Used>,
    seal_coats: Option<i64>,
    polish_coats: Option<i64>,
    surface_ph: Option<f64>,
    operative_ref: Option<String>,
    note: Option<String>,
    #[serde(default)]
    deviations: Vec<Deviation>,
    created_at: DateTime<Utc>,
}

#[derive(Deserialize)]
struct Worked {
    stage: String,
    hours: f64,
}

#[derive(Deserialize)]
struct Used {
    product: String,
    volume_l: f64,
    batch: Option<String>,
    expires_on: Option<NaiveDate>,
}

#[derive(Deserialize)]
struct Deviation {
    code: String,
    statement: String,
}

/// What is recorded; `before` tells that it was there, `changed` that something else was sent now.
pub(super) fn recorded(
    floor: &Floor<'_>,
    ask: &Ask,
    (document, before, changed): (&str, bool, bool),
    words: &FormWords,
) -> Markup {
    let said = if before {
        words.recorded_before
    } else {
        words.recorded
    };
    html! {
        div.box role="status" data-recorded="" {
            p { strong { (said) } }
            @if changed { p { (words.changed) } }
        }
        @if let Ok(done) = wire::stored::<Done>(document) {
            (figures(floor, ask, &done, words))
            @if done.deviations.is_empty() {
                p { (words.deviates_not) }
            } @else {
                h2 { (words.deviates) }
                ul { @for deviation in &done.deviations { li { (words.deviation(&deviation.code, &deviation.statement)) } } }
            }
        }
        p { (words.mend) }
    }
}

fn figures(floor: &Floor<'_>, ask: &Ask, done: &Done, words: &FormWords) -> Markup {
    let measure = Measure {
        language: floor.language,
        units: floor.units,
    };
    let clock = |moment: DateTime<Utc>| {
        let format = floor.language.moment(floor.units);
        moment.with_timezone(&floor.zone).format(format).to_string()
    };
    let stage = |word: &str| {
        let n = STAGES.iter().position(|stage| *stage == word);
        n.and_then(|n| words.stages.get(n)).map_or("", |text| text)
    };
    html! {
        dl {
            dt { (words.begun) } dd { (clock(done.started_at)) }
            dt { (words.done) } dd { (clock(done.finished_at)) }
            dt { (floor.language.words().area) } dd { (measure.area(done.area_m2)) }
            @for worked in &done.labour { dt { (stage(&worked.stage)) } dd { (measure.figure(worked.hours, 2)) " h" } }
            @for used in &done.products {
                dt lang="en" { (ask.name_of(&used.product)) }
                dd {
                    (measure.used(used.volume_l))
                    @if let Some(batch) = &used.batch { ", " (batch) }
                    @if let Some(day) = used.expires_on { ", " (day.format(floor.language.day())) }
                }
            }
            @for (label, coats) in [(words.seal_coats, done.seal_coats), (words.polish_coats, done.polish_coats)] {
                @if let Some(coats) = coats { dt { (label) } dd { (coats) } }
            }
            @if let Some(ph) = done.surface_ph { dt { (words.surface_ph) } dd { (measure.figure(ph, 2)) } }
            @if let Some(mark) = &done.operative_ref { dt { (words.operative_ref) } dd { (mark) } }
            @if let Some(note) = &done.note { dt { (words.note) } dd { (note) } }
            dt { (words.at) } dd { (clock(done.created_at)) }
            dt { (words.number) } dd { (done.id) }
        }
    }
}

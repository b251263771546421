//! In what a report contradicts its plan or itself. It is recorded all the same.

use std::collections::BTreeSet;

use super::{RecordLine, Reported};
use crate::{
    estimate::cost::LineKind,
    quantity::{Labour, Volume},
};

/// What of a plan a completion is held against.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Promised {
    /// Coats of seal.
    pub seal_coats: i64,
    /// Coats of polish.
    pub polish_coats: i64,
    /// The keys of its products.
    pub products: Vec<String>,
    /// The shortest time in which its waits between coats can have been kept.
    pub least_wait: Labour,
    /// Limits of the pH reading in hundredths, if the plan has one.
    pub ph_hundredths: Option<(i64, i64)>,
    /// Whether more of the floor was reported than the plan has left.
    pub exceeded: bool,
    /// Whether the work began before the plan was made.
    pub later_than_work: bool,
}

/// In what a completion differs from its plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Deviation {
    /// A stable word.
    pub code: &'static str,
    /// What differs.
    pub statement: String,
}

/// Everything in which a report contradicts its plan.
pub fn deviations(promised: &Promised, reported: &Reported) -> Vec<Deviation> {
    let mut found = Vec::new();
    let mut add = |code, statement: String| found.push(Deviation { code, statement });
    for (code_fewer, code_more, kind, planned, done) in [
        (
            "fewer_seal_coats",
            "more_seal_coats",
            "seal",
            promised.seal_coats,
            reported.seal_coats,
        ),
        (
            "fewer_polish_coats",
            "more_polish_coats",
            "polish",
            promised.polish_coats,
            reported.polish_coats,
        ),
    ] {
        let Some(done) = done else { continue };
        if done != planned {
            let code = if done < planned {
                code_fewer
            } else {
                code_more
            };
            add(
                code,
                format!("{done} coats of {kind} were laid, {planned} were planned."),
            );
        }
    }
    let reported_keys = reported.products.iter().map(|used| used.product.as_str());
    // A product that two parts of floor care use is one deviation.
    let others: BTreeSet<&str> = reported_keys
        .filter(|key| promised.products.iter().all(|planned| planned != key))
        .collect();
    for product in others {
        add("other_product", format!("The plan has no {product}."));
    }
    match (promised.ph_hundredths, reported.surface_ph_hundredths) {
        (Some(_limits), None) => {
            add(
                "no_ph_reading",
                "No pH of the rinsed floor was reported.".to_owned(),
            );
        }
        (Some((least, most)), Some(read)) if read < least || read > most => {
            let shown = |value: i64| crate::quantity::float(value) / 100.0;
            let statement = format!(
                "pH {} lies outside {} to {}.",
                shown(read),
                shown(least),
                shown(most)
            );
            add("ph_outside_limits", statement);
        }
        _ => {}
    }
    if reported.elapsed < promised.least_wait {
        let statement = format!(
            "The work took {:.0} min from beginning to end; the waits between coats alone take {:.0} min.",
            reported.elapsed.minutes(),
            promised.least_wait.minutes()
        );
        add("too_fast_for_waits", statement);
    }
    let begun = "The work began before the plan was made.";
    let more = "More floor was reported than the plan has left.";
    for (is_so, code, statement) in [
        (promised.later_than_work, "before_plan", begun),
        (promised.exceeded, "area_exceeds_plan", more),
    ] {
        if is_so {
            add(code, statement.to_owned());
        }
    }
    found
}

/// Less than one part in this many of the planned litres is far too little. Common practice, no published source: coverage
/// varies by a third with floor and operative, and a half is beyond that.
const FAR_TOO_FEW: i64 = 2;

/// In what a report contradicts itself, with or without a plan.
pub fn in_itself(reported: &Reported) -> Vec<Deviation> {
    let mut found: Vec<Deviation> = reported
        .expired
        .iter()
        .map(|product| Deviation {
            code: "product_expired",
            statement: format!("{product} was used after its last day."),
        })
        .collect();
    if let (Some(charged), Some(invoiced)) = (reported.charged, reported.invoiced())
        && charged.shown() != invoiced.shown()
    {
        found.push(Deviation {
            code: "invoice_differs",
            statement: "The lines of the invoice come to another amount than what is charged."
                .to_owned(),
        });
    }
    found
}

/// Classes of product of which far less was used than this share of the plan takes. A report that names no product at all
/// says nothing of litres.
pub fn in_volume(lines: &[RecordLine], reported: &Reported) -> Vec<Deviation> {
    if reported.products.is_empty() {
        return Vec::new();
    }
    let mut classes: Vec<(&str, Volume, Volume)> = Vec::new();
    for line in lines
        .iter()
        .filter(|line| line.kind == Some(LineKind::Product))
    {
        let Some(class) = line.product_class.as_deref() else {
            continue;
        };
        match classes.iter_mut().find(|(known, _, _)| *known == class) {
            Some((_, planned, used)) => {
                *planned = planned.plus(line.planned_volume);
                *used = used.plus(line.actual_volume);
            }
            None => classes.push((class, line.planned_volume, line.actual_volume)),
        }
    }
    let far_too_few = |(_, planned, used): &&(&str, Volume, Volume)| {
        used.ml_half_even().saturating_mul(FAR_TOO_FEW) < planned.ml_half_even()
    };
    classes
        .iter()
        .filter(far_too_few)
        .map(|(class, planned, used)| Deviation {
            code: "far_too_few_litres",
            statement: format!(
                "{} mL of {class} were used, {} mL were planned.",
                used.ml_half_even(),
                planned.ml_half_even()
            ),
        })
        .collect()
}

/// The plan is for another floor: nothing of it was done, and nothing else can be held against it.
pub fn on_other_surface() -> Deviation {
    Deviation {
        code: "other_surface",
        statement: "The plan is for another surface; nothing of it counts as done.".to_owned(),
    }
}

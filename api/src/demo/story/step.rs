//! The steps of a plan in words.

use std::io::Write;

use super::super::{
    DemoError,
    answer::{Hold, Step, Wait, Work},
    paper::Paper,
    words::{count, grouped, hours as in_hours, length, litres, minutes, square_metres},
};

/// The steps, in order.
pub(super) fn steps<W: Write>(paper: &mut Paper<W>, work: &Work) -> Result<(), DemoError> {
    paper.head(&format!("The work, {}", count(length(&work.steps), "step")))?;
    let mut before: Option<&Step> = None;
    for step in &work.steps {
        let again = before.filter(|before| before.action == step.action);
        let action = again.map_or_else(
            || step.action.clone(),
            |before| format!("The same as step {}.", before.number),
        );
        paper.point(
            &format!("{:>2}", step.number),
            &format!("{action} [{}]", step.stage),
        )?;
        before = again.or(Some(step));
        for (label, text) in details(step) {
            let is_known =
                again.is_some_and(|before| details(before).contains(&(label, text.clone())));
            if !is_known {
                paper.detail(label, &text)?;
            }
        }
    }
    Ok(())
}

/// What there is to say of a step besides what is done.
fn details(step: &Step) -> Vec<(&'static str, String)> {
    let held = |at: &str| step.hold.as_ref().filter(|of| of.at == at).map(hold);
    let mut details: Vec<_> = held("before").map(|of| ("first", of)).into_iter().collect();
    details.extend(with(step));
    if let Some(dwell) = &step.dwell {
        let dries = dwell
            .dries_after_min
            .map(|after| format!("; dries after {} in this air", minutes(after)));
        let times = (
            dwell.least_min,
            dwell.most_min,
            dwell.typical_min,
            dries.unwrap_or_default(),
        );
        let (least, most, typical, dries) = times;
        details.push((
            "dwell",
            format!(
                "{least} to {most} min, usually {typical} min{dries}. {}",
                dwell.note
            ),
        ));
    }
    if let Some(coat) = &step.coat {
        let gap = match coat.edge_gap_mm {
            0 => "right up to the skirting".to_owned(),
            gap => format!("stops {gap} mm short of the skirting"),
        };
        let (number, of, direction) = (coat.number, coat.of, &coat.direction);
        let area = square_metres(coat.area_m2);
        details.push((
            "coat",
            format!("{number} of {of}, {direction} the room, {gap}: {area}"),
        ));
    }
    if step.labour_h > 0.0 {
        details.push(("labour", in_hours(step.labour_h)));
    }
    details.extend(step.wait.as_ref().map(|of| ("wait", wait(of))));
    details.extend(held("after").map(|of| ("check", of)));
    details.extend(step.if_fails.iter().map(|text| ("if wrong", text.clone())));
    details
}

/// Tool, pad, product and water of a step.
fn with(step: &Step) -> Vec<(&'static str, String)> {
    let mut details = Vec::new();
    let pad = step.pad.as_ref().map(|pad| format!("{pad} pad"));
    let tools: Vec<_> = step.tool.iter().cloned().chain(pad).collect();
    if !tools.is_empty() {
        details.push(("with", tools.join("; ")));
    }
    if let Some(product) = &step.product {
        let quantity = match (product.working_l, product.concentrate_l) {
            (Some(working), Some(own)) if product.dilution != "undiluted" => {
                format!(
                    ": {} of solution, {} of it product",
                    litres(working),
                    litres(own)
                )
            }
            (Some(working), _) => format!(": {}", litres(working)),
            (None, _) => ", from what another step lays".to_owned(),
        };
        let bucket = product
            .concentrate_ml_per_10_l_water
            .map(|ml| format!(" ({} mL to 10 L of water)", grouped(&format!("{ml:.0}"))));
        let (name, dilution, bucket) =
            (&product.name, &product.dilution, bucket.unwrap_or_default());
        details.push(("product", format!("{name}, {dilution}{quantity}{bucket}")));
        if !product.ppe.is_empty() {
            details.push(("wear", product.ppe.join(", ")));
        }
    }
    details.extend(step.water_l.map(|water| ("water", litres(water))));
    details
}

fn wait(wait: &Wait) -> String {
    let Wait {
        name,
        label_min,
        usual_min,
        p50_min,
        used_min,
        cause,
    } = wait;
    let least = match (label_min, usual_min) {
        (Some(label), _) => format!("label {label} min; "),
        (None, Some(usual)) => format!("usual {usual} min; "),
        (None, None) => String::new(),
    };
    format!(
        "{}, {name} ({least}half of all cases {p50_min} min). Cause: {cause}.",
        minutes(*used_min)
    )
}

fn hold(hold: &Hold) -> String {
    format!(
        "{}. Go on when: {} Otherwise: {}",
        hold.reading, hold.statement, hold.if_fails
    )
}

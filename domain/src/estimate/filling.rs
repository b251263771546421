//! What emptying and filling tanks and buckets on the way takes.

use super::labour::{LabourLine, too_large};
use crate::{
    estimate::basis::{Basis, Reasons, input as figure},
    knowledge::{Fills, Rate},
    plan::{DraftPlanError, PlanInput, PlannedStep},
    quantity::{Labour, Volume, float},
};

/// Adds what is spent on emptying and filling to a line, and gives its reason.
///
/// Parts of a tank count as parts of a filling, as the trade reckons it: two halves of a floor then take what the whole
/// takes, and a litre more never jumps by a filling.
pub(super) fn fill(
    input: &PlanInput<'_>,
    line: &mut LabourLine,
    (row, steps): (&Rate, &[PlannedStep]),
    basis: &mut Reasons,
) -> Result<(), DraftPlanError> {
    let crew = &input.base.crew;
    let laid = |step: &PlannedStep| {
        let product = step.product.as_ref().and_then(|used| used.working);
        product.unwrap_or(Volume::ZERO).plus(step.water)
    };
    let of_line = |step: &&PlannedStep| {
        step.activity.as_ref() == Some(&line.activity) && step.stage == line.stage
    };
    let litres = || steps.iter().filter(of_line).map(laid).sum::<Volume>().l();
    let filled = match row.fills {
        Some(Fills::Tank) => line.machine.as_ref().and_then(|key| {
            let machine = input.base.machine(key)?;
            let (held, minutes) = (float(machine.tank_l?), float(machine.fill_min?));
            let used = figure("litres", litres(), "L");
            Some((used, held, minutes, &machine.source, machine.grade))
        }),
        // A mop's water is changed when it is dirty; that of a rinse is used up before.
        Some(Fills::Bucket) => {
            let (litres, held) = (litres(), input.base.bays.bucket_l);
            let (area, clean) = (line.quantity * float(line.times), crew.bucket_m2);
            let (used, lasts) = if litres / held > area / clean {
                (figure("litres", litres, "L"), held)
            } else {
                (figure("area", area, "m²"), clean)
            };
            let minutes = crew.bucket_fill_min;
            Some((used, lasts, minutes, &crew.source, crew.grade))
        }
        None => None,
    };
    let Some((used, lasts, minutes, source, grade)) = filled else {
        return Ok(());
    };
    let hours = used.value / lasts * minutes / 60.0;
    line.filling = Labour::from_hours(hours).ok_or_else(|| too_large(line))?;
    basis.add(|| Basis {
        id: format!("filling.{}.{}", line.stage.word(), line.activity),
        what: format!("filling: {}", line.name),
        formula: if used.unit == "L" {
            "litres / lasts · minutes"
        } else {
            "area / lasts · minutes"
        },
        inputs: vec![
            used.clone(),
            figure("lasts", lasts, used.unit),
            figure("minutes", minutes, "min"),
        ],
        result: line.filling.hours(),
        unit: "h",
        rounding: "to the microsecond; parts of a tank or bucket count as parts of a filling",
        source: source.clone(),
        grade,
    });
    Ok(())
}

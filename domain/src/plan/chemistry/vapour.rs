//! The vapour of a plan in the air of its room, and what the law allows a coating to hold.

use super::{
    super::{PlanInput, PlannedStep},
    RoomVapour, product,
};
use crate::{
    estimate::basis::{Basis, Reasons, input as figure},
    knowledge::{Fact, Facts, Product, Vapour},
    physics::room::RoomReading,
};

/// The vapour of the step that comes nearest to its limit, in a room whose air is well mixed.
pub(super) fn vapour(
    input: &PlanInput<'_>,
    steps: &[PlannedStep],
    room: &RoomReading,
    basis: &mut Reasons,
) -> Option<RoomVapour> {
    let mut mass_g = 0.0;
    let mut nearest: Option<(f64, &Product, &Vapour, f64)> = None;
    for step in steps {
        let Some(row) = product(input, step) else {
            continue;
        };
        let litres = step.product.as_ref().and_then(|used| used.concentrate);
        let (Some(litres), Some((vapour, content))) = (litres, Vapour::of(input.base, row)) else {
            continue;
        };
        let grams = content * litres.l();
        mass_g += grams;
        let peak = peak_mg_m3(grams * vapour.share, vapour.hours, room);
        let ratio = peak / vapour.limit_mg_m3;
        if grams > 0.0 && nearest.is_none_or(|(_, _, there, most)| ratio > most / there.limit_mg_m3)
        {
            nearest = Some((grams, row, vapour, peak));
        }
    }
    let (grams, row, vapour, peak_mg_m3) = nearest?;
    basis.add(|| Basis {
        id: "vapour".to_owned(),
        what: "vapour that the air of the room holds at most".to_owned(),
        formula: "mass · share / hours / (air_changes · volume) · (1 − exp(−air_changes · hours)), well mixed",
        inputs: vec![
            figure("mass", grams, "g"),
            figure("share", vapour.share, "1"),
            figure("hours", vapour.hours, "h"),
            figure("volume", room.volume_m3, "m³"),
            figure("air_changes", room.air_changes_per_h, "1/h"),
            figure("limit", vapour.limit_mg_m3, "mg/m³"),
        ],
        result: peak_mg_m3,
        unit: "mg/m³",
        rounding: "none",
        source: vapour.source.clone(),
        grade: vapour.grade,
    });
    Some(RoomVapour {
        mass_g,
        product: row.key.clone(),
        peak_mg_m3,
        limit_mg_m3: vapour.limit_mg_m3,
        basis: "vapour".to_owned(),
    })
}

/// What the air of a room holds in mg/m³ when so many grams have gone into it evenly over so many hours.
fn peak_mg_m3(grams: f64, hours: f64, room: &RoomReading) -> f64 {
    let changes = room.air_changes_per_h * hours;
    // Hardly any change of air: all of it is still there.
    let kept = if changes < 1e-6 {
        1.0
    } else {
        (1.0 - (-changes).exp()) / changes
    };
    grams * kept / room.volume_m3 * 1e3
}

/// Tells the facts which coating holds most of volatile organic compounds, against what the law of the country allows.
pub(super) fn legal_content(input: &PlanInput<'_>, steps: &[PlannedStep], known: &mut Facts<'_>) {
    let coats = steps.iter().filter_map(|step| product(input, step));
    let bound = coats.filter_map(|row| {
        let limit = input.base.voc_limit(row, input.country)?;
        Some((row.voc_g_l?, limit.limit_g_l))
    });
    let worst = bound.max_by(|one, two| (one.0 - one.1).total_cmp(&(two.0 - two.1)));
    known.set(Fact::ProcessVocGL, worst.map(|(content, _limit)| content));
    known.set(
        Fact::ProcessVocLimitGL,
        worst.map(|(_content, limit)| limit),
    );
}

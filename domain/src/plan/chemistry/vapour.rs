//! The vapour of a plan in the air of its room, and what the law allows a coating to hold.

use super::{
    super::{PlanInput, PlannedStep, time_line::crewed},
    RoomVapour, product,
};
use crate::{
    estimate::{
        basis::{Basis, Reasons, input as figure},
        labour::crew_size,
    },
    knowledge::{Fact, Facts, Product, Vapour},
    physics::room::RoomReading,
    quantity::float,
};

/// What one step gives off into the air of the room.
struct Given<'k> {
    row: &'k Product,
    vapour: &'k Vapour,
    /// When it begins, in hours.
    from_h: f64,
    /// What goes into the air, in grams.
    grams: f64,
}

impl Given<'_> {
    /// What the air holds of it in mg/m³ at an hour: it fills evenly, and the change of air takes away.
    fn held_mg_m3(&self, at_h: f64, room: &RoomReading) -> f64 {
        let since_h = at_h - self.from_h;
        if since_h <= 0.0 {
            return 0.0;
        }
        let fills_h = since_h.min(self.vapour.hours);
        let part = self.grams * fills_h / self.vapour.hours;
        let clears = (-room.air_changes_per_h * (since_h - fills_h)).exp();
        peak_mg_m3(part, fills_h, room) * clears
    }
}

/// What the steps give off, each from its beginning on.
fn given<'k>(input: &PlanInput<'k>, steps: &[PlannedStep]) -> Vec<Given<'k>> {
    let crew = crew_size(input);
    let mut found = Vec::new();
    let mut from_h = 0.0;
    for step in steps {
        let row = product(input, step);
        let litres = step.product.as_ref().and_then(|used| used.concentrate);
        let vapour = row.and_then(|row| Vapour::of(input.base, row));
        if let (Some(row), Some(litres), Some((vapour, content))) = (row, litres, vapour) {
            let grams = content * litres.l() * vapour.share;
            if grams > 0.0 {
                found.push(Given {
                    row,
                    vapour,
                    from_h,
                    grams,
                });
            }
        }
        let wait_min = step.wait.as_ref().map_or(0, |wait| wait.p50_min);
        from_h += crewed(input.card, step.labour, crew).hours() + float(wait_min) / 60.0;
    }
    found
}

/// The vapour that comes nearest to its limit, in a room whose air is well mixed: all that one limit speaks of together.
pub(super) fn vapour(
    input: &PlanInput<'_>,
    steps: &[PlannedStep],
    room: &RoomReading,
    basis: &mut Reasons,
) -> Option<RoomVapour> {
    let given = given(input, steps);
    // Between two ends the air only fills towards what it would hold for ever, or clears: the most is at an end.
    let mut nearest: Option<(&Given<'_>, f64)> = None;
    for last in &given {
        let at_h = last.from_h + last.vapour.hours;
        let same = given
            .iter()
            .filter(|one| std::ptr::eq(one.vapour, last.vapour));
        let held: f64 = same.map(|one| one.held_mg_m3(at_h, room)).sum();
        let ratio = held / last.vapour.limit_mg_m3;
        if nearest.is_none_or(|(there, most)| ratio > most / there.vapour.limit_mg_m3) {
            nearest = Some((last, held));
        }
    }
    let (last, peak_mg_m3) = nearest?;
    let Given { row, vapour, .. } = *last;
    let own = last.held_mg_m3(last.from_h + vapour.hours, room);
    basis.add(|| Basis {
        id: "vapour".to_owned(),
        what: "vapour that the air of the room holds at most".to_owned(),
        formula: "given_off / hours / (air_changes · volume) · (1 − exp(−air_changes · hours)) + left_of_steps_before, well mixed",
        inputs: vec![
            figure("given_off", last.grams, "g"),
            figure("hours", vapour.hours, "h"),
            figure("volume", room.volume_m3, "m³"),
            figure("air_changes", room.air_changes_per_h, "1/h"),
            figure("left_of_steps_before", peak_mg_m3 - own, "mg/m³"),
            figure("limit", vapour.limit_mg_m3, "mg/m³"),
        ],
        result: peak_mg_m3,
        unit: "mg/m³",
        rounding: "none",
        source: vapour.source.clone(),
        grade: vapour.grade,
    });
    Some(RoomVapour {
        mass_g: mass_g(input, steps),
        product: basis.telling.text(|| row.key.clone()),
        peak_mg_m3,
        limit_mg_m3: vapour.limit_mg_m3,
        basis: basis.telling.text(|| "vapour".to_owned()),
    })
}

/// Volatile organic compounds in all that the steps use, in grams.
fn mass_g(input: &PlanInput<'_>, steps: &[PlannedStep]) -> f64 {
    let held = steps.iter().filter_map(|step| {
        let litres = step.product.as_ref()?.concentrate?;
        Some(input.base.voc_content(product(input, step)?) * litres.l())
    });
    held.sum()
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

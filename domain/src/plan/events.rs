//! What may happen on the floor when, counted from its closing.

use super::{
    Event,
    time_line::{Block, TimeInput, is_coated, minutes, minutes_up},
    waits::Wait,
};
use crate::quantity::{Labour, float, whole};

/// What happens on the floor, in order of time.
pub(super) fn events(
    input: &TimeInput<'_>,
    blocks: &[Block],
    ends: &[(Labour, Labour)],
    walk: (Labour, Labour),
) -> Vec<Event> {
    let event = |key, what: String, at: (Labour, Labour)| Event {
        key,
        what,
        p50_min: minutes(at.0),
        used_min: minutes_up(at.1),
    };
    let mut events = vec![event(
        "work_begins",
        "the floor is closed".to_owned(),
        (Labour::ZERO, Labour::ZERO),
    )];
    for (block, end) in blocks.iter().zip(ends) {
        events.push(event("work_done", format!("{} done", block.name), *end));
    }
    events.push(event("walk", "people may walk on it".to_owned(), walk));
    let laid = ends.last().copied().filter(|_end| is_coated(input));
    // What hardens more slowly in the cold for feet does so for wheels, water and mats too.
    let coats = input.steps.iter().rev();
    let last_coat = coats
        .filter(|step| step.coat.is_some())
        .find_map(|step| step.wait.as_ref());
    let slowed = last_coat.map_or(1.0, Wait::slowed);
    let later = [
        (
            "to_furniture",
            "furniture",
            "furniture and rolling loads may return",
        ),
        ("to_wet_clean", "wet_clean", "it may be cleaned wet"),
        ("to_burnish", "burnish", "it may be burnished"),
        ("to_mats", "mats", "rubber-backed mats may lie on it"),
    ];
    for (hold, key, what) in later {
        if let (Some(laid), Some(hold)) = (laid, input.base.hold(hold)) {
            let given = match key {
                "furniture" => input.given.to_furniture_min,
                "wet_clean" => input.given.to_wet_clean_min,
                _ => None,
            };
            let cold = |minutes: i64| whole((float(minutes) * slowed).ceil()).unwrap_or(i64::MAX);
            let wait = |usual: i64| Labour::from_minutes(given.unwrap_or_else(|| cold(usual)));
            let from = (
                laid.0.plus(wait(hold.least_min)),
                laid.1.plus(wait(hold.typical_min)),
            );
            // Nothing comes back before anybody may walk there.
            let at = (from.0.max(walk.0), from.1.max(walk.1));
            events.push(event(key, what.to_owned(), at));
        }
    }
    events.sort_by_key(|event| event.used_min);
    events
}

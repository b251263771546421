//! How work that only windows cut is cut.

use super::{
    parts::Part,
    place::{Crew, Floor},
};
use crate::schedule::{Time, Window};

/// Into how many bays work that nothing but windows cuts is cut at most.
const MOST_FREE: i64 = 200;

/// The bays of a part: as it says, or as many as the windows need where nothing else cuts it.
pub(super) fn bays(crew: Option<&Crew>, floor: Option<&Floor>, part: &Part) -> Vec<i64> {
    if !part.is_free {
        return part.bays.clone();
    }
    let shifts = crew.map(|crew| crew.shifts.as_slice());
    let windows = floor.and_then(|floor| floor.windows.as_deref());
    let longest = longest(shifts.unwrap_or_default(), windows);
    let work: Time = part.pieces.iter().map(|piece| piece.minutes(1, 1)).sum();
    let room = longest.saturating_sub(part.opens_after.used);
    if room <= 0 || work <= room {
        return vec![1];
    }
    // Half a window each, so that what is left of one is of use.
    let n = work.saturating_mul(2).saturating_add(room) / room;
    (0..n.clamp(2, MOST_FREE)).map(|_bay| 1).collect()
}

/// The longest time for which a crew is there while a floor may be closed.
fn longest(shifts: &[Window], windows: Option<&[Window]>) -> Time {
    let each = shifts.iter().map(|shift| match windows {
        None => shift.to.saturating_sub(shift.from),
        Some(windows) => {
            let shared = windows.iter().map(|window| {
                window
                    .to
                    .min(shift.to)
                    .saturating_sub(window.from.max(shift.from))
            });
            shared.max().unwrap_or(0)
        }
    });
    each.max().unwrap_or(0)
}

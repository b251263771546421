//! From what a completion reports of litres and of drying to the coverage and the dry time that it tells of.
//!
//! Both are told as multiples of what a plan reckons without any job: of the litres by the data sheet, of the minutes by the
//! drying model. So the floor's pores, its coats, the air and the room are reckoned in, and what is left is how the crew
//! and the place differ from them.

/// The litres from which on a job has its whole word on coverage: of less, what sticks to tray and tool decides. Common
/// practice, no published source.
const WHOLE_WORD_L: f64 = 1.0;
/// The minutes from which on a job has its whole word on drying: nobody looks every minute. Common practice, no published
/// source.
const WHOLE_WORD_MIN: f64 = 10.0;

/// What a job tells of a figure, as a multiple of what is usual.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Told {
    /// The multiple.
    pub factor: f64,
    /// How much of a whole job's word it has, above 0 and up to 1.
    pub share: f64,
}

/// What `used` litres tell of coverage, where `reckoned` were reckoned for the same floor at so many times the coverage of
/// the data sheet; nothing where one of them is no positive number.
pub fn coverage(reckoned: f64, at: f64, used: f64) -> Option<Told> {
    let are_positive = [reckoned, at, used]
        .iter()
        .all(|value| value.is_finite() && *value > 0.0);
    are_positive.then(|| Told {
        factor: at * reckoned / used,
        share: (used / WHOLE_WORD_L).min(1.0),
    })
}

/// What a film that was dry `after` minutes tells of drying, where the model had `reckoned` minutes without any job; nothing
/// where one of them is no positive number.
pub fn dry_time(reckoned: f64, after: f64) -> Option<Told> {
    let are_positive = [reckoned, after]
        .iter()
        .all(|value| value.is_finite() && *value > 0.0);
    are_positive.then(|| Told {
        factor: after / reckoned,
        share: (after / WHOLE_WORD_MIN).min(1.0),
    })
}

//! A time line on the wire.

use domain::{
    plan::TimeLine,
    quantity::{Labour, Rounding, divide},
};
use serde::Serialize;
use utoipa::ToSchema;

use super::number;

/// When what may happen on the floor.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct TimeLineView {
    /// Operatives who work at the same time.
    crew_size: i64,
    /// Hours for which the crew works, by the clock: set-up, clean-down and allowance included.
    crew_h: f64,
    /// Hours of all operatives together in that time: what is paid.
    labour_h: f64,
    /// Hours from closing to walking on it, done in one go, in half of the cases.
    elapsed_p50_h: f64,
    /// Hours from closing to walking on it, done in one go, as planned with.
    elapsed_h: f64,
    /// The same in minutes, rounded up.
    elapsed_min: i64,
    /// What happens when, counted from closing.
    #[schema(max_items = 60)]
    events: Vec<EventView>,
    /// The longest part that cannot be interrupted, with the wait before anybody may walk there.
    longest_block_min: i64,
    /// Minutes after which a rinsed floor without a coat may be opened, where a window ends on one; 0 where none does.
    bare_floor_min: i64,
    /// The access window in minutes.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    window_min: Option<i64>,
    /// The work spread over access windows; empty without a window.
    #[schema(max_items = 60)]
    nights: Vec<NightView>,
}

/// Something that happens.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct EventView {
    /// Its key.
    #[schema(max_length = 30)]
    key: &'static str,
    /// In words.
    #[schema(max_length = 200)]
    what: String,
    /// Minutes after closing, in half of the cases (for waits by label: at the earliest).
    p50_min: i64,
    /// Minutes after closing that the plan uses.
    used_min: i64,
}

/// What one access window holds.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct NightView {
    /// Its number, from 1.
    number: i64,
    /// What is done in it.
    #[schema(max_items = 60)]
    work: Vec<String>,
    /// Minutes until the crew is done.
    work_min: i64,
    /// Minutes until people may walk on the floor.
    open_after_min: i64,
    /// In what state it leaves the floor.
    #[schema(max_length = 500)]
    leaves: String,
}

impl From<&TimeLine> for TimeLineView {
    fn from(line: &TimeLine) -> Self {
        let up = |time: Labour| {
            divide(i128::from(time.us()), 60_000_000, Rounding::Up).unwrap_or(i64::MAX)
        };
        Self {
            crew_size: line.crew_size,
            crew_h: number::hours(line.crew_time),
            labour_h: number::hours(line.crew_time.scaled(line.crew_size, 1)),
            elapsed_p50_h: number::hours(line.elapsed_p50),
            elapsed_h: number::hours(line.elapsed),
            elapsed_min: up(line.elapsed),
            events: line
                .events
                .iter()
                .map(|event| EventView {
                    key: event.key,
                    what: event.what.clone(),
                    p50_min: event.p50_min,
                    used_min: event.used_min,
                })
                .collect(),
            longest_block_min: line.longest_block_min,
            bare_floor_min: line.bare_floor_min,
            window_min: line.window_min,
            nights: line
                .nights
                .iter()
                .map(|night| NightView {
                    number: night.number,
                    work: night.work.clone(),
                    work_min: night.work_min,
                    open_after_min: night.open_after_min,
                    leaves: night.leaves.clone(),
                })
                .collect(),
        }
    }
}

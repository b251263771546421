//! From plans, crews and hours of the clock to a workload for the schedule engine.
//!
//! A plan becomes parts (what comes before the first coat, each coat), a part its bays, a bay the pieces of work that one crew
//! does without leaving it, and then the time in which nobody may walk there. Both lie in the hours in which the floor may be
//! closed: a night ends with a floor that is open. A part waits for all bays of the one before it.

mod cut;
mod hours;
mod parts;
mod place;

#[cfg(test)]
mod tests;

pub use hours::{Span, joined, minutes, weekly, without};
pub use parts::{Part, Piece, PlanStep, Sizes, Wait, parts};
pub use place::{Crew, Floor, Job, Kind, Machine, Placed, Task, Way, place};

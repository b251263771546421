//! What Wearcourse knows and decides about hard floors: pure functions, no I/O, no clock.

mod normal;
mod words;

pub mod card;
pub mod delivery;
pub mod due;
pub mod estimate;
pub mod event;
pub mod film;
pub mod geometry;
pub mod handover;
pub mod ical;
pub mod id;
pub mod knowledge;
pub mod learning;
pub mod money;
pub mod physics;
pub mod placing;
pub mod plan;
pub mod programme;
pub mod quantity;
pub mod reading;
pub mod record;
pub mod sampling;
pub mod schedule;
pub mod stock;
pub mod survey;
pub mod unrinsed;

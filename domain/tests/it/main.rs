//! The planner and estimator as a whole, in one binary so that it links once.

mod cases;
mod common;
mod details;
mod exact;
mod film;
mod film_laws;
mod floors;
mod golden;
mod laws;
mod maker;
mod oracle;
mod rules_are_watched;
mod safety_laws;
mod slow;
mod slow_cost;

//! The planner and estimator as a whole, in one binary so that it links once.

mod answers;
mod cases;
mod cautions;
mod choice;
mod common;
mod details;
mod exact;
mod film;
mod film_laws;
mod floor_coverings;
mod floors;
mod gallery;
mod golden;
mod laws;
mod maker;
mod oracle;
mod processes;
mod rules_are_watched;
mod safety_laws;
mod scenario_words;
mod slow;
mod slow_cost;

//! The planner and estimator as a whole, in one binary so that it links once.

mod common;
mod exact;
mod explore;
mod floors;
mod golden;
mod oracle;
mod slow;
mod slow_cost;

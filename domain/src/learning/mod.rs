//! What completed work tells of figures that plans rest on: production rates, coverage, and how fast floors dry.
//!
//! On the logarithmic scale a figure is what is usual for its subject (an activity, a class of product), plus what is the
//! site's own, plus what is the contractor's own, plus chance. The knowledge base says what is usual and how widely it
//! varies; jobs move it from there, the more of them the further. The posterior is exact; heavy tails keep one odd job
//! from moving much, and what cannot be true is set aside and listed with its reason.
//!
//! Always recomputed from all jobs, never carried on from the last answer: the order in which they arrive changes
//! nothing, and a job that was corrected or voided is gone without a trace. Without a job, the answer is what is usual.
//!
//! What this module does not do: it knows no clock, no table and no plan. The age of a job is told with it; whether a
//! figure that was learnt is used is decided where it is used.

mod figure;
mod fit;
mod job;
mod kind;
mod levels;
mod pace;
mod posterior;
mod prior;
mod terms;
mod told;

pub use figure::{LearntFigure, Who};
pub use fit::{Learnt, learn};
pub use job::{Job, Reason, SetAside};
pub use kind::{Kind, LearntFigures, WATER};
pub use pace::{Pace, Reckoned, paces};
pub use prior::Prior;
pub use terms::{Spread, Terms};
pub use told::{Told, coverage, dry_time};

#[cfg(test)]
mod tests;

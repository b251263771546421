//! When which step is done by whom: many plans, one crew, within access windows.
//!
//! The workload is checked, what is impossible is said with its reason, and the rest is scheduled by search within a budget
//! of work. The same workload, seed and budget give the same schedules, whatever the machine. Nothing is returned that
//! [`verify`] has not accepted. Times are whole numbers in the caller's unit; nothing here knows dates or zones.

#![expect(
    clippy::indexing_slicing,
    clippy::as_conversions,
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "steps, resources and slots are indices checked once at the door and far below 2^31"
)]

mod beam;
mod blocks;
mod bound;
mod champions;
mod chance;
mod check;
mod crew;
mod critical;
mod decode;
mod destructive;
mod fleet;
mod lags;
mod measure;
mod network;
mod plain;
mod plain_search;
mod profile;
mod reason;
mod repair;
pub(crate) mod rng;
mod search;
mod shape;
mod solve;
mod target;
mod thrift;
mod verify;
mod week;
mod workload;

#[cfg(test)]
mod tests;

pub use chance::{Draws, Opening, Prospect, prospect};
pub use check::{
    Fault, MAX_HORIZON, MAX_LAGGED, MAX_LINKS, MAX_PRICE, MAX_RESOURCES, MAX_SLOTS, MAX_STEPS,
    MAX_TRAVELLING, MAX_UNITS, Place, Wrong,
};
pub use crew::{Operative, SkillPool, pools};
pub use critical::{Because, CriticalStep, critical_chain};
pub use measure::{Measures, measures, reopenings};
pub use reason::{Obstacle, Reason, Remedy};
pub use repair::{Cause, Change, Fact, Loss, Moved, Repaired, Unrepaired, lose, repair, withdraw};
pub use solve::{Answer, Bounds, Choice, Effort, Go, NoSchedule, Progress, StoppedBy, solve};
pub use verify::{Breach, verify};
pub use week::{Access, Exception, Weekly, access_windows};
pub use workload::{
    Calendar, Demand, Link, Period, Resource, ResourceKind, Space, Spread, Step, Time, Window,
    Workload,
};

/// What a schedule is made for. The others break ties, in this order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Objective {
    /// The last space opens as early as may be.
    EarliestReopening,
    /// All spaces open early, each by its weight.
    WeightedReopening,
    /// As few crew-shifts as may be.
    FewestShifts,
    /// As cheap as may be.
    LeastCost,
}

impl Objective {
    /// All of them, in order.
    pub const ALL: [Self; 4] = [
        Self::EarliestReopening,
        Self::WeightedReopening,
        Self::FewestShifts,
        Self::LeastCost,
    ];
}

/// Starts of all steps, and the ways of travelling units.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Schedule {
    /// The start of each step.
    pub starts: Vec<Time>,
    /// Resource, unit and step, for resources whose units are told apart.
    pub units: Vec<(usize, usize, usize)>,
}

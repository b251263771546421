//! Schedules as the demonstration reads them.

use chrono::{DateTime, Utc};
use serde::Deserialize;

use super::Money;

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Schedule {
    pub(in crate::demo) status: String,
    pub(in crate::demo) progress: Progress,
    #[serde(default)]
    pub(in crate::demo) result: Option<Outcome>,
}

/// How far a search went.
#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Progress {
    pub(in crate::demo) tried: i64,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Outcome {
    #[serde(rename = "outcome")]
    pub(in crate::demo) word: String,
    pub(in crate::demo) choices: Vec<Choice>,
    pub(in crate::demo) assigned: Vec<Assigned>,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Choice {
    pub(in crate::demo) all_open_at: DateTime<Utc>,
    pub(in crate::demo) crew_shifts: i64,
    pub(in crate::demo) labour_cost: Money,
    pub(in crate::demo) bounds: Vec<Bound>,
    pub(in crate::demo) reopenings: Vec<Reopening>,
    pub(in crate::demo) n_tasks: i64,
}

/// How far a figure may at most be from the possible.
#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Bound {
    pub(in crate::demo) of: String,
    #[serde(rename = "bound")]
    pub(in crate::demo) least: String,
    pub(in crate::demo) at_most_above_pct: Option<f64>,
}

/// When a floor opens.
#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Reopening {
    pub(in crate::demo) surface_id: String,
    pub(in crate::demo) surface: String,
    pub(in crate::demo) begins_at: DateTime<Utc>,
    pub(in crate::demo) walk_at: DateTime<Utc>,
    #[serde(default)]
    pub(in crate::demo) furniture_at: Option<DateTime<Utc>>,
    #[serde(default)]
    pub(in crate::demo) deadline: Option<DateTime<Utc>>,
    #[serde(default)]
    pub(in crate::demo) by_deadline: Option<f64>,
}

/// Who does a plan, and in how many bays.
#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Assigned {
    pub(in crate::demo) surface_id: String,
    pub(in crate::demo) operatives: i64,
    pub(in crate::demo) bays: i64,
}

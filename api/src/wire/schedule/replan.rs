//! Re-planning on the wire: what has become of a schedule that is being done, and what moved for it.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::told::{ReasonView, Sentence};

/// What has become of a schedule. What is not told is taken to be as it was planned.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "as_of": "2026-07-28T06:00:00Z",
    "progress": [{"task": 3, "not_before": "2026-07-28T20:00:00Z"}],
    "closed": [{"from": "2026-07-29T16:00:00Z", "to": "2026-07-30T05:00:00Z"}]
}))]
pub(crate) struct ReplanRequest {
    /// The moment up to which it is told: nothing begins before that has not begun. Now, if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, value_type = String, format = DateTime, max_length = 40)]
    pub(crate) as_of: Option<DateTime<Utc>>,
    /// What became of tasks. Completions of the plans count besides; this comes before them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 1000)]
    pub(crate) progress: Vec<TaskProgress>,
    /// Operatives who are not there.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub(crate) crews_away: Vec<CrewAway>,
    /// Machines that are not there.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub(crate) machines_away: Vec<MachineAway>,
    /// When floors may not be closed any more: windows that were withdrawn.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub(crate) closed: Vec<Withdrawn>,
    /// Where the random numbers of the search start: the same schedule and request give the same answer.
    #[serde(default = "super::one")]
    #[schema(default = 1, minimum = 0, maximum = 1_000_000_000)]
    pub(crate) seed: i64,
    /// How many schedules are tried at most.
    #[serde(default = "usual_effort")]
    #[schema(default = 300, minimum = 1, maximum = 2000)]
    pub(crate) schedules: i64,
}

const fn usual_effort() -> i64 {
    300
}

/// What became of a task: when it began, when it ended, or before when it will not begin.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct TaskProgress {
    /// The number of the task, as `GET .../tasks` has it.
    #[schema(minimum = 1)]
    pub(crate) task: u32,
    /// When it began; as planned if only its end is told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, value_type = String, format = DateTime, max_length = 40)]
    pub(crate) started_at: Option<DateTime<Utc>>,
    /// When it ended, or will end if that is later; as long after its beginning as planned if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, value_type = String, format = DateTime, max_length = 40)]
    pub(crate) finished_at: Option<DateTime<Utc>>,
    /// It has not begun, and will not begin before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, value_type = String, format = DateTime, max_length = 40)]
    pub(crate) not_before: Option<DateTime<Utc>>,
}

/// Operatives who are not there for a while.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct CrewAway {
    /// The crew, by its name.
    #[schema(min_length = 1, max_length = 100)]
    pub(crate) crew: String,
    /// The first moment.
    #[schema(value_type = String, format = DateTime, max_length = 40)]
    pub(crate) from: DateTime<Utc>,
    /// The moment after the last.
    #[schema(value_type = String, format = DateTime, max_length = 40)]
    pub(crate) to: DateTime<Utc>,
    /// How many; all of them if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1, maximum = 50)]
    pub(crate) operatives: Option<u32>,
}

/// Machines that are not there for a while.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct MachineAway {
    /// The key of the machine, which the schedule was asked for with.
    #[schema(min_length = 1, max_length = 60, pattern = "^[a-z][a-z0-9_]*$")]
    pub(crate) machine: String,
    /// The first moment.
    #[schema(value_type = String, format = DateTime, max_length = 40)]
    pub(crate) from: DateTime<Utc>,
    /// The moment after the last.
    #[schema(value_type = String, format = DateTime, max_length = 40)]
    pub(crate) to: DateTime<Utc>,
    /// How many; all of them if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1, maximum = 100)]
    pub(crate) count: Option<u32>,
}

/// A stretch of time in which a floor may not be closed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Withdrawn {
    /// The surface; every one of the schedule if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    pub(crate) surface_id: Option<String>,
    /// The first moment.
    #[schema(value_type = String, format = DateTime, max_length = 40)]
    pub(crate) from: DateTime<Utc>,
    /// The moment after the last.
    #[schema(value_type = String, format = DateTime, max_length = 40)]
    pub(crate) to: DateTime<Utc>,
}

/// What is still to be heeded when the schedule is re-planned again: opaque to the store.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub(crate) struct Known {
    /// Tasks, and before when each does not begin.
    #[serde(default)]
    pub(crate) not_before: Vec<(usize, DateTime<Utc>)>,
    #[serde(default)]
    pub(crate) crews_away: Vec<CrewAway>,
    #[serde(default)]
    pub(crate) machines_away: Vec<MachineAway>,
    #[serde(default)]
    pub(crate) closed: Vec<Withdrawn>,
}

/// What came of re-planning.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub(crate) struct ReplanView {
    /// The schedule.
    #[schema(max_length = 40, pattern = "^sch_[0-9a-f-]{36}$")]
    pub(crate) schedule_id: String,
    /// `revised`; or `impossible`, with reasons; or `not_found`, which proves nothing. Only what is revised is kept.
    #[schema(max_length = 20)]
    pub(crate) outcome: String,
    /// The number of the revision, if there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1)]
    pub(crate) revision: Option<i64>,
    /// The version of the schedule after it.
    #[schema(minimum = 1)]
    pub(crate) version: i64,
    /// The moment up to which it holds what has happened.
    #[schema(format = DateTime, max_length = 24)]
    pub(crate) as_of: String,
    /// How many tasks have begun by then.
    #[schema(minimum = 0)]
    pub(crate) n_begun: usize,
    /// How many tasks begin at another time than before.
    #[schema(minimum = 0)]
    pub(crate) n_moved: usize,
    /// How many tasks fall away, because their plan counts no more.
    #[schema(minimum = 0)]
    pub(crate) n_cancelled: usize,
    /// By how many minutes tasks moved in all, earlier and later alike.
    #[schema(minimum = 0)]
    pub(crate) shift_min: i64,
    /// Whether it is proven that no schedule moves fewer tasks.
    pub(crate) is_fewest: bool,
    /// When all floors are open.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = DateTime, max_length = 24)]
    pub(crate) all_open_at: Option<String>,
    /// The first of what moved or falls away, in the order of the new times.
    #[schema(max_items = 50)]
    pub(crate) moves: Vec<MoveView>,
    /// Where all of them are listed.
    #[schema(max_length = 200)]
    pub(crate) moves_href: String,
    /// Why it cannot be done.
    #[schema(max_items = 50)]
    pub(crate) reasons: Vec<ReasonView>,
    /// What was taken for granted.
    #[schema(max_items = 300)]
    pub(crate) assumptions: Vec<Sentence>,
    /// How many schedules were tried.
    #[schema(minimum = 0)]
    pub(crate) tried: u64,
}

/// A task that moved or falls away.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[schema(as = ScheduleMoveView)]
pub(crate) struct MoveView {
    /// The number of the task.
    #[schema(minimum = 1)]
    pub(crate) task: usize,
    /// The surface.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    pub(crate) surface_id: String,
    /// What people call it.
    #[schema(max_length = 200)]
    pub(crate) surface: String,
    /// The crew.
    #[schema(max_length = 100)]
    pub(crate) crew: String,
    /// The part of the work.
    #[schema(max_length = 60)]
    pub(crate) part: String,
    /// The bay.
    #[schema(minimum = 1)]
    pub(crate) bay: usize,
    /// When it began before.
    #[schema(format = DateTime, max_length = 24)]
    pub(crate) from: String,
    /// When it begins now; null for one that falls away.
    #[schema(format = DateTime, max_length = 24)]
    pub(crate) to: Option<String>,
    /// By how many minutes later; less than nothing for earlier; null for one that falls away.
    pub(crate) by_min: Option<i64>,
    /// Why: `past`, `told`, `window`, `waits`, `crew`, `machine`, `way`, `together`, or `plan_gone`.
    #[schema(max_length = 20)]
    pub(crate) why: String,
    /// The same in words.
    #[schema(max_length = 700)]
    pub(crate) because: String,
}

/// A page of what moved.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ScheduleMovePage {
    /// What moved, in the order of the new times.
    #[schema(max_items = 200)]
    items: Vec<MoveView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}

/// A page of revisions.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ScheduleRevisionPage {
    /// The revisions, oldest first.
    #[schema(max_items = 200)]
    items: Vec<ReplanView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}

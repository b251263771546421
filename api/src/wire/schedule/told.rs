//! What comes of a schedule.

use infra::row::{JobStatus, ScheduleRow};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::ObjectiveWord;
use crate::{
    problem::Problem,
    wire::{self, estimate_job::JobProblem, money::MoneyView, time},
};

/// A schedule, made in the background.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ScheduleView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^sch_[0-9a-f-]{36}$")]
    id: String,
    /// Grows by one with each change.
    #[schema(minimum = 1)]
    version: i64,
    /// The site.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    site_id: String,
    /// `queued`, `running`, `succeeded`, `failed` or `cancelled`.
    #[schema(max_length = 10)]
    status: &'static str,
    /// How far it is.
    progress: SearchProgressView,
    /// When it was asked for.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
    /// When work on it began; after a crash it begins anew.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = DateTime, max_length = 24)]
    started_at: Option<String>,
    /// When it came to its end.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = DateTime, max_length = 24)]
    finished_at: Option<String>,
    /// The number of the choice that is to be done, once somebody has chosen.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1, maximum = 3)]
    chosen: Option<i64>,
    /// What came of it, once it has succeeded; a list leaves it out.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    result: Option<ScheduleResult>,
    /// Why it failed.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    problem: Option<JobProblem>,
}

/// How far a search is.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct SearchProgressView {
    /// Schedules that were tried.
    #[schema(minimum = 0)]
    tried: i64,
    /// How many are tried at most.
    #[schema(minimum = 1)]
    most: i64,
    /// When all floors are open by the best that was found so far.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = DateTime, max_length = 24)]
    best_until: Option<String>,
}

impl ScheduleView {
    /// A schedule as it stands, with what came of it if that is asked for.
    ///
    /// # Errors
    /// `internal` for a document that is not what was written.
    pub(crate) fn new(row: &ScheduleRow, whole: bool) -> Result<Self, Problem> {
        let result = row.result.as_deref().filter(|_result| whole);
        Ok(Self {
            id: row.id.to_string(),
            version: row.version,
            site_id: row.site_id.to_string(),
            status: row.status.as_str(),
            progress: SearchProgressView {
                tried: row.n_done,
                most: row.n_total,
                best_until: row.best_until.map(time::write),
            },
            created_at: time::write(row.created_at),
            started_at: row.started_at.map(time::write),
            finished_at: row.finished_at.map(time::write),
            chosen: row.chosen,
            result: result.map(wire::stored).transpose()?,
            problem: row.problem.as_deref().map(wire::stored).transpose()?,
        })
    }
}

/// What came of a schedule that has come to its end, if anything did.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn result(row: &ScheduleRow) -> Result<Option<ScheduleResult>, Problem> {
    let document = row.result.as_deref();
    let document = document.filter(|_result| row.status == JobStatus::Succeeded);
    document.map(wire::stored).transpose()
}

/// A page of schedules.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SchedulePage {
    /// The schedules, oldest first, without what came of them.
    #[schema(max_items = 200)]
    items: Vec<ScheduleView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}

/// What came of it.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub(crate) struct ScheduleResult {
    /// `scheduled`; `impossible`: proven, `reasons` say why; `not_found`: the search found none, which proves nothing.
    #[schema(max_length = 20)]
    pub(crate) outcome: String,
    /// Why the search ended: `budget` is spent, or `optimum`: nothing better is possible.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 10)]
    pub(crate) stopped_by: Option<String>,
    /// Schedules, of which none is beaten by another in all figures; the first is the best found for the objective.
    #[schema(max_items = 3)]
    pub(crate) choices: Vec<ChoiceView>,
    /// Deadlines that no schedule of these plans and crews can keep, with the reason.
    #[schema(max_items = 200)]
    pub(crate) out_of_reach: Vec<ReasonView>,
    /// Why it cannot be done: all that is proven, up to 50.
    #[schema(max_items = 50)]
    pub(crate) reasons: Vec<ReasonView>,
    /// Who does which plan.
    #[schema(max_items = 200)]
    pub(crate) assigned: Vec<AssignedView>,
    /// What was taken for granted because nobody said otherwise.
    #[schema(max_items = 300)]
    pub(crate) assumptions: Vec<Sentence>,
}

/// A sentence.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[schema(max_length = 1000)]
pub(crate) struct Sentence(pub(crate) String);

/// Who does a plan.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub(crate) struct AssignedView {
    /// The plan.
    #[schema(max_length = 40, pattern = "^pln_[0-9a-f-]{36}$")]
    pub(crate) plan_id: String,
    /// Its surface.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    pub(crate) surface_id: String,
    /// What people call the surface.
    #[schema(max_length = 200)]
    pub(crate) surface: String,
    /// The crew.
    #[schema(max_length = 100)]
    pub(crate) crew: String,
    /// How many of them work on it at once.
    #[schema(minimum = 1)]
    pub(crate) operatives: u32,
    /// Into how many bays its largest part is cut.
    #[schema(minimum = 1)]
    pub(crate) bays: usize,
}

/// One schedule.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub(crate) struct ChoiceView {
    /// Its number, from 1.
    #[schema(minimum = 1, maximum = 3)]
    pub(crate) number: i64,
    /// For what it is the best found.
    #[schema(max_items = 4)]
    pub(crate) best_for: Vec<ObjectiveWord>,
    /// When the last floor is open.
    #[schema(format = DateTime, max_length = 24)]
    pub(crate) all_open_at: String,
    /// Operatives called, counted once for each of their shifts.
    #[schema(minimum = 0)]
    pub(crate) crew_shifts: i64,
    /// What they cost, set-up and clean-down included, by the site's rate card and before overhead.
    pub(crate) labour_cost: MoneyView,
    /// How far it may at most be from the possible, by figure. A bound is proven and may itself be out of reach.
    #[schema(max_items = 4)]
    pub(crate) bounds: Vec<BoundView>,
    /// When each floor opens.
    #[schema(max_items = 200)]
    pub(crate) reopenings: Vec<ReopeningView>,
    /// The tasks that lead to the last reopening, first things first: what would have to be quicker.
    #[schema(max_items = 5000)]
    pub(crate) critical_chain: Vec<CriticalView>,
    /// How many tasks it has: `GET .../tasks` lists them.
    #[schema(minimum = 1)]
    pub(crate) n_tasks: usize,
}

/// How far a figure may at most be from the possible.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub(crate) struct BoundView {
    /// The figure.
    pub(crate) of: ObjectiveWord,
    /// What no schedule can beat, in words.
    #[schema(max_length = 200)]
    pub(crate) bound: String,
    /// At most so many per cent above the possible minimum; a reopening counts from `from`. Null where the bound is nothing.
    #[schema(minimum = 0)]
    pub(crate) at_most_above_pct: Option<f64>,
}

/// When a floor opens.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub(crate) struct ReopeningView {
    /// The surface.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    pub(crate) surface_id: String,
    /// What people call it.
    #[schema(max_length = 200)]
    pub(crate) surface: String,
    /// When its work begins.
    #[schema(format = DateTime, max_length = 24)]
    pub(crate) begins_at: String,
    /// When its work is done and people may walk on it.
    #[schema(format = DateTime, max_length = 24)]
    pub(crate) walk_at: String,
    /// When furniture may come back, where the plan says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = DateTime, max_length = 24)]
    pub(crate) furniture_at: Option<String>,
    /// When it may be cleaned wet, where the plan says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = DateTime, max_length = 24)]
    pub(crate) wet_clean_at: Option<String>,
    /// When it should be open.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = DateTime, max_length = 24)]
    pub(crate) deadline: Option<String>,
    /// How likely it opens by then: of draws in which work and waits vary and the order of work is kept. Simulated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 1)]
    pub(crate) by_deadline: Option<f64>,
    /// By when it opens in half of the draws; left out where it then does not open by `to`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = DateTime, max_length = 24)]
    pub(crate) p50_at: Option<String>,
    /// By when it opens in four of five.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = DateTime, max_length = 24)]
    pub(crate) p80_at: Option<String>,
}

/// A task of the critical chain.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub(crate) struct CriticalView {
    /// What, where.
    #[schema(max_length = 500)]
    pub(crate) what: String,
    /// When it begins.
    #[schema(format = DateTime, max_length = 24)]
    pub(crate) from: String,
    /// When it ends.
    #[schema(format = DateTime, max_length = 24)]
    pub(crate) to: String,
    /// What keeps it from beginning earlier: `wait` after the one before, `window`, `crew`, `machine` or `way` (which the one
    /// before has), `kept_back` for the one after, or `release`: nothing does.
    #[schema(max_length = 20)]
    pub(crate) because: String,
}

/// Why something cannot be done.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub(crate) struct ReasonView {
    /// `too_few`, `no_window`, `horizon`, `circle`, `crowded`, `too_much_work` or `deadline`; `too_late` where a longest wait is over.
    #[schema(max_length = 20)]
    pub(crate) kind: String,
    /// In words.
    #[schema(max_length = 1000)]
    pub(crate) statement: String,
    /// The surface, where it is about one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    pub(crate) surface_id: Option<String>,
    /// The chain of work, in its order.
    #[schema(max_items = 200)]
    pub(crate) chain: Vec<Sentence>,
    /// The window that is too short or comes too late.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) window: Option<WindowView>,
    /// How many minutes are missing: of the window, before the deadline, or of operatives together for `too_much_work`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    pub(crate) short_by_min: Option<i64>,
    /// What would make it fit, each by itself as far as this reason goes.
    #[schema(max_items = 50)]
    pub(crate) remedies: Vec<Sentence>,
}

/// A window.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[schema(as = ScheduleWindow)]
pub(crate) struct WindowView {
    /// When it opens.
    #[schema(format = DateTime, max_length = 24)]
    pub(crate) from: String,
    /// When it closes.
    #[schema(format = DateTime, max_length = 24)]
    pub(crate) to: String,
}

/// A piece of work of one crew in one bay.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub(crate) struct TaskView {
    /// Its number in the order of time, from 1.
    #[schema(minimum = 1)]
    pub(crate) number: usize,
    /// The surface.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    pub(crate) surface_id: String,
    /// What people call it.
    #[schema(max_length = 200)]
    pub(crate) surface: String,
    /// The plan.
    #[schema(max_length = 40, pattern = "^pln_[0-9a-f-]{36}$")]
    pub(crate) plan_id: String,
    /// The crew.
    #[schema(max_length = 100)]
    pub(crate) crew: String,
    /// How many of them.
    #[schema(minimum = 1)]
    pub(crate) operatives: u32,
    /// The part of the work, as in the plan's time line.
    #[schema(max_length = 60)]
    pub(crate) part: String,
    /// The bay, from 1 in the order of treatment.
    #[schema(minimum = 1)]
    pub(crate) bay: usize,
    /// Into how many bays the part is cut.
    #[schema(minimum = 1)]
    pub(crate) of_bays: usize,
    /// The steps of the plan, by their numbers.
    #[schema(max_items = 100)]
    pub(crate) steps: Vec<i64>,
    /// The machines of the request that it keeps busy.
    #[schema(max_items = 20)]
    pub(crate) machines: Vec<String>,
    /// When it begins.
    #[schema(format = DateTime, max_length = 24)]
    pub(crate) from: String,
    /// When it ends.
    #[schema(format = DateTime, max_length = 24)]
    pub(crate) to: String,
    /// When people may walk there after it; left out where the crew goes on in the bay.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = DateTime, max_length = 24)]
    pub(crate) walk_at: Option<String>,
}

/// Tasks as they are kept.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn tasks(kept: &str) -> Result<Vec<TaskView>, Problem> {
    wire::stored(kept)
}

/// A page of tasks.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct TaskPage {
    /// The tasks, in the order of time.
    #[schema(max_items = 200)]
    items: Vec<TaskView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}

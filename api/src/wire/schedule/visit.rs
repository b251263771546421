//! Tasks put together: what a crew does on a floor without going away for long.

use chrono::{DateTime, TimeDelta, Utc};

use super::told::TaskView;

/// Who goes away for longer comes back for another visit.
const AWAY: TimeDelta = TimeDelta::hours(4);

/// What a crew does on a floor in one go.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Visit {
    pub(crate) surface_id: String,
    pub(crate) surface: String,
    pub(crate) plan_id: String,
    pub(crate) crew: String,
    pub(crate) operatives: u32,
    /// The visits of a floor are counted from 1.
    pub(crate) number: usize,
    pub(crate) from: DateTime<Utc>,
    pub(crate) to: DateTime<Utc>,
    /// When people may walk there after it.
    pub(crate) walk_at: DateTime<Utc>,
    /// The parts of the work, in order.
    pub(crate) parts: Vec<String>,
}

/// A moment of a kept document; the epoch for what is none.
pub(crate) fn moment(text: &str) -> DateTime<Utc> {
    text.parse().unwrap_or_default()
}

/// The visits of tasks that are in the order of time, in that order.
pub(crate) fn visits(tasks: &[TaskView]) -> Vec<Visit> {
    let mut visits: Vec<Visit> = Vec::new();
    for task in tasks {
        let (from, to) = (moment(&task.from), moment(&task.to));
        let walk_at = task.walk_at.as_deref().map_or(to, moment);
        let of_floor = |visit: &&mut Visit| visit.surface_id == task.surface_id;
        let last = visits.iter_mut().rev().find(of_floor);
        let n_before = last.as_ref().map_or(0, |visit| visit.number);
        match last {
            Some(visit) if from - visit.to <= AWAY => {
                visit.to = visit.to.max(to);
                visit.walk_at = visit.walk_at.max(walk_at);
                if !visit.parts.contains(&task.part) {
                    visit.parts.push(task.part.clone());
                }
            }
            _ => visits.push(Visit {
                surface_id: task.surface_id.clone(),
                surface: task.surface.clone(),
                plan_id: task.plan_id.clone(),
                crew: task.crew.clone(),
                operatives: task.operatives,
                number: n_before.saturating_add(1),
                from,
                to,
                walk_at,
                parts: vec![task.part.clone()],
            }),
        }
    }
    visits
}

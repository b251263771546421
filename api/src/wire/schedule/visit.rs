//! Tasks put together: what a crew does on a floor without going away for long.

use chrono::{DateTime, TimeDelta, Utc};
use serde::{Deserialize, Serialize};

use super::told::TaskView;

/// Who goes away for longer comes back for another visit.
const AWAY: TimeDelta = TimeDelta::hours(4);

/// What a crew does on a floor in one go.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
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

impl Visit {
    /// Whether both are the same visit to the same floor, perhaps at other times.
    pub(crate) fn is(&self, other: &Self) -> bool {
        self.surface_id == other.surface_id && self.number == other.number
    }
}

/// A visit as a calendar tells it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Booked {
    pub(crate) visit: Visit,
    /// The version of the schedule in which it last changed.
    pub(crate) sequence: i64,
    /// When it last changed.
    pub(crate) at: DateTime<Utc>,
    /// Whether it is to be done at all.
    pub(crate) is_on: bool,
}

/// The visits after a change: what is as it was keeps its sequence, what is gone is told as gone.
pub(crate) fn rebooked(
    before: Vec<Booked>,
    visits: Vec<Visit>,
    (sequence, at): (i64, DateTime<Utc>),
) -> Vec<Booked> {
    let mut booked: Vec<Booked> = visits
        .into_iter()
        .map(|visit| {
            let same = |other: &&Booked| other.is_on && other.visit == visit;
            let kept = before.iter().find(same).cloned();
            kept.unwrap_or(Booked {
                visit,
                sequence,
                at,
                is_on: true,
            })
        })
        .collect();
    for old in before {
        if booked.iter().any(|new| new.visit.is(&old.visit)) {
            continue;
        }
        booked.push(if old.is_on {
            Booked {
                sequence,
                at,
                is_on: false,
                ..old
            }
        } else {
            old
        });
    }
    booked
}

impl Visit {
    /// Whether a task is one of it.
    pub(crate) fn holds(&self, task: &TaskView) -> bool {
        let within = self.from..=self.to;
        self.surface_id == task.surface_id && within.contains(&moment(&task.from))
    }
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

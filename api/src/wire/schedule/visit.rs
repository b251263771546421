//! Tasks put together: what a crew does on a floor without going away for long.

use std::collections::BTreeSet;

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

/// The visits after a change: what is as it was keeps its number and its sequence, what is gone is told as gone.
pub(crate) fn rebooked(
    before: Vec<Booked>,
    visits: Vec<Visit>,
    (sequence, at): (i64, DateTime<Utc>),
) -> Vec<Booked> {
    let mut booked: Vec<Booked> = numbered(&before, visits)
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

/// Visits under the numbers that people know them by: first those that are as they were, then of each floor the others in the order
/// of time. A visit that is new gets the lowest number of its floor that is free.
fn numbered(before: &[Booked], mut visits: Vec<Visit>) -> Vec<Visit> {
    let mut old: Vec<&Visit> = before
        .iter()
        .filter(|b| b.is_on)
        .map(|b| &b.visit)
        .collect();
    let mut numbers: Vec<Option<usize>> = vec![None; visits.len()];
    for (visit, number) in visits.iter().zip(&mut numbers) {
        let is_same = |other: &&Visit| {
            let other = Visit {
                number: visit.number,
                ..(*other).clone()
            };
            other == *visit
        };
        if let Some(at) = old.iter().position(is_same) {
            *number = Some(old.remove(at).number);
        }
    }
    old.sort_by_key(|visit| (visit.from, visit.number));
    for (visit, number) in visits.iter().zip(&mut numbers) {
        let at = old
            .iter()
            .position(|old| old.surface_id == visit.surface_id);
        if let (None, Some(at)) = (&number, at) {
            *number = Some(old.remove(at).number);
        }
    }
    let named = visits.iter().zip(&numbers);
    let named = named.filter_map(|(visit, number)| Some((visit.surface_id.clone(), (*number)?)));
    let mut taken: BTreeSet<(String, usize)> = named.collect();
    for (visit, number) in visits.iter_mut().zip(numbers) {
        let mut free = 1..=taken.len().saturating_add(1);
        let is_free = |number: &usize| !taken.contains(&(visit.surface_id.clone(), *number));
        let number = number.or_else(|| free.find(is_free));
        visit.number = number.unwrap_or(visit.number);
        taken.insert((visit.surface_id.clone(), visit.number));
    }
    visits
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

#[cfg(test)]
mod tests {
    use super::*;

    fn visit(number: usize, day: u32, parts: &[&str]) -> Visit {
        let at = |hour| {
            let day = chrono::NaiveDate::from_ymd_opt(2026, 6, day).unwrap();
            day.and_hms_opt(hour, 0, 0).unwrap().and_utc()
        };
        Visit {
            surface_id: "srf_a".to_owned(),
            surface: "Hall".to_owned(),
            plan_id: "pln_a".to_owned(),
            crew: "Night crew".to_owned(),
            operatives: 2,
            number,
            from: at(18),
            to: at(20),
            walk_at: at(22),
            parts: parts.iter().map(|part| (*part).to_owned()).collect(),
        }
    }

    fn first(visit: Visit) -> Booked {
        Booked {
            at: visit.from,
            visit,
            sequence: 3,
            is_on: true,
        }
    }

    fn told(booked: &[Booked]) -> Vec<(usize, String, i64, bool)> {
        let told = booked.iter().map(|booked| {
            let day = booked.visit.from.format("%d").to_string();
            (booked.visit.number, day, booked.sequence, booked.is_on)
        });
        told.collect()
    }

    #[test]
    fn a_visit_that_is_as_it_was_keeps_its_number_where_one_before_it_is_split() {
        let before: Vec<Booked> = vec![
            first(visit(1, 1, &["clean"])),
            first(visit(2, 2, &["coat 1", "coat 2"])),
            first(visit(3, 4, &["coat 3"])),
        ];
        let after = vec![
            visit(1, 1, &["clean"]),
            visit(2, 2, &["coat 1"]),
            visit(3, 3, &["coat 2"]),
            visit(4, 4, &["coat 3"]),
        ];
        let at = before[0].at;
        let booked = rebooked(before.clone(), after, (4, at));
        let day = |day: &str| day.to_owned();
        let split = [
            (1, day("01"), 3, true),
            (2, day("02"), 4, true),
            (4, day("03"), 4, true),
            (3, day("04"), 3, true),
        ];
        assert_eq!(told(&booked), split);
        // Put together again, the number of the other half is told as gone; and it is the next one that is free.
        let whole: Vec<Visit> = before.iter().map(|booked| booked.visit.clone()).collect();
        let booked = rebooked(booked, whole, (5, at));
        let together = [
            (1, day("01"), 3, true),
            (2, day("02"), 5, true),
            (3, day("04"), 3, true),
            (4, day("03"), 5, false),
        ];
        assert_eq!(told(&booked), together);
        let more = [1, 2, 4, 5].map(|day| visit(0, day, &["clean"]));
        let booked = rebooked(booked, more.to_vec(), (6, at));
        let numbers: Vec<usize> = booked.iter().map(|booked| booked.visit.number).collect();
        assert_eq!(numbers, [1, 2, 3, 4]);
        assert!(booked.iter().all(|booked| booked.is_on));
    }
}

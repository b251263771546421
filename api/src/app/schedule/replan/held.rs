//! What tasks of plans that count no more still keep: who has begun goes on until it is done, and a coat stays wet.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};

use super::super::inputs::Inputs;
use crate::wire::{
    schedule::{
        replan::TaskProgress,
        told::{Sentence, TaskView},
        visit::moment,
    },
    time,
};

/// Floors, each with those to which it is the only way.
pub(super) type Ways = BTreeMap<String, Vec<String>>;

/// What a task keeps that has begun.
#[derive(Debug, Clone)]
pub(crate) struct Held {
    pub(super) surface: String,
    pub(super) crew: String,
    pub(super) operatives: u32,
    /// The indices of its machines.
    pub(super) machines: Vec<usize>,
    /// Until when it keeps them.
    pub(super) until: DateTime<Utc>,
    /// The floors that nobody can reach.
    pub(super) behind: Vec<String>,
    /// Until when.
    pub(super) walk_at: DateTime<Utc>,
}

/// What a task came to: when it began, ended or will end, and from when people may walk there.
pub(super) struct Times {
    pub(super) from: DateTime<Utc>,
    pub(super) to: DateTime<Utc>,
    pub(super) walk_at: DateTime<Utc>,
}

/// When a task was done or will be, by what is told of it; nothing for one that has not begun. Where its crew was to go on in the
/// bay, people may walk there when they were to after that: what lies there still lies there.
pub(super) fn times(
    (tasks, task): (&[TaskView], &TaskView),
    told: Option<&TaskProgress>,
    as_of: DateTime<Utc>,
) -> Option<Times> {
    let (from, to) = (moment(&task.from), moment(&task.to));
    let began = told.and_then(|told| told.started_at);
    let ended = told.and_then(|told| told.finished_at);
    let has_begun = match told {
        Some(told) if told.not_before.is_some() => false,
        Some(_told) => true,
        None => from < as_of,
    };
    let end = ended.unwrap_or(began.unwrap_or(from) + (to - from));
    // Of one that ended before it was to begin only the end is known.
    let as_planned = if from < end { from } else { end - (to - from) };
    let start = began.unwrap_or(as_planned);
    let walk_at = task.walk_at.as_deref();
    let dries = walk_at.map_or_else(|| leaves(tasks, task), moment) - to;
    has_begun.then_some(Times {
        from: start.min(end),
        to: end,
        walk_at: end + dries,
    })
}

/// What the tasks keep that have begun, of plans that count no more.
pub(super) fn held(
    (tasks, progress): (&[TaskView], &BTreeMap<usize, (usize, TaskProgress)>),
    (gone, ways): (&BTreeSet<String>, &Ways),
    inputs: &Inputs,
    as_of: DateTime<Utc>,
) -> Vec<Held> {
    let of_gone = tasks.iter().filter(|task| gone.contains(&task.plan_id));
    let held = of_gone.filter_map(|task| {
        let told = progress.get(&task.number).map(|(_, told)| told);
        let times = times((tasks, task), told, as_of)?;
        let machine = |name: &String| inputs.machines.iter().position(|own| own.name == *name);
        let held = Held {
            surface: task.surface.clone(),
            crew: task.crew.clone(),
            operatives: task.operatives,
            machines: task.machines.iter().filter_map(machine).collect(),
            until: times.to,
            behind: ways.get(&task.surface_id).cloned().unwrap_or_default(),
            walk_at: times.walk_at,
        };
        (held.until > as_of || (held.walk_at > as_of && !held.behind.is_empty())).then_some(held)
    });
    held.collect()
}

/// When people were to walk in the bay again in which a crew goes on after a task.
fn leaves(tasks: &[TaskView], task: &TaskView) -> DateTime<Utc> {
    let same = |other: &&TaskView| {
        (&other.plan_id, &other.part, other.bay) == (&task.plan_id, &task.part, task.bay)
            && other.from >= task.from
    };
    let walks = tasks.iter().filter(same);
    let walks = walks
        .filter_map(|other| other.walk_at.as_deref())
        .map(moment);
    walks
        .min()
        .unwrap_or_else(|| moment(&task.to))
        .max(moment(&task.to))
}

/// What is taken for granted of it.
pub(super) fn sentences(held: &[Held]) -> Vec<Sentence> {
    let mut by_floor: BTreeMap<&str, Held> = BTreeMap::new();
    for one in held {
        let known = by_floor.entry(&one.surface).or_insert_with(|| one.clone());
        known.until = known.until.max(one.until);
        known.walk_at = known.walk_at.max(one.walk_at);
    }
    let told = by_floor
        .into_iter()
        .map(|(floor, Held { crew, until, walk_at, behind, .. })| {
            let behind = if behind.is_empty() {
                String::new()
            } else {
                let walk_at = time::write(walk_at);
                format!(" Nobody is sent across it before {walk_at}.")
            };
            let until = time::write(until);
            Sentence(format!(
                "The plan of {floor} counts no more, but work on it has begun: it keeps {crew} until {until}, as planned or told. Tell `progress` where that is not so.{behind}"
            ))
        });
    told.collect()
}

//! From tasks and moments to steps and minutes: what is known, written down for the engine.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use domain::{
    placing::{Kind, Span},
    schedule::{Fact, Loss, Time, Window, lose, withdraw},
};

use super::super::inputs::Inputs;
use super::asked::Asked;
use crate::wire::schedule::{replan::TaskProgress, told::TaskView, visit::moment};

/// What the engine is told beside the workload.
#[derive(Debug)]
pub(super) struct Change {
    pub(super) was: Vec<Time>,
    pub(super) facts: Vec<Option<Fact>>,
    pub(super) counted: Vec<bool>,
    pub(super) now: Time,
}

/// The step of the workload that each task stands for, by its number.
pub(super) fn steps(inputs: &Inputs, tasks: &[TaskView]) -> BTreeMap<usize, usize> {
    let mut by_work: BTreeMap<(String, &str, usize, &[i64]), usize> = BTreeMap::new();
    for (step, task) in inputs.placed.tasks.iter().enumerate() {
        let Kind::Work { piece } = task.kind else {
            continue;
        };
        let plan = inputs.plans.get(task.job);
        let part = plan.and_then(|plan| plan.kept.parts.get(task.part));
        if let (Some(plan), Some(part)) = (plan, part)
            && let Some(piece) = part.pieces.get(piece)
        {
            let key = (
                plan.plan_id.to_string(),
                part.name.as_str(),
                task.bay,
                piece.steps.as_slice(),
            );
            by_work.insert(key, step);
        }
    }
    let found = tasks.iter().filter_map(|task| {
        let key = (
            task.plan_id.clone(),
            task.part.as_str(),
            task.bay,
            task.steps.as_slice(),
        );
        Some((task.number, *by_work.get(&key)?))
    });
    found.collect()
}

/// Whole minutes from the beginning of the schedule to a moment: those that are over, and those that have begun.
fn minutes(span: Span, at: DateTime<Utc>) -> (Time, Time) {
    let seconds = (at - span.from).num_seconds();
    let down = seconds.div_euclid(60);
    let up = down.saturating_add(i64::from(seconds.rem_euclid(60) > 0));
    let most = (span.to - span.from).num_minutes();
    (down.clamp(0, most), up.clamp(0, most))
}

/// Writes what is known into the workload, and beside it what the engine has to know of each step.
pub(super) fn change(inputs: &mut Inputs, asked: &Asked) -> Change {
    let span = inputs.span;
    let steps = steps(inputs, &asked.tasks);
    let n = inputs.placed.workload.steps.len();
    let (mut was, mut facts) = (vec![0; n], vec![None; n]);
    let mut counted: Vec<bool> = vec![false; n];
    let (_, now) = minutes(span, asked.as_of);
    let waits: BTreeMap<usize, DateTime<Utc>> = asked.known.not_before.iter().copied().collect();
    for task in &asked.tasks {
        let Some(step) = steps.get(&task.number).copied() else {
            continue;
        };
        let (from, to) = (moment(&task.from), moment(&task.to));
        let ((start, _), (_, end)) = (minutes(span, from), minutes(span, to));
        let planned = (start, end.saturating_sub(start));
        let told = asked.progress.get(&task.number).map(|(_, told)| told);
        let fact = match (told, waits.get(&task.number), asked.done.get(&task.plan_id)) {
            (Some(told), _, _) => Some(progressed(span, told, planned)),
            (None, _, Some(done)) => Some(done_by(span, *done, planned)),
            (None, Some(from), None) => Some(Fact::NotBefore(minutes(span, *from).1)),
            (None, None, None) => None,
        };
        if let (Some(was), Some(known), Some(counts)) = (
            was.get_mut(step),
            facts.get_mut(step),
            counted.get_mut(step),
        ) {
            (*was, *known, *counts) = (start, fact, true);
        }
        if let Some(step) = inputs.placed.workload.steps.get_mut(step) {
            step.duration = planned.1;
        }
        let closed = step.saturating_add(1);
        let is_closed = inputs.placed.tasks.get(closed);
        if is_closed.is_some_and(|task| task.kind == Kind::Closed)
            && let Some(was) = was.get_mut(closed)
        {
            *was = end;
        }
    }
    let mut change = Change {
        was,
        facts,
        counted,
        now,
    };
    take_away(inputs, asked, &mut change);
    change
}

/// What is told of a task.
fn progressed(span: Span, told: &TaskProgress, (start, duration): (Time, Time)) -> Fact {
    if let Some(from) = told.not_before {
        return Fact::NotBefore(minutes(span, from).1);
    }
    let began = told.started_at.map(|at| minutes(span, at).0);
    let Some(end) = told.finished_at.map(|at| minutes(span, at).1) else {
        let start = began.unwrap_or(start);
        return Fact::Is { start, duration };
    };
    // Of one that ended before it was to begin only the end is known.
    let as_planned = if start < end {
        start
    } else {
        end.saturating_sub(duration).max(0)
    };
    let start = began.unwrap_or(as_planned).min(end);
    Fact::Is {
        start,
        duration: end.saturating_sub(start),
    }
}

/// A task of a plan of which all is reported: as planned where that was over by the end, else within what is reported.
fn done_by(
    span: Span,
    (began, ended): (DateTime<Utc>, DateTime<Utc>),
    (start, duration): (Time, Time),
) -> Fact {
    let (began, ended) = (minutes(span, began).0, minutes(span, ended).1);
    if start.saturating_add(duration) <= ended {
        return Fact::Is { start, duration };
    }
    let start = ended.saturating_sub(duration).max(began.min(ended));
    Fact::Is {
        start,
        duration: ended.saturating_sub(start),
    }
}

/// Takes away what is not there any more.
fn take_away(inputs: &mut Inputs, asked: &Asked, change: &mut Change) {
    let span = inputs.span;
    let window = |from: DateTime<Utc>, to: DateTime<Utc>| Window {
        from: minutes(span, from).0,
        to: minutes(span, to).1,
    };
    for held in &asked.held {
        let plans = inputs.plans.iter();
        for (plan, calendar) in plans.zip(&mut inputs.placed.workload.calendars) {
            if held.behind.contains(&plan.surface_id.to_string()) {
                withdraw(calendar, window(asked.as_of, held.walk_at));
            }
        }
    }
    for closed in &asked.known.closed {
        let plans = inputs.plans.iter();
        for (plan, calendar) in plans.zip(&mut inputs.placed.workload.calendars) {
            let id = plan.surface_id.to_string();
            if closed.surface_id.as_ref().is_none_or(|named| *named == id) {
                withdraw(calendar, window(closed.from, closed.to));
            }
        }
    }
    let crew = |name: &str| inputs.crews.iter().position(|crew| crew.name == name);
    let crews = asked.known.crews_away.iter().filter_map(|away| {
        let crew = crew(&away.crew)?;
        Some(Loss {
            resource: crew,
            window: window(away.from, away.to),
            units: away.operatives.unwrap_or(u32::MAX),
        })
    });
    let n_crews = inputs.crews.len();
    let machines = asked.known.machines_away.iter().filter_map(|away| {
        let machine = asked.machines.iter().position(|key| *key == away.machine)?;
        Some(Loss {
            resource: n_crews.saturating_add(machine),
            window: window(away.from, away.to),
            units: away.count.unwrap_or(u32::MAX),
        })
    });
    let busy = asked.held.iter().flat_map(|held| {
        let of_machine = |machine: &usize| (n_crews.saturating_add(*machine), 1);
        let machines = held.machines.iter().map(of_machine);
        let crew = crew(&held.crew).map(|crew| (crew, held.operatives));
        let loss = |(resource, units)| Loss {
            resource,
            window: window(asked.as_of, held.until),
            units,
        };
        crew.into_iter().chain(machines).map(loss)
    });
    let mut losses: Vec<Loss> = crews.chain(machines).chain(busy).collect();
    // Shifts are cut first where all are away: what is lost of the rest then lies within what is left of them.
    losses.sort_by_key(|loss| std::cmp::Reverse(loss.units));
    for loss in &losses {
        let before = change.was.len();
        let busy = lose(&mut inputs.placed.workload, loss);
        let steps = inputs.placed.workload.steps.iter().skip(before);
        for (start, step) in busy.into_iter().zip(steps) {
            change.was.push(start);
            change.counted.push(false);
            change.facts.push(Some(Fact::Is {
                start,
                duration: step.duration,
            }));
        }
    }
}

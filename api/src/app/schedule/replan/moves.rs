//! What is told of a schedule that was planned again: which tasks moved and why, or why it cannot be done.

use std::collections::BTreeMap;

use domain::{
    placing::Kind,
    schedule::{Cause, MAX_STEPS, Moved, Repaired, ResourceKind, Time, Unrepaired, reopenings},
};

use super::super::reasons::{self, sentence};
use super::{Found, change::steps, held};
use crate::{
    body::Faults,
    problem::{Code, Problem},
    wire::{
        schedule::{
            replan::{MoveView, ReplanView},
            told::{ReasonView, Sentence, TaskView},
        },
        time,
    },
};

/// The most reasons that are told.
const MOST_REASONS: usize = 50;

/// What is told and kept of it.
pub(super) struct Told {
    pub(super) moves: Vec<MoveView>,
    pub(super) tasks: Vec<TaskView>,
    pub(super) n_begun: usize,
    pub(super) all_open_at: Option<String>,
}

/// What is told of a schedule that was planned again.
pub(super) fn tell(found: &Found, repaired: &Repaired) -> Told {
    let steps = steps(&found.inputs, &found.asked.tasks);
    let by_step: BTreeMap<usize, &Moved> = repaired
        .moved
        .iter()
        .map(|moved| (moved.step, moved))
        .collect();
    let (mut moves, mut tasks) = (Vec::new(), Vec::new());
    for task in &found.asked.tasks {
        let Some(step) = steps.get(&task.number).copied() else {
            // Of a plan that counts no more what has begun is history, and the rest falls away.
            let told = found.asked.progress.get(&task.number);
            let told = told.map(|(_, told)| told);
            match held::times((&found.asked.tasks, task), told, found.asked.as_of) {
                Some(times) => tasks.push(at_times(task, &times)),
                None => moves.push(cancelled(task)),
            }
            continue;
        };
        if let Some(moved) = by_step.get(&step) {
            moves.push(told(found, task, moved));
        }
        tasks.push(retimed(found, repaired, (task, step)));
    }
    tasks.sort_by(|a, b| (&a.from, a.number).cmp(&(&b.from, b.number)));
    moves.sort_by(|a, b| (&a.to, a.task).cmp(&(&b.to, b.task)));
    let as_of = time::write(found.asked.as_of);
    let mut workload = found.inputs.placed.workload.clone();
    for (step, duration) in workload.steps.iter_mut().zip(&repaired.durations) {
        step.duration = *duration;
    }
    let last = reopenings(&workload, &repaired.schedule).into_iter().max();
    Told {
        n_begun: tasks.iter().filter(|task| task.from < as_of).count(),
        all_open_at: last.map(|last| time::write(found.inputs.at(last))),
        moves,
        tasks,
    }
}

/// A task at its new times, under its old number.
fn retimed(found: &Found, repaired: &Repaired, (task, step): (&TaskView, usize)) -> TaskView {
    let start = |step: usize| repaired.schedule.starts.get(step).copied().unwrap_or(0);
    let end = |step: usize| -> Time {
        let duration = repaired.durations.get(step).copied().unwrap_or(0);
        start(step).saturating_add(duration)
    };
    let at = |minute: Time| time::write(found.inputs.at(minute));
    let closed = step.saturating_add(1);
    let waits = found.inputs.placed.tasks.get(closed);
    let waits = waits.is_some_and(|task| task.kind == Kind::Closed);
    let walk = if waits { end(closed) } else { end(step) };
    TaskView {
        from: at(start(step)),
        to: at(end(step)),
        walk_at: task.walk_at.as_ref().map(|_walk| at(walk)),
        ..task.clone()
    }
}

/// A task of a plan that counts no more, at the times that are told of it.
fn at_times(task: &TaskView, times: &held::Times) -> TaskView {
    TaskView {
        from: time::write(times.from),
        to: time::write(times.to),
        walk_at: Some(time::write(times.walk_at)),
        ..task.clone()
    }
}

fn cancelled(task: &TaskView) -> MoveView {
    MoveView {
        task: task.number,
        surface_id: task.surface_id.clone(),
        surface: task.surface.clone(),
        crew: task.crew.clone(),
        part: task.part.clone(),
        bay: task.bay,
        from: task.from.clone(),
        to: None,
        by_min: None,
        why: "plan_gone".to_owned(),
        because: "Its plan was withdrawn, or another took its place.".to_owned(),
    }
}

fn told(found: &Found, task: &TaskView, moved: &Moved) -> MoveView {
    let (why, because) = why(found, moved.cause);
    MoveView {
        from: time::write(found.inputs.at(moved.from)),
        to: Some(time::write(found.inputs.at(moved.to))),
        by_min: Some(moved.to.saturating_sub(moved.from)),
        why: why.to_owned(),
        because,
        ..cancelled(task)
    }
}

fn why(found: &Found, cause: Cause) -> (&'static str, String) {
    let inputs = &found.inputs;
    let named = |step: usize| {
        let task = inputs.placed.tasks.get(step);
        task.map_or_else(String::new, |task| sentence(inputs, task))
    };
    match cause {
        Cause::Past => (
            "past",
            "Its time has come, and what it waits for has not begun.".to_owned(),
        ),
        Cause::Told => ("told", "It is told not to begin before.".to_owned()),
        Cause::Window => (
            "window",
            "Its floor may not be closed then for as long as it takes.".to_owned(),
        ),
        Cause::After(step) => ("waits", format!("It waits for {}.", named(step))),
        Cause::Before(step) => ("waits", format!("{} waits for it.", named(step))),
        Cause::Resource(at) => {
            let resource = inputs.placed.workload.resources.get(at);
            let name = resource.map_or("", |resource| resource.name.as_str());
            let why = match resource.map(|resource| resource.kind) {
                Some(ResourceKind::Machine) => "machine",
                Some(ResourceKind::Zone) => "way",
                Some(ResourceKind::Crew) | None => "crew",
            };
            (why, format!("Too few of {name} are free then."))
        }
        Cause::Together => (
            "together",
            "It is done in one go with others that moved.".to_owned(),
        ),
    }
}

/// Says why it cannot be done.
///
/// # Errors
/// `invalid_body` where what is told contradicts itself; `internal` for a mistake of the engine.
pub(super) fn refuse(
    found: &Found,
    error: &Unrepaired,
    view: &mut ReplanView,
) -> Result<(), Problem> {
    let inputs = &found.inputs;
    let named = |step: usize| {
        let task = inputs.placed.tasks.get(step);
        task.map_or_else(String::new, |task| sentence(inputs, task))
    };
    "impossible".clone_into(&mut view.outcome);
    match error {
        Unrepaired::Impossible(found) => {
            let reasons = found.iter().take(MOST_REASONS);
            view.reasons = reasons
                .map(|reason| reasons::tell(inputs, reason))
                .collect();
        }
        Unrepaired::TooLate(link, wait) => {
            let link = inputs.placed.workload.links.get(*link);
            let (from, to) = link.map_or((0, 0), |link| (link.from, link.to));
            let most = link.and_then(|link| link.max_lag).unwrap_or(0);
            let surface = inputs.placed.tasks.get(to);
            let surface = surface.and_then(|task| inputs.plans.get(task.job));
            view.reasons = vec![ReasonView {
                kind: "too_late".to_owned(),
                statement: format!(
                    "{} has to follow {} within {most} min, and cannot before {wait} min have passed.",
                    named(to),
                    named(from)
                ),
                surface_id: surface.map(|plan| plan.surface_id.to_string()),
                chain: vec![Sentence(named(from)), Sentence(named(to))],
                window: None,
                short_by_min: Some(wait.saturating_sub(most).max(0)),
                remedies: vec![Sentence(format!(
                    "{wait} min that may pass after {}, by another product or way of work",
                    named(from)
                ))],
            }];
        }
        Unrepaired::NotFound { schedules } => {
            "not_found".clone_into(&mut view.outcome);
            view.tried = *schedules;
        }
        Unrepaired::OutOfOrder(step, before) => {
            let detail = format!("{} has to begin first: {}.", named(*before), named(*step));
            return Err(at_task(found, *step, ("out_of_order", detail)));
        }
        Unrepaired::Outside(step) => {
            let detail = format!(
                "It ends after {}, where the schedule ends.",
                time::write(inputs.span.to)
            );
            return Err(at_task(found, *step, ("out_of_range", detail)));
        }
        Unrepaired::Faulty(_) if inputs.placed.workload.steps.len() > MAX_STEPS => {
            let detail = format!(
                "Tasks, waits and shifts of which some operatives are away come to {}, and {MAX_STEPS} can be planned again at once: tell absences of whole crews, or fewer and shorter ones, or ask for a new schedule.",
                inputs.placed.workload.steps.len()
            );
            return Err(Problem::new(Code::StateConflict, detail));
        }
        mistake @ (Unrepaired::Faulty(_) | Unrepaired::Count | Unrepaired::Unsound(_)) => {
            tracing::error!(?mistake, "a schedule was not planned again soundly");
            return Err(Problem::internal(mistake));
        }
    }
    Ok(())
}

/// A fault of what is told of the task that a step stands for; a conflict where nothing is told of it.
fn at_task(found: &Found, step: usize, (code, detail): (&'static str, String)) -> Problem {
    let steps = steps(&found.inputs, &found.asked.tasks);
    let number = steps.iter().find(|(_, other)| **other == step);
    let told = number.and_then(|(number, _)| found.asked.progress.get(number));
    let Some((at, _)) = told else {
        return Problem::new(Code::StateConflict, detail);
    };
    let mut faults = Faults::new();
    faults.push(format!("#/progress/{at}"), code, detail);
    faults.finish().err().unwrap_or_else(Problem::not_found)
}

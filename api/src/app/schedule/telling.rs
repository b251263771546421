//! What is told of the answer of a search: choices in moments and names.

use domain::{
    money::Money,
    placing::{Kind, Task},
    schedule::{
        Answer, Because, Choice, Draws, NoSchedule, Objective, ResourceKind, Schedule, StoppedBy,
        Time, prospect, reopenings,
    },
};

use super::{
    inputs::Inputs,
    reasons::{self, sentence},
};
use crate::{
    problem::Problem,
    wire::{
        self,
        schedule::told::{
            AssignedView, BoundView, ChoiceView, CriticalView, ReasonView, ReopeningView,
            ScheduleResult, Sentence, TaskView,
        },
        time,
    },
};

/// The most reasons that are told.
const MOST_REASONS: usize = 50;
/// Placed steps that the draws of a choice may take, and between how many draws that is.
const DRAWN_STEPS: usize = 200_000;
const DRAWS: (usize, usize) = (100, 1_000);
/// Share of the variance that all of the work has in common: one crew, one house, one kind of day. Assumed.
const SHARED: f64 = 0.7;

/// What is kept of a search.
#[derive(Debug)]
pub(super) struct Told {
    pub(super) tried: u64,
    pub(super) result: ScheduleResult,
    /// The tasks of each choice, as JSON.
    pub(super) tasks: Vec<String>,
}

/// What is told of an answer, or of none.
///
/// # Errors
/// `internal` for a mistake of the engine or of the workload, of which nothing is told to callers.
pub(super) fn tell(
    inputs: &Inputs,
    answer: Result<Answer, NoSchedule>,
    seed: u64,
) -> Result<Told, Problem> {
    let empty = ScheduleResult {
        outcome: String::new(),
        stopped_by: None,
        choices: Vec::new(),
        out_of_reach: Vec::new(),
        reasons: Vec::new(),
        assigned: assigned(inputs),
        assumptions: inputs.assumptions.iter().cloned().map(Sentence).collect(),
    };
    match answer {
        Ok(answer) => scheduled(inputs, &answer, (seed, empty)),
        Err(NoSchedule::Impossible(found)) => {
            let reasons: Vec<ReasonView> = found
                .iter()
                .map(|reason| reasons::tell(inputs, reason))
                .collect();
            Ok(Told {
                tried: 0,
                result: ScheduleResult {
                    outcome: "impossible".to_owned(),
                    reasons: distinct(reasons),
                    ..empty
                },
                tasks: Vec::new(),
            })
        }
        Err(NoSchedule::NotFound { schedules }) => Ok(Told {
            tried: schedules,
            result: ScheduleResult {
                outcome: "not_found".to_owned(),
                ..empty
            },
            tasks: Vec::new(),
        }),
        Err(mistake @ (NoSchedule::Faulty(_) | NoSchedule::Unsound(_))) => {
            tracing::error!(?mistake, "a schedule is not sound");
            Err(Problem::internal(&mistake))
        }
    }
}

/// Reasons that read alike are told once: bays of one size lack the same.
fn distinct(reasons: Vec<ReasonView>) -> Vec<ReasonView> {
    let mut told: Vec<ReasonView> = Vec::new();
    for reason in reasons {
        let is_told = |other: &ReasonView| {
            other.kind == reason.kind
                && other.surface_id == reason.surface_id
                && other.short_by_min == reason.short_by_min
                && other.remedies.len() == reason.remedies.len()
                && told_alike(other, &reason)
        };
        if told.len() < MOST_REASONS && !told.iter().any(is_told) {
            told.push(reason);
        }
    }
    told
}

fn told_alike(one: &ReasonView, other: &ReasonView) -> bool {
    let remedies = one.remedies.iter().zip(&other.remedies);
    let parts = |reason: &ReasonView| reason.statement.split(", bay").next().map(str::to_owned);
    remedies.fold(true, |alike, (a, b)| alike && a.0 == b.0) && parts(one) == parts(other)
}

fn scheduled(
    inputs: &Inputs,
    answer: &Answer,
    (seed, empty): (u64, ScheduleResult),
) -> Result<Told, Problem> {
    let (mut choices, mut tasks) = (Vec::new(), Vec::new());
    for (number, choice) in (1_i64..).zip(&answer.choices) {
        let listed = tasks_of(inputs, &choice.schedule);
        choices.push(told(
            inputs,
            (answer, choice),
            (number, listed.len()),
            seed,
        )?);
        tasks.push(wire::document(&listed)?);
    }
    let stopped_by = match answer.stopped_by {
        StoppedBy::Budget => "budget",
        StoppedBy::Optimum => "optimum",
        StoppedBy::Cancelled | StoppedBy::Deadline => "cancelled",
    };
    let missed = answer.missed.iter();
    Ok(Told {
        tried: answer.schedules,
        result: ScheduleResult {
            outcome: "scheduled".to_owned(),
            stopped_by: Some(stopped_by.to_owned()),
            choices,
            out_of_reach: missed.map(|reason| reasons::tell(inputs, reason)).collect(),
            ..empty
        },
        tasks,
    })
}

fn assigned(inputs: &Inputs) -> Vec<AssignedView> {
    let plans = inputs.plans.iter().enumerate();
    plans
        .map(|(at, plan)| {
            let tasks = inputs.placed.tasks.iter().filter(|task| task.job == at);
            AssignedView {
                plan_id: plan.plan_id.to_string(),
                surface_id: plan.surface_id.to_string(),
                surface: plan.name.clone(),
                crew: crew(inputs, plan.crew),
                operatives: plan.kept.crew_size,
                bays: tasks.map(|task| task.of).max().unwrap_or(1),
            }
        })
        .collect()
}

fn crew(inputs: &Inputs, at: usize) -> String {
    let crew = inputs.crews.get(at);
    crew.map_or_else(String::new, |crew| crew.name.clone())
}

fn told(
    inputs: &Inputs,
    (answer, choice): (&Answer, &Choice),
    (number, n_tasks): (i64, usize),
    seed: u64,
) -> Result<ChoiceView, Problem> {
    let workload = &inputs.placed.workload;
    let count = DRAWN_STEPS.checked_div(workload.steps.len().max(1));
    let count = count.unwrap_or(0).clamp(DRAWS.0, DRAWS.1);
    let draws = Draws {
        count: u32::try_from(count).unwrap_or(u32::MAX),
        seed,
        shared: SHARED,
    };
    let prospect = prospect(workload, &choice.schedule, &draws);
    let prospect = prospect.map_err(|faults| Problem::internal(&NoSchedule::Faulty(faults)))?;
    let opens = reopenings(workload, &choice.schedule);
    let spaces = inputs.plans.iter().enumerate().zip(opens);
    let spaces = spaces.zip(&prospect.openings);
    let at = |moment: Time| time::write(inputs.at(moment));
    let reopenings = spaces.map(|(((at_plan, plan), walk), opening)| {
        let begins = begins(inputs, &choice.schedule, at_plan);
        let later = |minutes: Option<i64>| minutes.map(|min| at(walk.saturating_add(min)));
        let deadline = inputs.floors.get(at_plan).and_then(|floor| floor.deadline);
        ReopeningView {
            surface_id: plan.surface_id.to_string(),
            surface: plan.name.clone(),
            begins_at: at(begins),
            walk_at: at(walk),
            furniture_at: later(plan.kept.furniture_min),
            wet_clean_at: later(plan.kept.wet_clean_min),
            deadline: deadline.map(at),
            by_deadline: opening.by_deadline.map(|share| (share * 1e3).round() / 1e3),
            p50_at: opening.p50.map(at),
            p80_at: opening.p80.map(at),
        }
    });
    let cost = Money {
        amount: choice.measures.cost,
        currency: inputs.currency,
    };
    Ok(ChoiceView {
        number,
        best_for: choice.best_for.iter().copied().map(Into::into).collect(),
        all_open_at: at(choice.measures.last_reopening),
        crew_shifts: choice.measures.crew_shifts,
        labour_cost: cost.into(),
        bounds: bounds(inputs, answer, choice),
        reopenings: reopenings.collect(),
        critical_chain: critical(inputs, choice),
        n_tasks,
    })
}

fn begins(inputs: &Inputs, schedule: &Schedule, job: usize) -> Time {
    let tasks = inputs.placed.tasks.iter().zip(&schedule.starts);
    let own = tasks.filter(|(task, _)| task.job == job && matches!(task.kind, Kind::Work { .. }));
    own.map(|(_, start)| *start).min().unwrap_or(0)
}

fn bounds(inputs: &Inputs, answer: &Answer, choice: &Choice) -> Vec<BoundView> {
    let told = [
        Objective::EarliestReopening,
        Objective::FewestShifts,
        Objective::LeastCost,
    ];
    let view = |objective: Objective| {
        let bound = answer.bounds.0.of(objective);
        let above = answer.at_most_above(choice, objective);
        let words = match objective {
            Objective::EarliestReopening | Objective::WeightedReopening => {
                format!(
                    "no schedule opens the last floor before {}",
                    time::write(inputs.at(bound))
                )
            }
            Objective::FewestShifts => format!("no schedule takes fewer than {bound} crew-shifts"),
            Objective::LeastCost => {
                let cost = Money {
                    amount: bound,
                    currency: inputs.currency,
                };
                format!(
                    "no schedule takes less than {} {} of labour",
                    cost.text(),
                    inputs.currency.code()
                )
            }
        };
        BoundView {
            of: objective.into(),
            bound: words,
            at_most_above_pct: above.map(|above| domain::quantity::float(above) / 10.0),
        }
    };
    told.into_iter().map(view).collect()
}

fn critical(inputs: &Inputs, choice: &Choice) -> Vec<CriticalView> {
    let workload = &inputs.placed.workload;
    let chain = choice.critical.iter().filter_map(|critical| {
        let task = inputs.placed.tasks.get(critical.step)?;
        if task.kind == Kind::Ready {
            return None;
        }
        let start = *choice.schedule.starts.get(critical.step)?;
        let end = start.saturating_add(workload.steps.get(critical.step)?.duration);
        let because = match critical.because {
            Because::Link(_) => "wait",
            Because::Window => "window",
            Because::Resource(resource) => match workload.resources.get(resource)?.kind {
                ResourceKind::Crew => "crew",
                ResourceKind::Machine => "machine",
                ResourceKind::Zone => "way",
            },
            Because::KeptBack => "kept_back",
            Because::Release => "release",
        };
        Some(CriticalView {
            what: sentence(inputs, task),
            from: time::write(inputs.at(start)),
            to: time::write(inputs.at(end)),
            because: because.to_owned(),
        })
    });
    chain.collect()
}

/// The work of a schedule in the order of time.
fn tasks_of(inputs: &Inputs, schedule: &Schedule) -> Vec<TaskView> {
    let steps = &inputs.placed.workload.steps;
    let end = |step: usize| {
        let start = schedule.starts.get(step).copied().unwrap_or(0);
        start.saturating_add(steps.get(step).map_or(0, |step| step.duration))
    };
    let tasks = inputs.placed.tasks.iter().enumerate();
    let mut works: Vec<(Time, usize, &Task, usize)> = tasks
        .filter_map(|(step, task)| match task.kind {
            Kind::Work { piece } => {
                let start = schedule.starts.get(step).copied()?;
                Some((start, step, task, piece))
            }
            Kind::Closed | Kind::Ready => None,
        })
        .collect();
    works.sort_by_key(|(start, step, _, _)| (*start, *step));
    let views = works.into_iter().enumerate();
    let views = views.filter_map(|(index, (start, step, task, piece))| {
        let plan = inputs.plans.get(task.job)?;
        let part = plan.kept.parts.get(task.part)?;
        let work = part.pieces.get(piece)?;
        let is_last = piece.saturating_add(1) == part.pieces.len();
        let closed = step.saturating_add(1);
        let waits = inputs.placed.tasks.get(closed);
        let waits = waits.is_some_and(|task| task.kind == Kind::Closed);
        let walk = if waits { end(closed) } else { end(step) };
        let machine = |at: &usize| Some(inputs.machines.get(*at)?.name.clone());
        Some(TaskView {
            number: index.saturating_add(1),
            surface_id: plan.surface_id.to_string(),
            surface: plan.name.clone(),
            plan_id: plan.plan_id.to_string(),
            crew: crew(inputs, plan.crew),
            operatives: plan.kept.crew_size,
            part: part.name.clone(),
            bay: task.bay,
            of_bays: task.of,
            steps: work.steps.clone(),
            machines: work.machines.iter().filter_map(machine).collect(),
            from: time::write(inputs.at(start)),
            to: time::write(inputs.at(end(step))),
            walk_at: is_last.then(|| time::write(inputs.at(walk))),
        })
    });
    views.collect()
}

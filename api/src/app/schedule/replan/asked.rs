//! What is told of a schedule under way, read and found to be in order.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, TimeDelta, Utc};
use domain::{
    id::{PlanId, SurfaceId},
    schedule::Objective,
};
use infra::{
    row::{CompletionRow, PlanStatus},
    store::Tx,
};

use super::super::inputs::{self, Inputs, Surveys};
use super::{
    ScheduleRow, change,
    held::{self, Held, Ways},
};
use crate::{
    body::Faults,
    context::Context,
    problem::{Code, Problem},
    wire::{
        self,
        schedule::{
            ScheduleRequest,
            replan::{Known, ReplanRequest, TaskProgress},
            told::{Sentence, TaskView, result},
            visit::moment,
        },
    },
};

/// A plan of which so much is reported, in parts per million, is done: areas are rounded.
const WHOLE_PPM: i64 = 999_000;

/// What is known of a schedule under way.
#[derive(Debug)]
pub(crate) struct Asked {
    pub(super) as_of: DateTime<Utc>,
    pub(super) objective: Objective,
    pub(super) seed: u64,
    pub(super) schedules: i64,
    /// All tasks as they were planned last.
    pub(super) tasks: Vec<TaskView>,
    /// What is told of tasks, by their numbers; with the place in the request.
    pub(super) progress: BTreeMap<usize, (usize, TaskProgress)>,
    /// Plans of which all is reported: when their work began and ended.
    pub(super) done: BTreeMap<String, (DateTime<Utc>, DateTime<Utc>)>,
    /// What tasks that have begun still keep of plans that count no more.
    pub(super) held: Vec<Held>,
    /// All that is still to be heeded, now and later.
    pub(super) known: Known,
    /// The keys of the machines, in the order of the schedule's request.
    pub(super) machines: Vec<String>,
    pub(super) assumptions: Vec<Sentence>,
}

/// The schedule, its tasks as they were last, and what was known then.
type Begun = (ScheduleRow, Vec<TaskView>, Known);

/// Reads what is told, and what the schedule was made from.
pub(super) async fn load(
    ctx: &Context,
    tx: &Tx,
    request: &ReplanRequest,
    ((row, tasks, known), since): (Begun, Option<DateTime<Utc>>),
) -> Result<(Inputs, Asked), Problem> {
    let now = ctx.clock.now();
    let as_of = request.as_of.unwrap_or(now);
    let mut faults = Faults::new();
    if as_of > now {
        faults.push("#/as_of", "in_future", "Must not lie in the future.");
    }
    if since.is_some_and(|since| as_of < since) {
        let detail = "Must not lie before that of the last revision: what was told then stands.";
        faults.push("#/as_of", "out_of_range", detail);
    }
    let mut schedule: ScheduleRequest = wire::stored(&row.request)?;
    let (gone, ways) = gone(tx, &mut schedule, &row).await?;
    let inputs = inputs::read(ctx, tx, &schedule, (row.created_at, Surveys::AsPlanned)).await;
    let inputs = inputs.map_err(|problem| match problem.code() {
        Code::InvalidBody => {
            let detail = "Plans, crews or the site of the schedule are no longer what it was made from: ask for a new schedule.";
            Problem::new(Code::StateConflict, detail)
        }
        _other => problem,
    })?;
    let steps = change::steps(&inputs, &tasks);
    let is_there =
        |task: &TaskView| gone.contains(&task.plan_id) || steps.contains_key(&task.number);
    if !tasks.iter().all(is_there) {
        let detail =
            "The schedule's plans would be cut into other bays today: ask for a new schedule.";
        return Err(Problem::new(Code::StateConflict, detail));
    }
    let (done, mut assumptions) = reported(tx, &inputs, as_of).await?;
    assumptions.extend(inputs.assumptions.iter().cloned().map(Sentence));
    let progress = progress(request, (&tasks, as_of), &mut faults);
    let held = held::held((&tasks, &progress), (&gone, &ways), &inputs, as_of);
    assumptions.extend(held::sentences(&held));
    let mut asked = Asked {
        as_of,
        objective: schedule.objective.into(),
        seed: u64::try_from(request.seed).unwrap_or(1),
        schedules: request.schedules,
        progress,
        tasks,
        done,
        held,
        known,
        machines: schedule
            .machines
            .iter()
            .map(|named| named.machine.clone())
            .collect(),
        assumptions,
    };
    away(request, &inputs, &asked.machines, &mut faults);
    faults.finish()?;
    heed(request, &mut asked);
    Ok((inputs, asked))
}

/// Takes plans out of the request that count no more, and names for the others the crews that they were given. What is told of
/// their floors as ways to others is given back.
async fn gone(
    tx: &Tx,
    schedule: &mut ScheduleRequest,
    row: &ScheduleRow,
) -> Result<(BTreeSet<String>, Ways), Problem> {
    let ids: Vec<PlanId> = schedule
        .plans
        .iter()
        .filter_map(|plan| plan.plan_id.parse().ok())
        .collect();
    let rows = tx.plans().get_many(&ids).await?;
    let is_gone =
        |status: PlanStatus| !matches!(status, PlanStatus::Proposed | PlanStatus::Accepted);
    let gone: Vec<_> = rows.iter().filter(|plan| is_gone(plan.status)).collect();
    let plans: BTreeSet<String> = gone.iter().map(|plan| plan.id.to_string()).collect();
    let surfaces: BTreeSet<String> = gone
        .iter()
        .map(|plan| plan.surface_id.to_string())
        .collect();
    schedule.plans.retain(|plan| !plans.contains(&plan.plan_id));
    let of_gone = schedule.surfaces.iter();
    let of_gone = of_gone.filter(|terms| surfaces.contains(&terms.surface_id));
    let ways: Ways = of_gone
        .map(|terms| {
            let behind = terms.only_way_to.iter().map(|id| id.0.clone());
            (terms.surface_id.clone(), behind.collect())
        })
        .collect();
    schedule
        .surfaces
        .retain(|terms| !surfaces.contains(&terms.surface_id));
    for terms in &mut schedule.surfaces {
        terms.only_way_to.retain(|id| !surfaces.contains(&id.0));
    }
    schedule
        .moves
        .retain(|told| !surfaces.contains(&told.from) && !surfaces.contains(&told.to));
    let assigned = result(row)?.map_or_else(Vec::new, |result| result.assigned);
    for plan in &mut schedule.plans {
        let of_plan = assigned.iter().find(|given| given.plan_id == plan.plan_id);
        plan.crew = of_plan.map(|given| given.crew.clone()).or(plan.crew.take());
    }
    if schedule.plans.is_empty() {
        let detail = "None of the schedule's plans counts any more: there is nothing left to plan.";
        return Err(Problem::new(Code::StateConflict, detail));
    }
    Ok((plans, ways))
}

type Done = BTreeMap<String, (DateTime<Utc>, DateTime<Utc>)>;

/// Plans of which all is reported by a moment, and what is taken for granted where it is not all.
async fn reported(
    tx: &Tx,
    inputs: &Inputs,
    as_of: DateTime<Utc>,
) -> Result<(Done, Vec<Sentence>), Problem> {
    let surfaces: Vec<SurfaceId> = inputs.plans.iter().map(|plan| plan.surface_id).collect();
    let since = inputs.span.from - TimeDelta::days(1);
    let found = tx.completions().finished_since(&surfaces, since).await?;
    let (mut done, mut assumptions) = (Done::new(), Vec::new());
    for plan in &inputs.plans {
        let counts =
            |row: &&CompletionRow| row.plan_id == Some(plan.plan_id) && row.finished_at <= as_of;
        let own: Vec<&CompletionRow> = found.iter().filter(counts).collect();
        let share: i64 = own.iter().map(|row| row.planned_share_ppm).sum();
        let began = own.iter().map(|row| row.started_at).min();
        let ended = own.iter().map(|row| row.finished_at).max();
        let (Some(began), Some(ended)) = (began, ended) else {
            continue;
        };
        if share >= WHOLE_PPM {
            done.insert(plan.plan_id.to_string(), (began, ended));
        } else {
            let percent = share.div_euclid(10_000);
            assumptions.push(Sentence(format!(
                "{percent} % of the plan for {} is reported, and not which bays: its tasks count as begun as planned. Tell `progress` where that is not so.",
                plan.name
            )));
        }
    }
    Ok((done, assumptions))
}

/// What is told of tasks, by their numbers.
fn progress(
    request: &ReplanRequest,
    (tasks, as_of): (&[TaskView], DateTime<Utc>),
    faults: &mut Faults,
) -> BTreeMap<usize, (usize, TaskProgress)> {
    let by_number: BTreeMap<usize, &TaskView> =
        tasks.iter().map(|task| (task.number, task)).collect();
    let mut told = BTreeMap::new();
    for (at, progress) in request.progress.iter().enumerate() {
        let number = usize::try_from(progress.task).unwrap_or(usize::MAX);
        let place = |member: &str| format!("#/progress/{at}/{member}");
        let Some(task) = by_number.get(&number) else {
            let detail = "The schedule has no task of this number.";
            faults.push(place("task"), "reference_not_found", detail);
            continue;
        };
        let (began, ended) = (progress.started_at, progress.finished_at);
        match (progress.not_before, began.or(ended)) {
            (Some(_), Some(_)) => {
                let detail = "Either the task has begun, or it will not begin before: not both.";
                faults.push(place("not_before"), "conflicting", detail);
            }
            (None, None) => {
                let detail = "Say when it began or ended, or `not_before`.";
                faults.push(format!("#/progress/{at}"), "required", detail);
            }
            (Some(from), None) if from < as_of => {
                let detail = "Must not lie before `as_of`.";
                faults.push(place("not_before"), "out_of_range", detail);
            }
            (Some(_), None) | (None, Some(_)) => {}
        }
        if began.is_some_and(|began| began > as_of) {
            let detail = "Must not lie after `as_of`; what is to come is told by `not_before`.";
            faults.push(place("started_at"), "in_future", detail);
        }
        let began = began.unwrap_or_else(|| moment(&task.from));
        if progress.started_at.is_none()
            && ended.is_some_and(|ended| ended > as_of && began > as_of)
        {
            let detail = "Must not lie after `as_of` where the task was not to begin before.";
            faults.push(place("finished_at"), "in_future", detail);
        }
        if progress.started_at.is_some() && ended.is_some_and(|ended| ended < began) {
            let detail = "Must not lie before `started_at`.";
            faults.push(place("finished_at"), "not_after_start", detail);
        }
        if told.insert(number, (at, progress.clone())).is_some() {
            faults.push(place("task"), "duplicate", "The task is named before.");
        }
    }
    told
}

/// Whether crews, machines and surfaces that are named are those of the schedule, and stretches end after they begin.
fn away(request: &ReplanRequest, inputs: &Inputs, machines: &[String], faults: &mut Faults) {
    let mut span = |place: String, from: DateTime<Utc>, to: DateTime<Utc>| {
        if to <= from {
            faults.push(
                format!("{place}/to"),
                "out_of_range",
                "Must be later than `from`.",
            );
        }
    };
    for (at, away) in request.crews_away.iter().enumerate() {
        span(format!("#/crews_away/{at}"), away.from, away.to);
    }
    for (at, away) in request.machines_away.iter().enumerate() {
        span(format!("#/machines_away/{at}"), away.from, away.to);
    }
    for (at, closed) in request.closed.iter().enumerate() {
        span(format!("#/closed/{at}"), closed.from, closed.to);
    }
    for (at, away) in request.crews_away.iter().enumerate() {
        if !inputs.crews.iter().any(|crew| crew.name == away.crew) {
            let place = format!("#/crews_away/{at}/crew");
            faults.push(
                place,
                "unknown_crew",
                "No crew of the schedule has this name.",
            );
        }
    }
    for (at, away) in request.machines_away.iter().enumerate() {
        if !machines.contains(&away.machine) {
            let place = format!("#/machines_away/{at}/machine");
            let detail = "The schedule was asked for without a number of this machine.";
            faults.push(place, "unknown_machine", detail);
        }
    }
    let ids: BTreeSet<String> = inputs
        .plans
        .iter()
        .map(|plan| plan.surface_id.to_string())
        .collect();
    for (at, closed) in request.closed.iter().enumerate() {
        if closed
            .surface_id
            .as_ref()
            .is_some_and(|id| !ids.contains(id))
        {
            let place = format!("#/closed/{at}/surface_id");
            let detail = "Must be the surface of one of the schedule's plans.";
            faults.push(place, "reference_not_found", detail);
        }
    }
}

/// Adds what is told now to what was known, and forgets what is over.
fn heed(request: &ReplanRequest, asked: &mut Asked) {
    let (known, as_of) = (&mut asked.known, asked.as_of);
    let told = &asked.progress;
    known
        .not_before
        .retain(|(task, from)| *from > as_of && !told.contains_key(task));
    let waits = told.iter().filter_map(|(task, (_, progress))| {
        let from = progress.not_before?;
        Some((*task, from))
    });
    known.not_before.extend(waits);
    known.not_before.sort_unstable();
    add(&mut known.crews_away, &request.crews_away);
    known.crews_away.retain(|away| away.to > as_of);
    add(&mut known.machines_away, &request.machines_away);
    known.machines_away.retain(|away| away.to > as_of);
    add(&mut known.closed, &request.closed);
    known.closed.retain(|closed| closed.to > as_of);
}

/// Adds what is not there yet: what is told twice counts once.
fn add<T: Clone + PartialEq>(known: &mut Vec<T>, told: &[T]) {
    for one in told {
        if !known.contains(one) {
            known.push(one.clone());
        }
    }
}

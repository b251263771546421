//! Schedules: asked for, watched, cancelled, chosen from and read. [`make`] makes them.

mod crews;
mod hours;
mod inputs;
pub(crate) mod make;
mod reasons;
pub(crate) mod replan;
mod telling;

use chrono_tz::Tz;
use domain::id::{ScheduleId, TenantId};
use infra::store::{Page, Tx};
pub(crate) use infra::{
    row::{JobStatus, ScheduleRow},
    store::JobFilter,
};

use crate::{
    app::site,
    body::Faults,
    context::Context,
    problem::{Code, Problem},
    wire::{
        self,
        schedule::{
            ChooseRequest, ScheduleRequest,
            told::{TaskView, result},
            visit::{Booked, Visit, visits},
        },
    },
};

/// The most schedules of one tenant that are not finished.
const MAX_UNFINISHED: u64 = 3;
/// The most choices of a schedule.
const MAX_CHOICES: i64 = 3;

/// Keeps what is asked for, to be made soon.
///
/// # Errors
/// `too_many_jobs`; `invalid_body` with everything that is wrong; those of the store.
pub(crate) async fn ask(
    ctx: &Context,
    tx: &Tx,
    request: &ScheduleRequest,
) -> Result<ScheduleRow, Problem> {
    if tx.schedules().n_unfinished().await? >= MAX_UNFINISHED {
        let detail = "3 schedules of yours are queued or running: GET /v1/schedules lists them.";
        return Err(Problem::new(Code::TooManyJobs, detail));
    }
    let now = ctx.clock.now();
    let _in_order = inputs::load(ctx, tx, request, now).await?;
    let site_id = request.site_id.parse();
    let row = ScheduleRow {
        id: ScheduleId::from_uuid(ctx.ids.uuid()),
        site_id: site_id.map_err(|error| Problem::internal(&error))?,
        version: 1,
        status: JobStatus::Queued,
        request: wire::document(request)?,
        n_done: 0,
        n_total: request.schedules,
        best_until: None,
        chosen: None,
        result: None,
        n_attempts: 0,
        lease_owner: None,
        lease_until: None,
        problem: None,
        created_at: now,
        started_at: None,
        finished_at: None,
    };
    tx.schedules().insert(&row).await?;
    Ok(row)
}

/// Takes a schedule back that has not come to its end; one that has stays as it is.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn cancel(ctx: &Context, tx: &Tx, id: ScheduleId) -> Result<ScheduleRow, Problem> {
    tx.schedules().cancel(id, ctx.clock.now()).await?;
    let found = tx.schedules().get(id).await?;
    found.ok_or_else(Problem::not_found)
}

/// Says which choice of a schedule is to be done; another may be chosen later.
///
/// # Errors
/// `not_found`; `state_conflict` for one that has not come to its end with choices; `invalid_body` for a choice that it does
/// not have; `contended`; those of the store.
pub(crate) async fn choose(
    tx: &Tx,
    id: ScheduleId,
    request: &ChooseRequest,
) -> Result<ScheduleRow, Problem> {
    let row = tx.schedules().get(id).await?;
    let row = row.ok_or_else(Problem::not_found)?;
    let choices = result(&row)?.map_or(0, |result| result.choices.len());
    if choices == 0 {
        let detail = "Only a schedule that succeeded with choices can be chosen from.";
        return Err(Problem::new(Code::StateConflict, detail));
    }
    if usize::try_from(request.choice).is_ok_and(|choice| choice > choices) {
        let mut faults = Faults::new();
        let detail = format!("The schedule has {choices}.");
        faults.push("#/choice", "out_of_range", detail);
        faults.finish()?;
    }
    if row.chosen == Some(request.choice) {
        return Ok(row);
    }
    if tx.schedules().revision(id, None).await?.is_some() {
        let detail = "The schedule was re-planned while it was being done: ask for a new one instead of another choice.";
        return Err(Problem::new(Code::StateConflict, detail));
    }
    let chosen = tx
        .schedules()
        .choose(id, row.version, request.choice)
        .await?;
    if !chosen {
        return Err(Problem::new(
            Code::Contended,
            "Somebody else changed the schedule.",
        ));
    }
    let found = tx.schedules().get(id).await?;
    found.ok_or_else(Problem::not_found)
}

/// Up to `limit` schedules after an id.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    filter: &JobFilter,
    after: Option<ScheduleId>,
    limit: u64,
) -> Result<Page<ScheduleRow, ScheduleId>, Problem> {
    let glance = ctx.store.glance(tenant);
    Ok(glance.schedules().list(filter, after, limit).await?)
}

/// One schedule.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    id: ScheduleId,
) -> Result<ScheduleRow, Problem> {
    let glance = ctx.store.glance(tenant);
    let found = glance.schedules().get(id).await?;
    found.ok_or_else(Problem::not_found)
}

/// The tasks of a choice in the order of time; without a number those of the chosen one, or else of the first. Those of the
/// chosen one are as the last revision has them.
///
/// # Errors
/// `not_found`; `state_conflict` for a schedule without that choice; those of the store.
pub(crate) async fn tasks(
    ctx: &Context,
    tenant: TenantId,
    id: ScheduleId,
    choice: Option<i64>,
) -> Result<(ScheduleRow, i64, Vec<TaskView>), Problem> {
    let row = get(ctx, tenant, id).await?;
    let number = choice.or(row.chosen).unwrap_or(1);
    let glance = ctx.store.glance(tenant);
    if row.chosen == Some(number)
        && let Some(last) = glance.schedules().revision(id, None).await?
    {
        let tasks = wire::schedule::told::tasks(&last.tasks)?;
        return Ok((row, number, tasks));
    }
    let kept = glance.schedules().tasks(id, number).await?;
    let Some(kept) = kept else {
        let detail = format!(
            "The schedule is {} and has no choice {number}: read it and see what came of it.",
            row.status
        );
        return Err(Problem::new(Code::StateConflict, detail));
    };
    let tasks = wire::schedule::told::tasks(&kept)?;
    Ok((row, number, tasks))
}

/// A choice with what is shown beside it.
#[derive(Debug)]
pub(crate) struct Shown {
    /// The schedule.
    pub(crate) row: ScheduleRow,
    /// The choice.
    pub(crate) number: i64,
    /// Its tasks in the order of time.
    pub(crate) tasks: Vec<TaskView>,
    /// What people call the site.
    pub(crate) site: String,
    /// Its zone.
    pub(crate) zone: Tz,
}

/// A choice to be shown, as [`tasks`] finds it.
///
/// # Errors
/// As [`tasks`].
pub(crate) async fn shown(
    ctx: &Context,
    tenant: TenantId,
    id: ScheduleId,
    choice: Option<i64>,
) -> Result<Shown, Problem> {
    let (row, number, tasks) = tasks(ctx, tenant, id, choice).await?;
    let site = site::get(ctx, tenant, row.site_id).await?;
    Ok(Shown {
        row,
        number,
        tasks,
        zone: site::zone_of(&site),
        site: site.name,
    })
}

/// The visits of what is shown, with those that other choices or earlier revisions had.
///
/// # Errors
/// Those of the store.
pub(crate) async fn booked(
    ctx: &Context,
    tenant: TenantId,
    shown: &Shown,
) -> Result<Vec<Booked>, Problem> {
    let glance = ctx.store.glance(tenant);
    let last = glance.schedules().revision(shown.row.id, None).await?;
    if let Some(last) = last.filter(|_last| shown.row.chosen == Some(shown.number)) {
        return wire::stored(&last.visits);
    }
    let mut all = Vec::new();
    for number in 1..=MAX_CHOICES {
        let kept = glance.schedules().tasks(shown.row.id, number).await?;
        let Some(kept) = kept else { break };
        all.push(visits(&wire::schedule::told::tasks(&kept)?));
    }
    Ok(first_booked(&shown.row, visits(&shown.tasks), all))
}

/// The visits of a choice, and of others what it does not have.
fn first_booked(row: &ScheduleRow, own: Vec<Visit>, others: Vec<Vec<Visit>>) -> Vec<Booked> {
    let book = |visit: Visit, is_on: bool| Booked {
        visit,
        sequence: row.version,
        at: row.finished_at.unwrap_or(row.created_at),
        is_on,
    };
    let mut booked: Vec<Booked> = own.into_iter().map(|visit| book(visit, true)).collect();
    for visit in others.into_iter().flatten() {
        if !booked.iter().any(|other| other.visit.is(&visit)) {
            booked.push(book(visit, false));
        }
    }
    booked
}

/// Up to `limit` of a list after so many of it.
pub(crate) fn page<T>(mut all: Vec<T>, after: usize, limit: u64) -> Page<T, usize> {
    let limit = usize::try_from(limit).unwrap_or(usize::MAX);
    let mut items = all.split_off(after.min(all.len()));
    let more = items.len() > limit;
    items.truncate(limit);
    let next = more.then(|| after.saturating_add(items.len()));
    Page { items, next }
}

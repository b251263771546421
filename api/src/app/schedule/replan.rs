//! Schedules that are being done are planned again: what has happened stands, and as little as may be moves.

mod asked;
mod change;
mod held;
mod moves;

use chrono::{DateTime, Utc};
use domain::{
    event::EventKind,
    id::{EventId, ScheduleId, TenantId},
    schedule::{Effort, Repaired, Unrepaired, repair},
};
use infra::{
    row::RevisionRow,
    store::{Page, Tx},
};
use tokio::sync::Semaphore;

use self::asked::Asked;
use super::{ScheduleRow, first_booked, inputs::Inputs};
use crate::{
    context::Context,
    problem::{Code, Problem},
    wire::{
        self,
        event::data::ScheduleMovedEventData,
        schedule::{
            replan::{Known, MoveView, ReplanRequest, ReplanView},
            told::{TaskView, tasks},
            visit::{Booked, rebooked, visits},
        },
        time,
    },
};

/// The most revisions of a schedule.
const MAX_REVISIONS: i64 = 500;
/// The most moves that an answer tells by itself, and an event.
const MOST_MOVES: usize = 50;
const MOST_MOVES_IN_EVENT: usize = 20;
/// So many placed steps are the most that a search may take, whatever is asked for.
const MOST_PLACED: i64 = 2_000_000;

/// How many schedules are planned again at once in a process: each takes a core for seconds.
static SEARCHERS: Semaphore = Semaphore::const_new(2);

/// What came of it before anything is kept.
#[derive(Debug)]
pub(crate) struct Prepared {
    view: ReplanView,
    /// What is kept of it; nothing where it cannot be done.
    kept: Option<Kept>,
    row: ScheduleRow,
    as_of: DateTime<Utc>,
}

#[derive(Debug)]
struct Kept {
    known: Known,
    moves: Vec<MoveView>,
    tasks: Vec<TaskView>,
    before: Vec<Booked>,
}

/// What a search gave.
pub(super) struct Found {
    pub(super) inputs: Inputs,
    pub(super) asked: Asked,
    pub(super) outcome: Result<Repaired, Unrepaired>,
}

/// Plans a schedule again, and keeps nothing yet.
///
/// # Errors
/// `not_found`; `state_conflict` for one that nobody has chosen from, or whose plans cannot be read any more; `invalid_body` with
/// everything that is wrong; those of the store.
pub(crate) async fn prepare(
    ctx: &Context,
    tenant: TenantId,
    id: ScheduleId,
    request: &ReplanRequest,
) -> Result<Prepared, Problem> {
    let tx = ctx.store.read(tenant).await?;
    let row = tx.schedules().get(id).await?;
    let row = row.ok_or_else(Problem::not_found)?;
    let Some(chosen) = row.chosen else {
        let detail = "Nobody has chosen from the schedule yet: POST .../choose says which choice is to be done.";
        return Err(Problem::new(Code::StateConflict, detail));
    };
    let last = tx.schedules().revision(id, None).await?;
    if last
        .as_ref()
        .is_some_and(|last| last.number >= MAX_REVISIONS)
    {
        let detail =
            format!("The schedule was planned again {MAX_REVISIONS} times: ask for a new one.");
        return Err(Problem::new(Code::StateConflict, detail));
    }
    let kept = if let Some(last) = &last {
        tasks(&last.tasks)?
    } else {
        let kept = tx.schedules().tasks(id, chosen).await?;
        tasks(&kept.ok_or_else(Problem::not_found)?)?
    };
    let before = booked_before(&tx, &row, last.as_ref(), &kept).await?;
    let known = last
        .as_ref()
        .map(|last| wire::stored::<Known>(&last.request));
    let begun = (row.clone(), kept, known.transpose()?.unwrap_or_default());
    let since = last.map(|last| last.as_of);
    let (inputs, asked) = asked::load(ctx, &tx, request, (begun, since)).await?;
    drop(tx);
    let as_of = asked.as_of;
    let permit = SEARCHERS.acquire().await;
    let permit = permit.map_err(|closed| Problem::internal(&closed))?;
    let searched = tokio::task::spawn_blocking(move || {
        let found = search(inputs, asked);
        drop(permit);
        found
    });
    let found = searched.await.map_err(|error| Problem::internal(&error))?;
    told(row, &found, (as_of, before))
}

/// The visits as they were told before.
async fn booked_before(
    tx: &Tx,
    row: &ScheduleRow,
    last: Option<&RevisionRow>,
    own: &[TaskView],
) -> Result<Vec<Booked>, Problem> {
    if let Some(last) = last {
        return wire::stored(&last.visits);
    }
    let mut all = Vec::new();
    for number in 1..=super::MAX_CHOICES {
        let Some(kept) = tx.schedules().tasks(row.id, number).await? else {
            break;
        };
        all.push(visits(&tasks(&kept)?));
    }
    Ok(first_booked(row, visits(own), all))
}

fn search(mut inputs: Inputs, asked: Asked) -> Found {
    let change = change::change(&mut inputs, &asked);
    let n_steps = i64::try_from(change.was.len()).unwrap_or(i64::MAX).max(1);
    let most = MOST_PLACED.checked_div(n_steps).unwrap_or(1).max(1);
    let effort = Effort {
        schedules: u64::try_from(asked.schedules.min(most)).unwrap_or(1),
        seed: asked.seed,
    };
    let outcome = repair(
        &domain::schedule::Change {
            workload: &inputs.placed.workload,
            was: &change.was,
            facts: &change.facts,
            counted: &change.counted,
            now: change.now,
            busy_from: inputs.placed.tasks.len(),
        },
        asked.objective,
        effort,
    );
    Found {
        inputs,
        asked,
        outcome,
    }
}

/// What is told of it, and what would be kept.
fn told(
    row: ScheduleRow,
    found: &Found,
    (as_of, before): (DateTime<Utc>, Vec<Booked>),
) -> Result<Prepared, Problem> {
    let mut view = ReplanView {
        schedule_id: row.id.to_string(),
        outcome: "revised".to_owned(),
        revision: None,
        version: row.version,
        as_of: time::write(as_of),
        n_begun: 0,
        n_moved: 0,
        n_cancelled: 0,
        shift_min: 0,
        is_fewest: false,
        all_open_at: None,
        moves: Vec::new(),
        moves_href: format!("/v1/schedules/{}/moves", row.id),
        reasons: Vec::new(),
        assumptions: found.asked.assumptions.clone(),
        tried: 0,
    };
    let kept = match &found.outcome {
        Ok(repaired) => {
            let told = moves::tell(found, repaired);
            view.n_begun = told.n_begun;
            view.n_moved = repaired.moved.len();
            view.n_cancelled = told.moves.len().saturating_sub(repaired.moved.len());
            view.shift_min = repaired.shift;
            view.is_fewest = repaired.is_fewest;
            view.all_open_at = told.all_open_at;
            view.moves = told.moves.iter().take(MOST_MOVES).cloned().collect();
            view.tried = repaired.schedules;
            Some(Kept {
                known: found.asked.known.clone(),
                moves: told.moves,
                tasks: told.tasks,
                before,
            })
        }
        Err(error) => {
            moves::refuse(found, error, &mut view)?;
            None
        }
    };
    Ok(Prepared {
        view,
        kept,
        row,
        as_of,
    })
}

/// Keeps what was prepared as a revision, and tells of what moved.
///
/// # Errors
/// `contended` if the schedule has changed since; those of the store.
pub(crate) async fn keep(
    ctx: &Context,
    tx: &Tx,
    prepared: &Prepared,
) -> Result<ReplanView, Problem> {
    let mut view = prepared.view.clone();
    let Some(kept) = &prepared.kept else {
        return Ok(view);
    };
    let row = &prepared.row;
    let now = ctx.clock.now();
    let last = tx.schedules().revision(row.id, None).await?;
    let number = last.map_or(0, |last| last.number).saturating_add(1);
    let version = row.version.saturating_add(1);
    view.revision = Some(number);
    view.version = version;
    view.moves_href = format!("{}?revision={number}", view.moves_href);
    let booked = rebooked(kept.before.clone(), visits(&kept.tasks), (version, now));
    let revision = RevisionRow {
        schedule_id: row.id,
        number,
        version,
        as_of: prepared.as_of,
        request: wire::document(&kept.known)?,
        summary: wire::document(&view)?,
        moves: wire::document(&kept.moves)?,
        tasks: wire::document(&kept.tasks)?,
        visits: wire::document(&booked)?,
        created_at: now,
    };
    if !tx.schedules().revise(&revision).await? {
        let detail = "Somebody else changed the schedule.";
        return Err(Problem::new(Code::Contended, detail));
    }
    if !kept.moves.is_empty() {
        let id = EventId::from_uuid(ctx.ids.uuid());
        let moves = kept.moves.iter().take(MOST_MOVES_IN_EVENT).cloned();
        let data = ScheduleMovedEventData::new(row, &view, moves.collect());
        let event = wire::event::encode(id, EventKind::ScheduleMoved, now, &data)?;
        tx.outbox().append(&event).await?;
    }
    Ok(view)
}

/// The numbers and summaries of up to `limit` revisions of a schedule after a number.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn revisions(
    ctx: &Context,
    tenant: TenantId,
    id: ScheduleId,
    (after, limit): (i64, u64),
) -> Result<Page<(i64, String), i64>, Problem> {
    let _row = super::get(ctx, tenant, id).await?;
    let glance = ctx.store.glance(tenant);
    Ok(glance.schedules().revisions(id, after, limit).await?)
}

/// What moved in a revision, the last one if none is named: its number, and all of it.
///
/// # Errors
/// `not_found`; `state_conflict` for a schedule without that revision; those of the store.
pub(crate) async fn moves(
    ctx: &Context,
    tenant: TenantId,
    id: ScheduleId,
    number: Option<i64>,
) -> Result<(i64, Vec<MoveView>), Problem> {
    let _row = super::get(ctx, tenant, id).await?;
    let glance = ctx.store.glance(tenant);
    let Some(found) = glance.schedules().revision(id, number).await? else {
        let detail =
            "The schedule has no such revision: GET .../revisions lists those that it has.";
        return Err(Problem::new(Code::StateConflict, detail));
    };
    Ok((found.number, wire::stored(&found.moves)?))
}

//! Makes the schedules that were asked for: one at a time in each process, on a thread of its own.
//!
//! The same request gives the same schedules, because the search is bounded by its work and never by the clock. Whoever
//! takes one over after a crash begins anew.

use std::sync::{
    Arc, Mutex,
    atomic::{AtomicBool, Ordering},
};
use std::time::Duration;

use chrono::{DateTime, TimeDelta, Utc};
use domain::{
    event::EventKind,
    id::{EventId, TenantId},
    schedule::{Effort, Go, Progress, Time, solve},
};
use infra::{
    clock::{IdSource as _, UuidV7Source},
    row::ScheduleRow,
    store::{DueJob, Lease},
};

use super::{
    inputs::{self, Inputs},
    telling::{self, Told},
};
use crate::{
    context::Context,
    problem::{Code, Problem},
    wire::{
        self, estimate_job::JobProblem, event::data::ScheduleEventData, schedule::ScheduleRequest,
    },
};

/// For how long nothing may be heard of a worker before it is taken for dead.
const LEASE: TimeDelta = TimeDelta::seconds(60);
/// How often a search says how far it is and asks whether it is still wanted.
const HEARD_EVERY: Duration = Duration::from_millis(500);
/// For how long a schedule is kept after its end: well beyond the longest span.
const KEPT: TimeDelta = TimeDelta::days(400);
/// How often a schedule is begun before it is given up.
const MAX_ATTEMPTS: i64 = 3;

/// Makes the oldest schedule that nobody works on; false if there is none.
///
/// # Errors
/// Those of the store before one was taken. What goes wrong with one is kept with it.
pub(crate) async fn next(ctx: &Arc<Context>, owner: &str) -> Result<bool, Problem> {
    let now = ctx.clock.now();
    for DueJob { tenant, row } in ctx.store.due_schedules(now).await? {
        let tx = ctx.store.begin(tenant).await?;
        if !tx.schedules().claim(&row, lease(owner, now), now).await? {
            continue;
        }
        tx.commit().await?;
        let made = if row.n_attempts < MAX_ATTEMPTS {
            make(ctx, tenant, &row, owner).await
        } else {
            let detail = "It was begun three times and never came to its end: ask for fewer plans or schedules.";
            Err(Problem::new(Code::Internal, detail))
        };
        if let Err(problem) = made {
            give_up(ctx, tenant, &row, owner, &problem).await?;
        }
        return Ok(true);
    }
    Ok(false)
}

/// Forgets schedules that came to their end long ago.
///
/// # Errors
/// Those of the store.
pub(crate) async fn sweep(ctx: &Context) -> Result<(), Problem> {
    let before = ctx.clock.now() - KEPT;
    let n_swept = ctx.store.sweep_schedules(before).await?;
    if n_swept > 0 {
        tracing::info!(n_swept, "old schedules are forgotten");
    }
    Ok(())
}

fn lease(owner: &str, now: DateTime<Utc>) -> Lease<'_> {
    let until = now + LEASE;
    Lease { owner, until }
}

/// Says why nothing came of it, unless it is worth another try: then its lease runs out.
async fn give_up(
    ctx: &Context,
    tenant: TenantId,
    row: &ScheduleRow,
    owner: &str,
    problem: &Problem,
) -> Result<(), Problem> {
    tracing::warn!(schedule = %row.id, %problem, "a schedule came to nothing");
    if problem.may_pass() {
        return Ok(());
    }
    let told = wire::document(&JobProblem::from(problem))?;
    let tx = ctx.store.begin(tenant).await?;
    let now = ctx.clock.now();
    if tx.schedules().fail(row.id, owner, &told, now).await? {
        tell(ctx, &tx, row, "failed").await?;
    }
    Ok(tx.commit().await?)
}

/// Tells of the end of a schedule.
async fn tell(
    ctx: &Context,
    tx: &infra::store::Tx,
    row: &ScheduleRow,
    outcome: &str,
) -> Result<(), Problem> {
    let found = tx.schedules().get(row.id).await?;
    let found = found.ok_or_else(Problem::not_found)?;
    // Of its own source: the ids of records stay what they would be without a worker.
    let id = EventId::from_uuid(UuidV7Source.uuid());
    let data = ScheduleEventData::new(&found, outcome);
    let event = wire::event::encode(id, EventKind::ScheduleFinished, ctx.clock.now(), &data)?;
    tx.outbox().append(&event).await?;
    Ok(())
}

/// What a search tells while it runs, and is told.
#[derive(Default)]
struct Line {
    told: Mutex<(u64, Option<Time>)>,
    is_off: AtomicBool,
}

impl Line {
    fn hear(&self, progress: &Progress<'_>) -> Go {
        if let Ok(mut told) = self.told.lock() {
            *told = (progress.schedules, progress.last_reopening);
        }
        if self.is_off.load(Ordering::Relaxed) {
            Go::Cancel
        } else {
            Go::On
        }
    }
}

/// Takes a search off its thread when nobody waits for it any more.
struct Off(Arc<Line>);

impl Drop for Off {
    fn drop(&mut self) {
        self.0.is_off.store(true, Ordering::Relaxed);
    }
}

async fn make(
    ctx: &Arc<Context>,
    tenant: TenantId,
    row: &ScheduleRow,
    owner: &str,
) -> Result<(), Problem> {
    let request: ScheduleRequest = wire::stored(&row.request)?;
    let tx = ctx.store.read(tenant).await?;
    let inputs = inputs::load(ctx, &tx, &request, row.created_at).await?;
    drop(tx);
    let from = inputs.span.from;
    let line = Arc::new(Line::default());
    let off = Off(Arc::clone(&line));
    let heard = Arc::clone(&line);
    let made = tokio::task::spawn_blocking(move || search(&inputs, &request, &heard));
    tokio::pin!(made);
    let told = loop {
        // It ends, or it is time to hear of it.
        match tokio::time::timeout(HEARD_EVERY, &mut made).await {
            Ok(made) => break made.map_err(|error| Problem::internal(&error))??,
            Err(_elapsed) => {
                let (tried, best) = line.told.lock().map_or((0, None), |told| *told);
                let best = best.and_then(|best| Some(from + TimeDelta::try_minutes(best)?));
                let tried = at_most(tried, row.n_total);
                let tx = ctx.store.begin(tenant).await?;
                let lease = lease(owner, ctx.clock.now());
                if !tx.schedules().keep(row.id, lease, tried, best).await? {
                    tracing::info!(schedule = %row.id, "a schedule was cancelled or is another's");
                    return Ok(());
                }
                tx.commit().await?;
            }
        }
    };
    drop(off);
    keep(ctx, tenant, row, owner, told).await
}

fn at_most(tried: u64, most: i64) -> i64 {
    i64::try_from(tried).unwrap_or(i64::MAX).min(most)
}

async fn keep(
    ctx: &Context,
    tenant: TenantId,
    row: &ScheduleRow,
    owner: &str,
    told: Told,
) -> Result<(), Problem> {
    let tx = ctx.store.begin(tenant).await?;
    let tried = at_most(told.tried, row.n_total);
    let outcome = told.result.outcome.clone();
    let document = wire::document(&told.result)?;
    let end = (tried, document.as_str(), told.tasks);
    if tx
        .schedules()
        .succeed(row.id, owner, end, ctx.clock.now())
        .await?
    {
        tell(ctx, &tx, row, &outcome).await?;
    }
    Ok(tx.commit().await?)
}

/// The search itself, and what is told of its answer.
fn search(inputs: &Inputs, request: &ScheduleRequest, line: &Line) -> Result<Told, Problem> {
    let effort = Effort {
        schedules: u64::try_from(request.schedules).unwrap_or(1),
        seed: u64::try_from(request.seed).unwrap_or(1),
    };
    let workload = &inputs.placed.workload;
    let answer = solve(
        workload,
        request.objective.into(),
        effort,
        &mut |progress| line.hear(progress),
    );
    telling::tell(inputs, answer, effort.seed)
}

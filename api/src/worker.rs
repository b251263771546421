//! What the service does without being asked over HTTP: one loop in each process, supervised, one piece of work at a time.
//!
//! It never ends by itself: what fails is logged and tried again at its next turn.

use std::{
    convert::Infallible,
    panic::AssertUnwindSafe,
    sync::Arc,
    time::{Duration, Instant},
};

use chrono::{DateTime, TimeDelta, Utc};
use futures_util::FutureExt as _;
use infra::clock::{IdSource as _, UuidV7Source};

use crate::{
    app::{due::tell, estimate_job::make, import::run, schedule},
    context::Context,
    problem::Problem,
};

/// After how long it looks for work that nobody in this process told it of: left by another process, or by its end.
const PACE: Duration = Duration::from_secs(5);
/// How often old work is forgotten.
const SWEEP_EVERY: TimeDelta = TimeDelta::hours(1);

/// How often it looks for floors to reckon and for work that comes due; whoever reads due dates does not wait for it.
const DUE_EVERY: Duration = Duration::from_mins(1);

/// When what is done now and then was done last.
#[derive(Default)]
struct Rounds {
    swept: Option<DateTime<Utc>>,
    due: Option<Instant>,
}

/// Works until it is dropped.
pub(crate) async fn work(ctx: Arc<Context>) -> Infallible {
    // Of its own source: the ids of records stay what they would be without a worker.
    let owner = UuidV7Source.uuid().to_string();
    let mut rounds = Rounds::default();
    loop {
        let turn = AssertUnwindSafe(turn(&ctx, &owner, &mut rounds)).catch_unwind();
        match turn.await {
            Ok(Ok(true)) => continue,
            Ok(Ok(false)) => {}
            Ok(Err(problem)) => tracing::warn!(%problem, "the worker's turn failed"),
            Err(_panic) => tracing::error!("the worker panicked"),
        }
        // Told or not, it looks.
        let _told = tokio::time::timeout(PACE, ctx.jobs.notified()).await;
    }
}

/// Makes schedules until it is dropped: beside the other work, because a search takes long and nothing should wait for it.
/// One at a time, on one thread, so that a process never spends more than a core on them.
pub(crate) async fn make_schedules(ctx: Arc<Context>) -> Infallible {
    let owner = UuidV7Source.uuid().to_string();
    let mut swept: Option<DateTime<Utc>> = None;
    loop {
        let now = ctx.clock.now();
        let turn = async {
            if swept.is_none_or(|last| now - last >= SWEEP_EVERY) {
                schedule::make::sweep(&ctx).await?;
                swept = Some(now);
            }
            schedule::make::next(&ctx, &owner).await
        };
        match AssertUnwindSafe(turn).catch_unwind().await {
            Ok(Ok(true)) => continue,
            Ok(Ok(false)) => {}
            Ok(Err(problem)) => tracing::warn!(%problem, "the turn of the schedules failed"),
            Err(_panic) => tracing::error!("the worker of the schedules panicked"),
        }
        let _told = tokio::time::timeout(PACE, ctx.schedules.notified()).await;
    }
}

/// Does one piece of work; false if there is none.
async fn turn(ctx: &Arc<Context>, owner: &str, rounds: &mut Rounds) -> Result<bool, Problem> {
    let now = ctx.clock.now();
    if rounds.swept.is_none_or(|last| now - last >= SWEEP_EVERY) {
        make::sweep(ctx).await?;
        run::sweep(ctx).await?;
        rounds.swept = Some(now);
    }
    if run::next(ctx, owner).await? || make::next(ctx, owner).await? {
        return Ok(true);
    }
    if rounds.due.is_some_and(|last| last.elapsed() < DUE_EVERY) {
        return Ok(false);
    }
    let found = tell::next(ctx).await?;
    if !found {
        rounds.due = Some(Instant::now());
    }
    Ok(found)
}

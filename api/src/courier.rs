//! Takes events to those who want to be told of them: one loop in each process, supervised, beside the worker.
//!
//! An event leaves in three steps, each a short transaction of one tenant or none: it is *handed out* (a delivery for each
//! subscription that wants it), a delivery is *leased* and sent while no transaction is open, and what came of it is
//! *recorded* if the lease is still there. A process that dies in between leaves a lease that runs out, and the event is
//! sent once more: at least once, in no order.

mod hand_out;
mod send;

use std::{
    collections::BTreeSet,
    convert::Infallible,
    future::Future,
    panic::AssertUnwindSafe,
    pin::Pin,
    sync::Arc,
    time::{Duration, Instant},
};

use chrono::{DateTime, TimeDelta, Utc};
use domain::id::{SubscriptionId, TenantId};
use futures_util::{FutureExt as _, StreamExt as _, stream::FuturesUnordered};
use infra::clock::{IdSource as _, UuidV7Source};

use self::send::Errand;
use crate::{app::delivery::KEPT, context::Context, problem::Problem};

/// After how long it looks for what nobody in this process told it of: what is due again, or was left by another process.
const PACE: Duration = Duration::from_secs(1);
/// How long it lets what happens gather before it looks again: under load it would ask the database without a pause.
const GATHER: Duration = Duration::from_millis(25);
/// For how long an attempt may take before whoever makes it is taken for dead; twice what a call may take.
const LEASE: TimeDelta = TimeDelta::seconds(30);
/// How many deliveries of one subscription are tried at a time, by all processes together.
const MOST_EACH: u64 = 4;
/// How many deliveries this process tries at a time.
const MOST: usize = 256;
/// How often the backlog is measured.
const MEASURE_EVERY: Duration = Duration::from_secs(10);
/// How often the log is cut to its length.
const SWEEP_EVERY: Duration = Duration::from_hours(1);

type Flight<'a> = Pin<Box<dyn Future<Output = ()> + Send + 'a>>;

/// Says that private addresses may be called.
fn warn_of_insecure() {
    tracing::warn!(
        "WEARCOURSE_OUTBOUND_INSECURE is on: whoever may subscribe can reach private addresses of this network from here"
    );
}

/// Works until it is dropped.
pub(crate) async fn work(ctx: &Arc<Context>) -> Infallible {
    let mut flights = FuturesUnordered::new();
    let mut chores = Chores::default();
    loop {
        let (mut n_landed, free) = (0, MOST.saturating_sub(flights.len()));
        let turn = AssertUnwindSafe(turn(ctx, &mut chores, free)).catch_unwind();
        match beside(&mut flights, &mut n_landed, turn).await {
            Ok(Ok(errands)) => {
                flights.extend(errands.into_iter().map(|errand| flight(ctx, errand)));
            }
            Ok(Err(problem)) => tracing::warn!(%problem, "the courier's turn failed"),
            Err(_panic) => tracing::error!("the courier panicked"),
        }
        let gather = tokio::time::timeout(GATHER, std::future::pending::<()>());
        let _gathered = beside(&mut flights, &mut n_landed, gather).await;
        // Whoever has landed made room for another.
        if n_landed == 0 && !chores.is_behind {
            tokio::select! {
                Some(()) = flights.next() => {}
                // Told or not, it looks.
                _ = tokio::time::timeout(PACE, ctx.outbound.notified()) => {}
            }
        }
    }
}

/// Does something while attempts go on, and counts those that come to their end meanwhile. On SQLite one of them may hold
/// the one writer that the other waits for.
async fn beside<T>(
    flights: &mut FuturesUnordered<Flight<'_>>,
    n_landed: &mut usize,
    work: impl Future<Output = T>,
) -> T {
    tokio::pin!(work);
    loop {
        tokio::select! {
            done = &mut work => return done,
            Some(()) = flights.next() => *n_landed = n_landed.saturating_add(1),
        }
    }
}

/// An attempt on its way; it never fails, for whatever it does.
fn flight(ctx: &Arc<Context>, errand: Errand) -> Flight<'_> {
    Box::pin(async move {
        let id = errand.delivery.id;
        match AssertUnwindSafe(send::run(ctx, errand))
            .catch_unwind()
            .await
        {
            Ok(Ok(())) => {}
            // Its lease runs out.
            Ok(Err(problem)) => {
                tracing::warn!(delivery = %id, %problem, "an attempt was not recorded");
            }
            Err(_panic) => tracing::error!(delivery = %id, "an attempt panicked"),
        }
    })
}

/// What is done now and then.
#[derive(Default)]
struct Chores {
    measured: Option<Instant>,
    swept: Option<Instant>,
    /// Whether more events may wait to be handed out.
    is_behind: bool,
}

/// Hands out what waits and leases up to `free` deliveries that are due.
async fn turn(
    ctx: &Arc<Context>,
    chores: &mut Chores,
    free: usize,
) -> Result<Vec<Errand>, Problem> {
    let is_due = |last: Option<Instant>, every| last.is_none_or(|last| last.elapsed() >= every);
    if is_due(chores.swept, SWEEP_EVERY) {
        chores.swept = Some(Instant::now());
        if ctx.egress.allowed().is_insecure {
            warn_of_insecure();
        }
        sweep(ctx).await?;
    }
    chores.is_behind = false;
    for tenant in ctx.store.tenants_with_events().await? {
        chores.is_behind |= hand_out::next(ctx, tenant).await?;
    }
    let now = ctx.clock.now();
    if is_due(chores.measured, MEASURE_EVERY) {
        chores.measured = Some(Instant::now());
        ctx.metrics.backlog(ctx.store.backlog(now).await?);
    }
    let mut errands = Vec::new();
    if free == 0 {
        return Ok(errands);
    }
    for (tenant, subscription) in ctx.store.due_subscriptions(now, MOST_EACH).await? {
        errands.extend(lease(ctx, (tenant, subscription), now).await?);
        if errands.len() >= free {
            break;
        }
    }
    Ok(errands)
}

/// Leases what is due of one subscription.
async fn lease(
    ctx: &Context,
    (tenant, id): (TenantId, SubscriptionId),
    now: DateTime<Utc>,
) -> Result<Vec<Errand>, Problem> {
    let tx = ctx.store.begin(tenant).await?;
    let Some(subscription) = tx.subscriptions().take(id).await? else {
        return Ok(Vec::new());
    };
    // Of its own source: the ids of records stay what they would be without a courier.
    let token = (UuidV7Source.uuid(), now + LEASE);
    let leased = tx.deliveries().lease(id, token, now, MOST_EACH).await?;
    let events: BTreeSet<_> = leased.iter().map(|row| row.event_id).collect();
    let events: Vec<_> = events.into_iter().collect();
    let events = tx.outbox().get_many(&events).await?;
    tx.commit().await?;
    let subscription = Arc::new(subscription);
    let errand = |delivery: infra::row::DeliveryRow| {
        let event = events.iter().find(|event| event.id == delivery.event_id)?;
        Some(Errand {
            tenant,
            lease: token.0,
            subscription: Arc::clone(&subscription),
            payload: event.payload.clone(),
            delivery,
        })
    };
    Ok(leased.into_iter().filter_map(errand).collect())
}

/// Cuts the log of every tenant to its length, a batch at a time.
async fn sweep(ctx: &Context) -> Result<(), Problem> {
    let before = ctx.clock.now() - KEPT;
    for tenant in ctx.store.tenants().ids().await? {
        while ctx.store.sweep_deliveries(tenant, before).await? > 0 {}
    }
    Ok(())
}

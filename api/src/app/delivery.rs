//! Deliveries: the log, and what is sent again or tried out. The courier does the sending.

use chrono::{DateTime, TimeDelta, Utc};
use domain::{
    event::EventKind,
    id::{DeliveryId, EventId, SubscriptionId, TenantId},
};
pub(crate) use infra::{row::DeliveryStatus, store::DeliveryFilter};
use infra::{
    row::{AttemptRow, DeliveryRow, EventRow, SubscriptionStatus},
    store::{Page, Span, Tx},
};
use uuid::Uuid;

use super::subscription::{self, SubscriptionRow};
use crate::{
    body::Faults,
    context::Context,
    problem::{Code, Problem},
    wire::{
        self,
        delivery::DeliveryView,
        event::data::SubscriptionEventData,
        subscription::{ReplayRequest, ReplayView},
        time,
    },
};

/// For how long the log is kept.
pub(crate) const KEPT: TimeDelta = TimeDelta::days(30);
/// How many attempts of a delivery are shown.
const SHOWN: u64 = 50;
/// The most deliveries that one call sends again.
const MAX_REPLAYED: u64 = 10_000;
/// How many events are read at a time for those that were missed, and how often.
const MISSED: (u64, usize) = (500, 20);

/// A delivery of an event that nobody has tried; it is due at once.
pub(crate) fn new(
    id: Uuid,
    subscription: SubscriptionId,
    event: &EventRow,
    now: DateTime<Utc>,
) -> DeliveryRow {
    DeliveryRow {
        id: DeliveryId::from_uuid(id),
        subscription_id: subscription,
        event_id: event.id,
        event_type: event.kind.clone(),
        event_at: event.created_at,
        version: 1,
        status: DeliveryStatus::Pending,
        n_attempts: 0,
        n_round: 0,
        due_at: Some(now),
        lease: None,
        created_at: now,
        finished_at: None,
    }
}

/// Sends an event of no consequence to a subscription, to try it out.
///
/// # Errors
/// `not_found`; `state_conflict` if it is disabled; those of the store.
pub(crate) async fn ping(
    ctx: &Context,
    tx: &Tx,
    id: SubscriptionId,
) -> Result<DeliveryRow, Problem> {
    let row = enabled(tx, id).await?;
    let (event, now) = (EventId::from_uuid(ctx.ids.uuid()), ctx.clock.now());
    let data = SubscriptionEventData::from(&row);
    let event = wire::event::encode(event, EventKind::SubscriptionPinged, now, &data)?;
    // It is for this one alone: nobody else is asked whether he wants it.
    let event = EventRow {
        handed_out_at: Some(now),
        ..event
    };
    tx.outbox().append(&event).await?;
    let delivery = new(ctx.ids.uuid(), id, &event, now);
    tx.deliveries()
        .insert(std::slice::from_ref(&delivery))
        .await?;
    Ok(delivery)
}

/// Sends a delivery again, under the id of its event: whatever came of it, it gets all its attempts once more. One that is
/// being tried at this moment is left to that.
///
/// # Errors
/// `not_found`; `state_conflict` if its subscription is disabled or deleted; those of the store.
pub(crate) async fn replay(ctx: &Context, tx: &Tx, id: DeliveryId) -> Result<DeliveryRow, Problem> {
    let row = find(tx, id).await?;
    let Some(subscription) = tx.subscriptions().get(row.subscription_id).await? else {
        let detail = "Its subscription is deleted.";
        return Err(Problem::new(Code::StateConflict, detail));
    };
    must_be_enabled(&subscription)?;
    tx.deliveries().replay(id, ctx.clock.now()).await?;
    find(tx, id).await
}

/// Sends again what happened in a span of time and did not arrive at a subscription, and what it was not told of because
/// it was disabled, asked for less or was not there.
///
/// # Errors
/// `not_found`; `invalid_body` for a span that is none or holds too much; `state_conflict` if it is disabled; those of the
/// store.
pub(crate) async fn replay_span(
    ctx: &Context,
    tx: &Tx,
    id: SubscriptionId,
    request: &ReplayRequest,
) -> Result<ReplayView, Problem> {
    let row = enabled(tx, id).await?;
    let now = ctx.clock.now();
    let to = request.to.unwrap_or(now).min(now);
    let mut faults = Faults::new();
    if request.from >= to {
        faults.push(
            "#/from",
            "out_of_range",
            "Must lie before `to` and before now.",
        );
    }
    faults.finish()?;
    let span = Span {
        from: request.from,
        to,
        with_delivered: request.with_delivered,
    };
    if tx.deliveries().count_span(id, span).await? > MAX_REPLAYED {
        let mut faults = Faults::new();
        let detail = format!("More than {MAX_REPLAYED} deliveries: ask for a shorter span.");
        faults.push("#/from", "too_many", detail);
        faults.finish()?;
    }
    let (missed, next_from) = missed(ctx, tx, &row, (request.from, to)).await?;
    let n_replayed = tx.deliveries().replay_span(id, span, now).await?;
    tx.deliveries().insert(&missed).await?;
    Ok(ReplayView {
        subscription_id: id.to_string(),
        n_replayed,
        n_missed: u64::try_from(missed.len()).unwrap_or(u64::MAX),
        next_from: next_from.map(time::write),
    })
}

/// Deliveries of events that a subscription wants and was not told of, and where to go on if there are more.
async fn missed(
    ctx: &Context,
    tx: &Tx,
    row: &SubscriptionRow,
    span: (DateTime<Utc>, DateTime<Utc>),
) -> Result<(Vec<DeliveryRow>, Option<DateTime<Utc>>), Problem> {
    let (asked, now) = (subscription::request_of(row)?, ctx.clock.now());
    let (limit, times) = MISSED;
    let (mut missed, mut after, mut next_from) = (Vec::new(), None, None);
    for _ in 0..times {
        let events = tx.outbox().list_missed(row.id, span, after, limit).await?;
        let is_last = u64::try_from(events.len()).is_ok_and(|n| n < limit);
        // A ping that went to another one is of no interest here.
        let wanted = events.iter().filter(|event| {
            event.kind != EventKind::SubscriptionPinged.word() && asked.takes(event)
        });
        missed.extend(wanted.map(|event| new(ctx.ids.uuid(), row.id, event, now)));
        let Some(last) = events.last().filter(|_| !is_last) else {
            return Ok((missed, None));
        };
        (after, next_from) = (Some(last.id), Some(last.created_at));
    }
    Ok((missed, next_from))
}

async fn enabled(tx: &Tx, id: SubscriptionId) -> Result<SubscriptionRow, Problem> {
    let row = subscription::find(tx, id).await?;
    must_be_enabled(&row)?;
    Ok(row)
}

fn must_be_enabled(row: &SubscriptionRow) -> Result<(), Problem> {
    if row.status == SubscriptionStatus::Enabled {
        return Ok(());
    }
    let detail = "The subscription is disabled: enable it first.";
    Err(Problem::new(Code::StateConflict, detail))
}

async fn find(tx: &Tx, id: DeliveryId) -> Result<DeliveryRow, Problem> {
    let row = tx.deliveries().get(id).await?;
    row.ok_or_else(Problem::not_found)
}

/// Up to `limit` deliveries after an id.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    filter: &DeliveryFilter,
    page: (Option<DeliveryId>, u64),
) -> Result<Page<String, DeliveryId>, Problem> {
    let glance = ctx.store.glance(tenant);
    let rows = glance.deliveries().list(filter, page).await?;
    rows.try_map(|row| wire::document(&DeliveryView::new(&row)))
}

/// One delivery with its attempts.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    id: DeliveryId,
) -> Result<(DeliveryRow, Vec<AttemptRow>), Problem> {
    let tx = ctx.store.read(tenant).await?;
    let row = find(&tx, id).await?;
    let attempts = tx.deliveries().attempts(id, SHOWN).await?;
    Ok((row, attempts))
}

//! Hands events out: a delivery for each subscription that wants to be told.

use domain::id::TenantId;
use infra::clock::{IdSource as _, UuidV7Source};

use crate::{
    app::{delivery, subscription::request_of},
    context::Context,
    problem::Problem,
};

/// How many events are handed out in one transaction.
const BATCH: u64 = 200;

/// Hands the oldest events of a tenant out that wait.
///
/// A subscription gets none that happened before it was made, or while it was disabled.
///
/// Says whether more may wait.
///
/// # Errors
/// Those of the store.
pub(super) async fn next(ctx: &Context, tenant: TenantId) -> Result<bool, Problem> {
    let tx = ctx.store.begin(tenant).await?;
    let events = tx.outbox().take_waiting(BATCH).await?;
    if events.is_empty() {
        return Ok(false);
    }
    let is_full = u64::try_from(events.len()).is_ok_and(|n| n >= BATCH);
    let (now, mut rows) = (ctx.clock.now(), Vec::new());
    for subscription in tx.subscriptions().list_enabled().await? {
        let asked = request_of(&subscription)?;
        let wanted = events
            .iter()
            .filter(|event| event.created_at >= subscription.created_at && asked.takes(event));
        // Of its own source: the ids of records stay what they would be without a courier.
        rows.extend(
            wanted.map(|event| delivery::new(UuidV7Source.uuid(), subscription.id, event, now)),
        );
    }
    tx.deliveries().insert(&rows).await?;
    let ids: Vec<_> = events.iter().map(|event| event.id).collect();
    tx.outbox().set_handed_out(&ids, now).await?;
    tx.commit().await?;
    Ok(is_full)
}

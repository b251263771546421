//! Tells of work that comes due, once for each due date, and keeps due dates reckoned: what the worker does for floors.

use std::{collections::BTreeMap, sync::Arc};

use chrono::Days;
use domain::{
    event::EventKind,
    id::{EventId, SurfaceId, TenantId},
};
use infra::clock::{IdSource as _, UuidV7Source};

use super::reckon_site;
use crate::{
    context::Context,
    problem::Problem,
    wire::{self, event::data::SurfaceDueEventData},
};

/// How many days before a due date it is told.
pub(crate) const LEAD_DAYS: u64 = 14;
/// How many floors of a site are reckoned in one turn.
const PER_TURN: usize = 500;
/// How many due dates are told in one transaction.
const TOLD: u64 = 200;

/// Reckons floors that wait for it and tells of what comes due; false if there was nothing to do.
///
/// # Errors
/// Those of the store.
pub(crate) async fn next(ctx: &Arc<Context>) -> Result<bool, Problem> {
    let edition = &ctx.knowledge.version;
    let mut n_done = 0_usize;
    for waiting in ctx.store.unreckoned(edition).await? {
        let n = reckon_site(ctx, waiting.tenant, waiting.site, PER_TURN).await?;
        n_done = n_done.saturating_add(n);
    }
    let today = ctx.clock.now().date_naive();
    let by = today
        .checked_add_days(Days::new(LEAD_DAYS))
        .unwrap_or(today);
    for tenant in ctx.store.tenants_with_untold(by).await? {
        n_done = n_done.saturating_add(tell(ctx, tenant, by).await?);
    }
    Ok(n_done > 0)
}

/// Tells a tenant of what is due up to a day and was not told yet; says of how many. The note that it was told and the event
/// are one transaction, so another process that does the same tells of it neither twice nor never.
async fn tell(ctx: &Context, tenant: TenantId, by: chrono::NaiveDate) -> Result<usize, Problem> {
    let (tx, now) = (ctx.store.begin(tenant).await?, ctx.clock.now());
    let due = tx.dues().untold(by, TOLD).await?;
    let surfaces: Vec<SurfaceId> = due.iter().map(|row| row.surface_id).collect();
    let floors = tx.surfaces().get_many(&surfaces).await?;
    let floors: BTreeMap<_, _> = floors.iter().map(|floor| (floor.id, floor)).collect();
    let mut n_told = 0_usize;
    for row in &due {
        if !tx.dues().tell(row).await? {
            continue;
        }
        n_told = n_told.saturating_add(1);
        let is_gone = row.gone_on.is_some_and(|gone| gone <= now.date_naive());
        let Some(floor) = floors.get(&row.surface_id).filter(|_| !is_gone) else {
            continue;
        };
        // Of its own source: the ids of records stay what they would be without a worker.
        let event = EventId::from_uuid(UuidV7Source.uuid());
        let data = SurfaceDueEventData::new(row, floor);
        let event = wire::event::encode(event, EventKind::SurfaceDue, now, &data)?;
        tx.outbox().append(&event).await?;
    }
    tx.commit().await?;
    if n_told > 0 {
        ctx.outbound.notify_one();
    }
    Ok(n_told)
}

//! What happened to a surface, in the order of happening.

use chrono::{DateTime, Utc};
use domain::id::{SurfaceId, TenantId};
pub(crate) use infra::store::{HistoryFilter, HistoryKey};
use infra::{
    row::{EventRow, HistoryRow},
    store::{Page, Tx},
};

use super::surface;
use crate::{context::Context, problem::Problem};

/// The most characters of a statement.
const MAX_STATEMENT: usize = 1_000;

/// An event as the history of a surface keeps it.
pub(crate) fn of(
    event: &EventRow,
    surface: SurfaceId,
    at: DateTime<Utc>,
    statement: &str,
) -> HistoryRow {
    HistoryRow {
        id: event.id,
        surface_id: surface,
        at,
        kind: event.kind.clone(),
        subject: event.subject.clone(),
        version: event.version,
        statement: statement.chars().take(MAX_STATEMENT).collect(),
        created_at: event.created_at,
        changes: None,
    }
}

/// Tells of an event and notes it in the history of its surface.
///
/// # Errors
/// Those of the store.
pub(crate) async fn tell(
    tx: &Tx,
    event: &EventRow,
    (surface, at): (SurfaceId, DateTime<Utc>),
    statement: &str,
) -> Result<(), Problem> {
    tx.outbox().append(event).await?;
    tx.histories()
        .append(&of(event, surface, at, statement))
        .await?;
    Ok(())
}

/// Up to `limit` things that happened to a surface after a place in its history.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    id: SurfaceId,
    filter: HistoryFilter,
    (after, limit): (Option<HistoryKey>, u64),
) -> Result<Page<HistoryRow, HistoryKey>, Problem> {
    let tx = ctx.store.read(tenant).await?;
    let floor = surface::find(&tx, id).await?;
    Ok(tx.histories().list(floor.id, filter, after, limit).await?)
}

//! What the register said of a surface before: its document, with what was changed since taken back step by step.

use domain::id::{SurfaceId, TenantId};
pub(crate) use infra::store::ChangedSince;
use serde_json::{Map, Value};

use super::find;
use crate::{
    context::Context,
    problem::Problem,
    wire::{self, history::Changes},
};

/// A surface in an earlier version, or as it was at a moment: its version then and its document.
///
/// # Errors
/// `not_found`, also for a version that it never had and a moment before it was registered; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    id: SurfaceId,
    wanted: ChangedSince,
) -> Result<(i64, String), Problem> {
    let tx = ctx.store.snapshot(tenant).await?;
    let row = find(&tx, id).await?;
    let was_there = match wanted {
        ChangedSince::Version(version) => (1..=row.version).contains(&version),
        ChangedSince::Moment(at) => row.created_at <= at,
    };
    if !was_there {
        return Err(Problem::not_found());
    }
    let mut document: Map<String, Value> = wire::stored(&row.document)?;
    let mut version = row.version;
    for change in tx.histories().changes(row.id, wanted).await? {
        if change.version != version {
            return Err(Problem::internal(&MissingChange(row.id, version)));
        }
        if let Some(changes) = Changes::of(&change)? {
            changes.take_back(&mut document);
        }
        version = version.saturating_sub(1);
    }
    Ok((version, wire::document(&document)?))
}

/// A history that does not tell of every version.
#[derive(Debug, thiserror::Error)]
#[error("the history of {0} does not tell how it came to version {1}")]
struct MissingChange(SurfaceId, i64);

//! Surfaces: registering, changing and reading them, and what planning needs of them.

pub(crate) mod batch;
mod classify;
mod facts;
pub(crate) mod past;
mod place;
mod seen;
mod shape;
pub(crate) mod succession;
mod write;

pub(crate) use infra::store::SurfaceFilter;
pub(crate) use seen::seen_at;
pub(crate) use write::{change, register};

use domain::{
    film::Told,
    id::{SurfaceId, TenantId},
    survey::Survey,
};
use infra::{
    row::SurfaceRow,
    store::{Page, Place, Turn, Tx},
};

use crate::{
    context::Context,
    problem::Problem,
    wire::{self, surface::SurfaceRequest},
};

/// What is known of a surface, as the planner takes it.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn survey_of(row: &SurfaceRow) -> Result<Survey, Problem> {
    let request = request_of(row)?;
    let unreadable = |_faults| Problem::internal(&StoredOutline(row.id));
    let outline = request.outline().map_err(unreadable)?;
    let mut survey = request.survey(&row.material, outline);
    if survey.outline.is_none() {
        // The ledger's own figures.
        survey.area = row.area;
        survey.perimeter = row.perimeter;
    }
    Ok(survey)
}

/// What a surface's survey says of its film, if it says anything.
pub(crate) fn told(request: &SurfaceRequest) -> Option<Told> {
    let told = request.film.as_ref()?.told();
    (told != Told::default()).then_some(told)
}

/// A stored outline was sound when it was written.
#[derive(Debug, thiserror::Error)]
#[error("the stored outline of {0} is none")]
struct StoredOutline(SurfaceId);

/// A surface as its request would say it.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn request_of(row: &SurfaceRow) -> Result<SurfaceRequest, Problem> {
    wire::surface::stored(&row.document)
}

/// A surface as a patch is merged into it: its film without the moment at which it was seen, so that a patch that says
/// something else of the film and no moment does not say it of that one.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn patchable(row: &SurfaceRow) -> Result<SurfaceRequest, Problem> {
    let mut request = request_of(row)?;
    if let Some(film) = &mut request.film {
        film.seen_at = None;
    }
    Ok(request)
}

/// The documents of up to `limit` surfaces in the order of a turn.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    filter: &SurfaceFilter,
    turn: Turn,
    limit: u64,
) -> Result<Page<String, Place>, Problem> {
    let glance = ctx.store.glance(tenant);
    Ok(glance.surfaces().documents(filter, turn, limit).await?)
}

/// One surface: its version and its document.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    id: SurfaceId,
) -> Result<(i64, String), Problem> {
    let found = ctx.store.glance(tenant).surfaces().document(id).await?;
    found.ok_or_else(Problem::not_found)
}

/// One surface, in the transaction that will change it.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn find(tx: &Tx, id: SurfaceId) -> Result<SurfaceRow, Problem> {
    tx.surfaces().get(id).await?.ok_or_else(Problem::not_found)
}

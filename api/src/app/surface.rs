//! Surfaces: registering, changing and reading them, and what planning needs of them.

pub(crate) mod batch;
mod classify;
mod facts;
pub(crate) mod succession;
mod write;

pub(crate) use infra::store::SurfaceFilter;
pub(crate) use write::{change, register};

use domain::{
    film::Told,
    id::{SurfaceId, TenantId},
    survey::Survey,
};
use infra::{
    row::SurfaceRow,
    store::{Page, Tx},
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
    let mut survey = request_of(row)?.survey(&row.material);
    // The ledger's own figures.
    survey.area = row.area;
    survey.perimeter = row.perimeter;
    Ok(survey)
}

/// What a surface's survey says of its film, if it says anything.
pub(crate) fn told(request: &SurfaceRequest) -> Option<Told> {
    let told = request.film.as_ref()?.told();
    (told != Told::default()).then_some(told)
}

/// A surface as its request would say it.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn request_of(row: &SurfaceRow) -> Result<SurfaceRequest, Problem> {
    wire::surface::stored(&row.document)
}

/// The documents of up to `limit` surfaces after an id.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    filter: &SurfaceFilter,
    after: Option<SurfaceId>,
    limit: u64,
) -> Result<Page<String, SurfaceId>, Problem> {
    let glance = ctx.store.glance(tenant);
    Ok(glance.surfaces().documents(filter, after, limit).await?)
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

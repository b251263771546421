//! Estimates over up to 10,000 surfaces: asked for, watched, cancelled and read. [`make`] makes them.

pub(crate) mod make;

use domain::{
    id::{EstimateJobId, SiteId, SurfaceId, TenantId},
    knowledge::Products,
};
use infra::store::{Page, Tx};
pub(crate) use infra::{
    row::{EstimateJobRow, JobStatus},
    store::JobFilter,
};

use super::{
    estimate::{self, Wishes},
    product, site, stock_item,
};
use crate::{
    body::Faults,
    context::Context,
    problem::{Code, Problem},
    wire::{self, estimate::EstimateRequest},
};

/// The most surfaces of one job.
const MAX_SURFACES: u64 = 10_000;
/// The most jobs of one tenant that are not finished.
const MAX_UNFINISHED: u64 = 3;
/// How many surfaces are planned at a time: what is held in memory, and what a crash loses at most.
const PART: usize = 250;

/// Keeps what is asked for, to be made soon.
///
/// # Errors
/// `too_many_jobs`; `invalid_body` for a site, processes or products that do not exist, no or too many surfaces, or one that
/// is named twice; those of the store. A surface that is not there is no fault: its line of the result says so.
pub(crate) async fn ask(
    ctx: &Context,
    tx: &Tx,
    request: &EstimateRequest,
) -> Result<EstimateJobRow, Problem> {
    if tx.estimate_jobs().n_unfinished().await? >= MAX_UNFINISHED {
        let detail = "3 jobs of yours are queued or running: GET /v1/estimate-jobs lists them.";
        return Err(Problem::new(Code::TooManyJobs, detail));
    }
    let mut faults = Faults::new();
    let own = product::own(tx).await?;
    let known = Products {
        base: ctx.knowledge,
        own: &own,
    };
    Wishes::read(known, (&request.wish, &request.wishes[..]), &mut faults);
    let site = match request.site_id.parse::<SiteId>() {
        Ok(id) => tx.sites().get(id).await?,
        Err(_not_an_id) => None,
    };
    let Some(site) = site else {
        faults.push("#/site_id", "reference_not_found", "There is no such site.");
        return Err(faults.finish().err().unwrap_or_else(Problem::not_found));
    };
    let surfaces = match &request.surface_ids {
        Some(_) => named(request, &mut faults),
        None => matching(tx, site.id, request, &mut faults).await?,
    };
    let now = ctx.clock.now();
    let today = site::day_of(&site, now);
    let retired_on = wire::site::stored(&site.document)?.retired_on();
    site::is_retired(retired_on, today, "#/site_id", &mut faults);
    stock_item::planned_day(request.planned_on, today, &mut faults);
    faults.finish()?;
    let without_surfaces = EstimateRequest {
        surface_ids: None,
        ..request.clone()
    };
    let row = EstimateJobRow {
        id: EstimateJobId::from_uuid(ctx.ids.uuid()),
        site_id: site.id,
        version: 1,
        status: JobStatus::Queued,
        request: wire::document(&without_surfaces)?,
        n_done: 0,
        n_total: i64::try_from(surfaces.len()).unwrap_or(i64::MAX),
        n_attempts: 0,
        lease_owner: None,
        lease_until: None,
        problem: None,
        created_at: now,
        started_at: None,
        finished_at: None,
    };
    let parts: Vec<&[SurfaceId]> = surfaces.chunks(PART).collect();
    tx.estimate_jobs().insert(&row, &parts).await?;
    Ok(row)
}

/// The surfaces that a request names, in the order of their ids.
fn named(request: &EstimateRequest, faults: &mut Faults) -> Vec<SurfaceId> {
    if request.storey.is_some() || request.materials.is_some() {
        let detail = "Name surfaces, or narrow them by storey and materials: not both.";
        faults.push("#/surface_ids", "conflicting", detail);
    }
    let mut found = std::collections::BTreeSet::new();
    for (index, text) in request.surface_ids.iter().flatten().enumerate() {
        let place = || format!("#/surface_ids/{index}");
        match text.0.parse::<SurfaceId>() {
            Ok(id) if found.insert(id) => {}
            Ok(_) => faults.push(place(), "duplicate", "The surface is named before."),
            Err(error) => faults.push(place(), "malformed", error.to_string()),
        }
    }
    found.into_iter().collect()
}

/// The surfaces of a site that a request lets through, in the order of their ids.
async fn matching(
    tx: &Tx,
    site_id: SiteId,
    request: &EstimateRequest,
    faults: &mut Faults,
) -> Result<Vec<SurfaceId>, Problem> {
    let filter = estimate::matching(site_id, request);
    let most = usize::try_from(MAX_SURFACES).unwrap_or(usize::MAX);
    let limit = MAX_SURFACES.saturating_add(1);
    let ids = tx.surfaces().ids(&filter, limit).await?;
    if ids.is_empty() {
        let detail = "No surface matches: name another storey or materials, or register surfaces.";
        faults.push("#/site_id", "no_surfaces", detail);
    }
    if ids.len() > most {
        let detail = "More than 10,000 surfaces match; narrow them by storey or materials.";
        faults.push("#/site_id", "too_many", detail);
    }
    Ok(ids)
}

/// Takes a job back that has not come to its end; one that has stays as it is.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn cancel(
    ctx: &Context,
    tx: &Tx,
    id: EstimateJobId,
) -> Result<EstimateJobRow, Problem> {
    tx.estimate_jobs().cancel(id, ctx.clock.now()).await?;
    let found = tx.estimate_jobs().get(id).await?;
    found.ok_or_else(Problem::not_found)
}

/// Up to `limit` jobs after an id.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    filter: &JobFilter,
    after: Option<EstimateJobId>,
    limit: u64,
) -> Result<Page<EstimateJobRow, EstimateJobId>, Problem> {
    let glance = ctx.store.glance(tenant);
    Ok(glance.estimate_jobs().list(filter, after, limit).await?)
}

/// One job.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    id: EstimateJobId,
) -> Result<EstimateJobRow, Problem> {
    let glance = ctx.store.glance(tenant);
    let found = glance.estimate_jobs().get(id).await?;
    found.ok_or_else(Problem::not_found)
}

/// The lines of a part of a result, by its number from 1; `None` behind the last.
///
/// # Errors
/// Those of the store.
pub(crate) async fn lines(
    ctx: &Context,
    tenant: TenantId,
    id: EstimateJobId,
    number: i64,
) -> Result<Option<String>, Problem> {
    let glance = ctx.store.glance(tenant);
    Ok(glance.estimate_jobs().lines(id, number).await?)
}

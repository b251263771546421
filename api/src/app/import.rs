//! Files that are handed over with buildings: sent, watched, made true and read. [`run`] reads them.

mod changes;
mod headway;
mod named;
pub(crate) mod run;

use std::sync::Arc;

use domain::{
    handover::{Format, Handover, Refusal},
    id::{ImportId, SiteId, TenantId},
};
use infra::store::{Page, Tx};
pub(crate) use infra::{
    row::{ImportRow, ImportStage, JobStatus, OutcomeRow},
    store::JobFilter,
};
use tokio::sync::Semaphore;

pub(crate) use headway::Headway;

use super::site;
use crate::{
    body::Fault,
    context::Context,
    problem::{Code, Problem},
    wire,
};

/// The most imports of one tenant that are not finished.
const MAX_UNFINISHED: u64 = 3;
/// How many files are read at once in a process, so that their content in memory is bounded.
static READERS: Semaphore = Semaphore::const_new(2);

/// Reads a file on a thread of its own.
///
/// # Errors
/// `invalid_body` for a file that cannot be read, with the place; `internal` for a thread that died.
pub(crate) async fn read(format: Format, content: Arc<[u8]>) -> Result<Handover, Problem> {
    let permit = READERS.acquire().await;
    let permit = permit.map_err(|closed| Problem::internal(&closed))?;
    let read = tokio::task::spawn_blocking(move || {
        let found = infra::handover::read(format, &content);
        drop(permit);
        found
    });
    let read = read.await.map_err(|error| Problem::internal(&error))?;
    read.map_err(|refusal| refused(&refusal))
}

/// A file that is refused as a whole.
fn refused(refusal: &Refusal) -> Problem {
    let kind = refusal.kind.word();
    let fault = Fault::at("#", kind, refusal.to_string());
    Problem::with_faults(Code::InvalidBody, vec![fault])
}

/// A file as it was sent.
pub(crate) struct Sent {
    /// The site whose spaces it tells of.
    pub(crate) site_id: SiteId,
    /// Its format.
    pub(crate) format: Format,
    /// Its bytes, which can be read.
    pub(crate) content: Arc<[u8]>,
    /// Whether its surfaces are registered, or only said.
    pub(crate) applies: bool,
}

/// Keeps a file, to be worked on soon.
///
/// # Errors
/// `too_many_jobs`; `parameter_out_of_range` for a site that is not there or retired; those of the store.
pub(crate) async fn send(ctx: &Context, tx: &Tx, sent: Sent) -> Result<ImportRow, Problem> {
    check_unfinished(tx).await?;
    let now = ctx.clock.now();
    let fault = |code, detail| {
        let fault = Fault::parameter("site_id", code, detail);
        Problem::with_faults(Code::ParameterOutOfRange, vec![fault])
    };
    let site = tx.sites().get(sent.site_id).await?;
    let site =
        site.ok_or_else(|| fault("reference_not_found", "There is no such site.".to_owned()))?;
    let retired_on = wire::site::stored(&site.document)?.retired_on();
    if let Some(on) = retired_on.filter(|on| *on <= site::day_of(&site, now)) {
        return Err(fault("site_retired", site::retired_since(on)));
    }
    let row = ImportRow {
        id: ImportId::from_uuid(ctx.ids.uuid()),
        site_id: site.id,
        version: 1,
        status: JobStatus::Queued,
        format: sent.format.word().to_owned(),
        n_bytes: i64::try_from(sent.content.len()).unwrap_or(i64::MAX),
        applies: sent.applies,
        n_attempts: 0,
        stage: ImportStage::Waiting,
        n_done: 0,
        n_total: 0,
        summary: None,
        problem: None,
        by: None,
        lease_owner: None,
        lease_until: None,
        created_at: now,
        started_at: None,
        finished_at: None,
    };
    tx.imports().insert(&row, sent.content.to_vec()).await?;
    Ok(row)
}

async fn check_unfinished(tx: &Tx) -> Result<(), Problem> {
    if tx.imports().n_unfinished().await? >= MAX_UNFINISHED {
        let detail = "3 imports of yours are queued or running: GET /v1/imports lists them.";
        return Err(Problem::new(Code::TooManyJobs, detail));
    }
    Ok(())
}

/// Has a dry run made true: the file is judged once more by what is registered when its turn comes.
///
/// # Errors
/// `not_found`; `state_conflict` for one that has not succeeded, or is applied already; `too_many_jobs`; those of the store.
pub(crate) async fn apply(tx: &Tx, id: ImportId) -> Result<ImportRow, Problem> {
    let found = tx.imports().get(id).await?;
    let row = found.ok_or_else(Problem::not_found)?;
    let refusal = if row.applies {
        "It is applied, or is being applied, already: send the file again for another try."
    } else if row.status != JobStatus::Succeeded {
        "Only a dry run that has succeeded can be applied: read it until it has."
    } else {
        check_unfinished(tx).await?;
        if tx.imports().apply(&row).await? {
            let found = tx.imports().get(id).await?;
            return found.ok_or_else(Problem::not_found);
        }
        "Somebody else has it applied."
    };
    Err(Problem::new(Code::StateConflict, refusal))
}

/// Up to `limit` imports after an id.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    filter: &JobFilter,
    (after, limit): (Option<ImportId>, u64),
) -> Result<Page<ImportRow, ImportId>, Problem> {
    let (known, glance) = (ctx.headway.now(), ctx.store.glance(tenant));
    let mut page = glance.imports().list(filter, after, limit).await?;
    for row in &mut page.items {
        known.onto(row);
    }
    Ok(page)
}

/// One import, and whether it is further than its version tells.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    id: ImportId,
) -> Result<(ImportRow, bool), Problem> {
    let (known, glance) = (ctx.headway.now(), ctx.store.glance(tenant));
    let found = glance.imports().get(id).await?;
    let mut row = found.ok_or_else(Problem::not_found)?;
    let is_further = known.onto(&mut row);
    Ok((row, is_further))
}

/// Takes an import back that has not come to its end; one that has stays as it is.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn cancel(ctx: &Context, tx: &Tx, id: ImportId) -> Result<ImportRow, Problem> {
    tx.imports().cancel(id, ctx.clock.now()).await?;
    let found = tx.imports().get(id).await?;
    found.ok_or_else(Problem::not_found)
}

/// Up to `limit` spaces of a file after a number; of those with an outcome, if one is named.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn rows(
    ctx: &Context,
    tenant: TenantId,
    (id, outcome): (ImportId, Option<&str>),
    (after, limit): (Option<i64>, u64),
) -> Result<Page<OutcomeRow, i64>, Problem> {
    let glance = ctx.store.glance(tenant);
    let imports = glance.imports();
    let found = imports.get(id).await?;
    let _import = found.ok_or_else(Problem::not_found)?;
    Ok(imports.rows(id, outcome, after, limit).await?)
}

//! Registering and changing single surfaces, and what batches share with that.

use chrono::{DateTime, Utc};
use domain::id::{EventId, SiteId, SurfaceId};
use infra::{
    row::{EventRow, SurfaceRow},
    store::Tx,
};

use super::{
    classify::{Draft, Refusal, at, draft},
    request_of,
};
use crate::{
    context::Context,
    problem::Problem,
    wire::{
        self,
        surface::{SurfaceHead, SurfaceRequest, SurfaceView},
    },
};

/// Registers a surface and tells of it.
///
/// # Errors
/// `invalid_body` with every fault; `already_exists` if another surface has the external id; those of the store.
pub(crate) async fn register(
    ctx: &Context,
    tx: &Tx,
    request: &SurfaceRequest,
) -> Result<SurfaceRow, Problem> {
    let known = known_site(tx, &request.site_id).await?;
    let draft = draft(ctx.knowledge, request, "#", |id| known == Some(id))?;
    let (row, event) = create(ctx, draft, ctx.clock.now())?;
    tx.surfaces().insert(&row).await?;
    tx.outbox().append(&event).await?;
    Ok(row)
}

/// Changes a surface to what a request says and tells of it; a request that says the same changes nothing.
///
/// # Errors
/// As [`register`]; `stale_version` if somebody else was faster.
pub(crate) async fn change(
    ctx: &Context,
    tx: &Tx,
    row: &SurfaceRow,
    request: &SurfaceRequest,
) -> Result<SurfaceRow, Problem> {
    // Whatever site is named, it can only be the one that it has.
    let draft = draft(ctx.knowledge, request, "#", |id| id == row.site_id).map_err(|refusal| {
        let same_site = request.site_id == row.site_id.to_string();
        if same_site { refusal } else { moved(refusal) }
    })?;
    if is_said_by(&draft, row)? {
        return Ok(row.clone());
    }
    let (changed, event) = update(ctx, draft, row, ctx.clock.now())?;
    tx.surfaces().update(&changed, row.version).await?;
    tx.outbox().append(&event).await?;
    Ok(changed)
}

/// Says of the site what is wrong with it in a change.
fn moved(mut refusal: Refusal) -> Refusal {
    refusal.faults.retain(|fault| fault.code != "unknown_site");
    refusal.faults.push(other_site("#"));
    refusal
}

/// The fault of a change that names another site.
pub(super) fn other_site(root: &str) -> crate::body::Fault {
    let detail = "A surface stays at its site: register another surface at the other site.";
    at(root, "site_id", "read_only", detail)
}

/// The site of a request, if it exists.
async fn known_site(tx: &Tx, id: &str) -> Result<Option<SiteId>, Problem> {
    let Ok(id) = id.parse::<SiteId>() else {
        return Ok(None);
    };
    Ok(tx.sites().get(id).await?.map(|site| site.id))
}

/// Whether a surface says already what a draft says.
pub(super) fn is_said_by(draft: &Draft, row: &SurfaceRow) -> Result<bool, Problem> {
    // The dictionary may mean another material by the same finish since.
    Ok(draft.survey.material == row.material && draft.request == request_of(row)?)
}

/// The row and the event of a new surface.
pub(super) fn create(
    ctx: &Context,
    draft: Draft,
    now: DateTime<Utc>,
) -> Result<(SurfaceRow, EventRow), Problem> {
    let head = SurfaceHead {
        id: SurfaceId::from_uuid(ctx.ids.uuid()),
        version: 1,
        created_at: now,
        updated_at: now,
    };
    rows(ctx, &head, draft, "wearcourse.surface.registered.v1")
}

/// The row and the event of a surface that a draft replaces.
pub(super) fn update(
    ctx: &Context,
    draft: Draft,
    row: &SurfaceRow,
    now: DateTime<Utc>,
) -> Result<(SurfaceRow, EventRow), Problem> {
    let head = SurfaceHead {
        id: row.id,
        version: row.version.saturating_add(1),
        created_at: row.created_at,
        updated_at: now,
    };
    rows(ctx, &head, draft, "wearcourse.surface.changed.v1")
}

fn rows(
    ctx: &Context,
    head: &SurfaceHead,
    draft: Draft,
    kind: &str,
) -> Result<(SurfaceRow, EventRow), Problem> {
    let survey = draft.survey;
    let (name, storey) = (draft.request.name.clone(), draft.request.storey.clone());
    let external = draft.request.external.as_ref().map(Into::into);
    let view = SurfaceView::new(head, draft.request, survey.material.clone(), draft.findings);
    let row = SurfaceRow {
        id: head.id,
        site_id: draft.site_id,
        version: head.version,
        name,
        storey,
        material: survey.material,
        area: survey.area,
        perimeter: survey.perimeter,
        external,
        document: wire::document(&view)?,
        created_at: head.created_at,
        updated_at: head.updated_at,
    };
    let (event, subject) = (EventId::from_uuid(ctx.ids.uuid()), row.id.to_string());
    let subject = (subject.as_str(), row.version);
    let event = wire::event::encode_document(event, kind, subject, head.updated_at, &row.document)?;
    Ok((row, event))
}

//! Registering and changing single surfaces, and what batches share with that.

use std::collections::BTreeSet;

use chrono::{DateTime, Utc};
use domain::{
    event::EventKind,
    film::{Told, Word},
    geometry::Outline,
    id::{EventId, ObservationId, SiteId, SurfaceId},
    knowledge::Products,
};
use infra::{
    row::{EventRow, FactStatus, HistoryRow, ObservationRow, SurfaceRow},
    store::Tx,
};
use serde_json::{Map, Value};

use super::{
    classify::{Draft, Refusal, at, draft},
    facts::own_if,
    place::Places,
    request_of, seen,
    succession::{Succession, resolve},
    told,
};
use crate::{
    app::history,
    body::Fault,
    context::Context,
    problem::Problem,
    wire::{
        self,
        event::data::SurfaceEventData,
        history::Changes,
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
    let now = ctx.clock.now();
    let places = Places::load(tx, [request.site_id.as_str()].into_iter(), now).await?;
    let mut request = request.clone();
    seen::date(&mut request, None, now);
    resolve(tx, [&mut request]).await?;
    let faults = places.fault(&request.site_id, "#").into_iter().collect();
    let is_site = |id| places.has(id);
    let draft = check(ctx, tx, None, (&request, now), (faults, is_site)).await??;
    let written = create(ctx, draft, now)?;
    tx.surfaces().insert(&written.row).await?;
    written.tell(tx).await
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
    let now = ctx.clock.now();
    let mut request = request.clone();
    let before = request_of(row)?;
    seen::date(&mut request, Some(&before), now);
    resolve(tx, [&mut request]).await?;
    // Whatever site is named, it can only be the one that it has.
    let is_site = |id| id == row.site_id;
    let nothing_yet = Vec::new();
    let draft = check(
        ctx,
        tx,
        Some(row.id),
        (&request, now),
        (nothing_yet, is_site),
    )
    .await?;
    let draft = draft.map_err(|refusal| {
        let same_site = request.site_id == row.site_id.to_string();
        if same_site { refusal } else { moved(refusal) }
    })?;
    if is_said_by(&draft, row, &before) {
        return Ok(row.clone());
    }
    let written = update(ctx, draft, row, now)?;
    tx.surfaces().update(&written.row, row.version).await?;
    written.tell(tx).await
}

/// Makes one surface ready to be stored; `faults` are those that were found already.
async fn check(
    ctx: &Context,
    tx: &Tx,
    id: Option<SurfaceId>,
    (request, now): (&SurfaceRequest, DateTime<Utc>),
    (mut faults, is_site): (Vec<Fault>, impl Fn(SiteId) -> bool),
) -> Result<Result<Draft, Refusal>, Problem> {
    let own = own_if(tx, [&request.maker_instruction]).await?;
    let known = Products {
        base: ctx.knowledge,
        own: &own,
    };
    let named = request.replaced_by.as_ref();
    let mut successors = Succession::load(tx, [named]).await?;
    faults.extend(successors.fault(id, &request.site_id, named, "#"));
    faults.extend(seen::fault(request, now, "#"));
    Ok(match draft(known, request, "#", is_site) {
        Ok(_draft) if !faults.is_empty() => Err(Refusal::attention(faults)),
        Ok(draft) => Ok(draft),
        Err(mut refusal) => {
            refusal.faults.extend(faults);
            Err(refusal)
        }
    })
}

/// Says of the site what is wrong with it in a change.
fn moved(mut refusal: Refusal) -> Refusal {
    refusal.faults.retain(|fault| fault.code != "unknown_site");
    refusal.faults.push(other_site("#"));
    refusal
}

/// The fault of a change that names another site.
pub(super) fn other_site(root: &str) -> Fault {
    let detail = "A surface stays at its site: register another surface at the other site.";
    at(root, "site_id", "read_only", detail)
}

/// Whether a surface, which says what stands in `before`, says already what a draft says.
pub(super) fn is_said_by(draft: &Draft, row: &SurfaceRow, before: &SurfaceRequest) -> bool {
    // The dictionary may mean another material by the same finish since.
    draft.survey.material == row.material && draft.request == *before
}

/// All that is written of a surface that is new or changed.
#[derive(Debug)]
pub(super) struct Written {
    /// The surface.
    pub(super) row: SurfaceRow,
    /// The event that tells of it.
    pub(super) event: EventRow,
    /// Its place in the surface's history.
    pub(super) history: HistoryRow,
    /// What it says of the film, where that is new.
    pub(super) observation: Option<ObservationRow>,
}

impl Written {
    /// Tells of a surface that was stored, and says it.
    async fn tell(self, tx: &Tx) -> Result<SurfaceRow, Problem> {
        tx.outbox().append(&self.event).await?;
        tx.histories().append(&self.history).await?;
        if let Some(observation) = &self.observation {
            tx.observations().insert(observation).await?;
        }
        Ok(self.row)
    }
}

/// What is written of a new surface.
pub(super) fn create(ctx: &Context, draft: Draft, now: DateTime<Utc>) -> Result<Written, Problem> {
    let head = SurfaceHead {
        id: SurfaceId::from_uuid(ctx.ids.uuid()),
        version: 1,
        created_at: now,
        updated_at: now,
    };
    let (name, area) = (&draft.request.name, draft.survey.area.m2());
    let material = draft.survey.material.replace('_', " ");
    let statement = format!("Registered: {name}, {material}, {area} m².");
    let said = told(&draft.request);
    let told = (said, EventKind::SurfaceRegistered, statement.as_str());
    rows(ctx, &head, draft, None, told)
}

/// What is written of a surface that a draft replaces.
pub(super) fn update(
    ctx: &Context,
    draft: Draft,
    row: &SurfaceRow,
    now: DateTime<Utc>,
) -> Result<Written, Problem> {
    let head = SurfaceHead {
        id: row.id,
        version: row.version.saturating_add(1),
        created_at: row.created_at,
        updated_at: now,
    };
    let before = request_of(row)?;
    let is_new = |said: &Told| {
        Some(*said) != told(&before) || seen::seen_at(&draft.request) != seen::seen_at(&before)
    };
    let said = told(&draft.request).filter(is_new);
    let statement = format!("Changed: {}.", changed(&before, &draft.request)?);
    let told = (said, EventKind::SurfaceChanged, statement.as_str());
    rows(ctx, &head, draft, Some(&row.document), told)
}

/// The members in which two requests differ, by name.
fn changed(before: &SurfaceRequest, after: &SurfaceRequest) -> Result<String, Problem> {
    let members = |request| wire::stored::<Map<String, Value>>(&wire::document(request)?);
    let (before, after) = (members(before)?, members(after)?);
    let names: BTreeSet<&String> = before
        .keys()
        .chain(after.keys())
        .filter(|name| before.get(*name) != after.get(*name))
        .collect();
    let names: Vec<&str> = names.into_iter().map(String::as_str).collect();
    if names.is_empty() {
        return Ok("material, by the dictionary".to_owned());
    }
    Ok(names.join(", "))
}

fn rows(
    ctx: &Context,
    head: &SurfaceHead,
    draft: Draft,
    before: Option<&str>,
    (said, kind, statement): (Option<Told>, EventKind, &str),
) -> Result<Written, Problem> {
    let survey = draft.survey;
    let (name, storey) = (draft.request.name.clone(), draft.request.storey.clone());
    let external = draft.request.external.as_ref().map(Into::into);
    let seen_at = seen::seen_at(&draft.request).unwrap_or(head.updated_at);
    let view = SurfaceView::new(head, draft.request, &survey, draft.findings);
    let drawn = survey.outline.as_ref().map(Outline::edge);
    let row = SurfaceRow {
        id: head.id,
        site_id: draft.site_id,
        version: head.version,
        name,
        storey,
        material: survey.material,
        area: survey.area,
        perimeter: drawn.or(survey.perimeter),
        external,
        document: wire::document(&view)?,
        created_at: head.created_at,
        updated_at: head.updated_at,
    };
    let (event, data) = (
        EventId::from_uuid(ctx.ids.uuid()),
        SurfaceEventData::from(&row),
    );
    let event = wire::event::encode(event, kind, head.updated_at, &data)?;
    let history = HistoryRow {
        changes: before
            .map(|before| Changes::between(before, &row.document)?.document())
            .transpose()?,
        ..history::of(&event, row.id, head.updated_at, statement)
    };
    let observation = said.map(|told| ObservationRow {
        id: ObservationId::from_uuid(ctx.ids.uuid()),
        site_id: row.site_id,
        surface_id: row.id,
        status: FactStatus::Recorded,
        supersedes: None,
        superseded_by: None,
        word: Word::Survey,
        observed_at: seen_at,
        told,
        note: None,
        external: None,
        voided: String::new(),
        created_at: head.updated_at,
    });
    Ok(Written {
        row,
        event,
        history,
        observation,
    })
}

//! Recording, correcting and reading what was known of films.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use domain::{
    event::EventKind,
    film::{Told, describe},
    id::{EventId, ObservationId, SurfaceId, TenantId},
    survey::FilmKind,
};
pub(crate) use infra::row::ObservationRow;
use infra::{
    clock::truncate_to_millis,
    row::{FactStatus, SurfaceRow},
    store::{By, Page, StoreError, Tx},
};

use super::{history, must_count, no_longer_counts, remark, surface};
use crate::{
    body::Faults,
    context::Context,
    problem::Problem,
    wire::{self, event::data::SurfaceFactEventData, observation::ObservationRequest},
};

/// How far in the future an observation may lie, for clocks that are set wrong.
const MAX_AHEAD_H: i64 = 24;

/// Records an observation of a surface and tells of it.
///
/// # Errors
/// `not_found` for the surface; `invalid_body` with everything that is wrong with it; those of the store.
pub(crate) async fn record(
    ctx: &Context,
    tx: &Tx,
    id: SurfaceId,
    request: &ObservationRequest,
) -> Result<ObservationRow, Problem> {
    let floor = surface::find(tx, id).await?;
    append(ctx, tx, &floor, request, None).await
}

/// Records a correction: it counts in the place of `id`, which stays readable, and tells of both.
///
/// # Errors
/// `not_found`; `state_conflict` if `id` does not count any more; otherwise as [`record`].
pub(crate) async fn supersede(
    ctx: &Context,
    tx: &Tx,
    id: ObservationId,
    request: &ObservationRequest,
) -> Result<ObservationRow, Problem> {
    let old = tx.observations().get(id).await?;
    let old = old.ok_or_else(Problem::not_found)?;
    must_count(old.status, old.superseded_by)?;
    let floor = surface::find(tx, old.surface_id).await?;
    let new = append(ctx, tx, &floor, request, Some(old.id)).await?;
    let old = ObservationRow {
        status: FactStatus::Superseded,
        superseded_by: Some(new.id),
        ..old
    };
    let statement = format!("An observation was corrected by {}.", new.id);
    tell(ctx, tx, &old, (new.created_at, &statement)).await?;
    Ok(new)
}

/// Voids an observation: it stays readable, counts in no state and no plan any more, and nothing in its place.
///
/// # Errors
/// `not_found`; `state_conflict` if it does not count any more; those of the store.
pub(crate) async fn void(
    ctx: &Context,
    tx: &Tx,
    id: ObservationId,
    (by, reason): (&By, &str),
) -> Result<ObservationRow, Problem> {
    let old = tx.observations().get(id).await?;
    let old = old.ok_or_else(Problem::not_found)?;
    must_count(old.status, old.superseded_by)?;
    let new = ObservationRow {
        status: FactStatus::Voided,
        voided: wire::document(&remark(ctx, by, reason))?,
        ..old
    };
    match tx.observations().void(&new).await {
        Err(StoreError::StaleVersion) => return Err(no_longer_counts(None::<ObservationId>)),
        done => done?,
    }
    let told = (ctx.clock.now(), "An observation was voided.");
    tell(ctx, tx, &new, told).await?;
    Ok(new)
}

async fn append(
    ctx: &Context,
    tx: &Tx,
    floor: &SurfaceRow,
    request: &ObservationRequest,
    supersedes: Option<ObservationId>,
) -> Result<ObservationRow, Problem> {
    let now = ctx.clock.now();
    let told = request.told();
    check(request, &told, now)?;
    let row = ObservationRow {
        id: ObservationId::from_uuid(ctx.ids.uuid()),
        site_id: floor.site_id,
        surface_id: floor.id,
        status: FactStatus::Recorded,
        supersedes,
        superseded_by: None,
        word: request.origin.into(),
        observed_at: truncate_to_millis(request.at),
        told,
        note: request.note.clone(),
        external: request.external.as_ref().map(Into::into),
        voided: String::new(),
        created_at: now,
    };
    if let Some(old) = supersedes {
        match tx.observations().supersede(old, row.id).await {
            Err(StoreError::StaleVersion) => return Err(no_longer_counts(None::<ObservationId>)),
            done => done?,
        }
    }
    if let Some(external) = &row.external
        && let Some(known) = tx.observations().find_external(external).await?
    {
        return Err(Problem::taken(format!(
            "`{0}` is this observation: read it at `/v1/observations/{0}`, and supersede it if it is wrong.",
            known.id
        )));
    }
    tx.observations().insert(&row).await?;
    let statement = describe(row.word, &row.told);
    tell(ctx, tx, &row, (row.observed_at, &statement)).await?;
    Ok(row)
}

/// Holds an observation to what is possible.
fn check(request: &ObservationRequest, told: &Told, now: DateTime<Utc>) -> Result<(), Problem> {
    let mut faults = Faults::new();
    if request.at.signed_duration_since(now) > TimeDelta::hours(MAX_AHEAD_H) {
        let detail = format!("This lies more than {MAX_AHEAD_H} hours in the future.");
        faults.push("#/at", "in_future", detail);
    }
    let first = NaiveDate::from_ymd_opt(2000, 1, 1).and_then(|day| day.and_hms_opt(0, 0, 0));
    if first.is_some_and(|first| request.at < first.and_utc()) {
        let detail = "Observations before the year 2000 are not kept here.";
        faults.push("#/at", "too_early", detail);
    }
    // A day of the floor's own calendar may have begun where the moment's day in UTC has not.
    let last = request.at.date_naive().succ_opt();
    if told
        .stripped_on
        .zip(last)
        .is_some_and(|(day, last)| day > last)
    {
        let detail = "The floor was stripped after the moment of which this speaks.";
        faults.push("#/last_stripped_on", "after_observation", detail);
    }
    let lies = |kinds: &[FilmKind]| told.kind.is_none_or(|kind| kinds.contains(&kind));
    let counted = |coats: Option<i64>| coats.is_some_and(|coats| coats > 0);
    if counted(told.coats) && !lies(&[FilmKind::Polish, FilmKind::SealAndPolish]) {
        let detail = "There are coats of polish only in a film of polish, over a seal or not.";
        faults.push("#/film/coats", "contradicts_kind", detail);
    }
    if counted(told.seal_coats) && !lies(&[FilmKind::Seal, FilmKind::SealAndPolish]) {
        let detail = "There are coats of seal only in a seal, below a polish or not.";
        faults.push("#/seal_coats", "contradicts_kind", detail);
    }
    if *told == Told::default() {
        faults.push(
            "#/film",
            "nothing_said",
            "Say at least one thing of the film.",
        );
    }
    faults.finish()
}

/// Puts the event of an observation into the outbox and the history.
async fn tell(
    ctx: &Context,
    tx: &Tx,
    row: &ObservationRow,
    (at, statement): (DateTime<Utc>, &str),
) -> Result<(), Problem> {
    let kind = match row.status {
        FactStatus::Recorded => EventKind::ObservationRecorded,
        FactStatus::Superseded => EventKind::ObservationSuperseded,
        FactStatus::Voided => EventKind::ObservationVoided,
    };
    let (event, now) = (EventId::from_uuid(ctx.ids.uuid()), ctx.clock.now());
    let subject = ("/v1/observations", row.id.to_string(), version(row));
    let on = (row.site_id, row.surface_id);
    let data = SurfaceFactEventData::new(subject, on, row.observed_at);
    let event = wire::event::encode(event, kind, now, &data)?;
    history::tell(tx, &event, (row.surface_id, at), statement).await
}

/// An observation changes once in its life: when another counts in its place, or when it is voided.
pub(crate) fn version(row: &ObservationRow) -> i64 {
    match row.status {
        FactStatus::Recorded => 1,
        FactStatus::Superseded | FactStatus::Voided => 2,
    }
}

/// Up to `limit` observations of a surface after an id.
///
/// # Errors
/// `not_found` for the surface; those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    (surface, include_superseded): (SurfaceId, bool),
    after: Option<ObservationId>,
    limit: u64,
) -> Result<Page<ObservationRow, ObservationId>, Problem> {
    let tx = ctx.store.read(tenant).await?;
    let floor = surface::find(&tx, surface).await?;
    let observations = tx.observations();
    Ok(observations
        .list(floor.id, include_superseded, after, limit)
        .await?)
}

/// One observation.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    id: ObservationId,
) -> Result<ObservationRow, Problem> {
    let tx = ctx.store.read(tenant).await?;
    let row = tx.observations().get(id).await?;
    row.ok_or_else(Problem::not_found)
}

//! Recording, correcting and reading measured values.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use domain::{
    event::EventKind,
    id::{ContractorId, EventId, ReadingId, SurfaceId, TenantId},
    reading::ReadingKind,
};
pub(crate) use infra::{row::ReadingRow, store::ReadingFilter};
use infra::{
    row::{CompletionRow, FactStatus, SurfaceRow},
    store::{Access, By, Completions, Page, Place, StoreError, Turn, Tx},
};

use crate::{
    app::{
        completion::{self, Origin},
        history, must_count, no_longer_counts, remark,
    },
    body::Faults,
    context::Context,
    problem::Problem,
    wire::{
        self,
        event::data::SurfaceFactEventData,
        reading::{ReadingRequest, ReadingView, as_it_stands},
    },
};

/// How far in the future a reading may lie, for clocks that are set wrong.
const MAX_AHEAD_H: i64 = 24;

/// Records a reading and tells of it.
///
/// # Errors
/// `invalid_body` with everything that is wrong with it; those of the store.
pub(crate) async fn record(
    ctx: &Context,
    tx: &Tx,
    report: (&ReadingRequest, Origin),
) -> Result<ReadingRow, Problem> {
    append(ctx, tx, report, None).await
}

/// A reading, if it is one that a caller may know of who is bound to a contractor: it was taken for their work.
///
/// # Errors
/// `not_found`, as for one that never was; those of the store.
async fn known_to(
    completions: &Completions<'_, impl Access>,
    bound_to: Option<ContractorId>,
    found: Option<ReadingRow>,
) -> Result<ReadingRow, Problem> {
    let row = found.ok_or_else(Problem::not_found)?;
    if bound_to.is_some() {
        let id = row.completion_id.ok_or_else(Problem::not_found)?;
        completion::known_to(bound_to, completions.get(id).await?)?;
    }
    Ok(row)
}

/// Records a correction: it counts in the place of `id`, which stays readable, and tells of both.
///
/// # Errors
/// `not_found`; `state_conflict` if `id` does not count any more; otherwise as [`record`].
pub(crate) async fn supersede(
    ctx: &Context,
    tx: &Tx,
    id: ReadingId,
    report: (&ReadingRequest, Origin),
) -> Result<ReadingRow, Problem> {
    let old = tx.readings().get(id).await?;
    let old = known_to(&tx.completions(), report.1.bound_to(), old).await?;
    must_count(old.status, old.superseded_by)?;
    let new = append(ctx, tx, report, Some(old.id)).await?;
    let old = ReadingRow {
        status: FactStatus::Superseded,
        superseded_by: Some(new.id),
        ..old
    };
    let statement = format!("A reading was corrected by {}.", new.id);
    tell(
        ctx,
        tx,
        EventKind::ReadingSuperseded,
        &old,
        (new.created_at, &statement),
    )
    .await?;
    Ok(new)
}

/// Voids a reading: it stays readable and counts no more, and nothing in its place.
///
/// # Errors
/// `not_found`; `state_conflict` if it does not count any more; those of the store.
pub(crate) async fn void(
    ctx: &Context,
    tx: &Tx,
    (id, bound_to): (ReadingId, Option<ContractorId>),
    (by, reason): (&By, &str),
) -> Result<ReadingRow, Problem> {
    let old = tx.readings().get(id).await?;
    let old = known_to(&tx.completions(), bound_to, old).await?;
    must_count(old.status, old.superseded_by)?;
    let new = ReadingRow {
        status: FactStatus::Voided,
        voided: wire::document(&remark(ctx, by, reason))?,
        changed_at: ctx.clock.now(),
        ..old
    };
    match tx.readings().void(&new).await {
        Err(StoreError::StaleVersion) => return Err(no_longer_counts(None::<ReadingId>)),
        done => done?,
    }
    let told = (new.changed_at, "A reading was voided.");
    tell(ctx, tx, EventKind::ReadingVoided, &new, told).await?;
    Ok(new)
}

async fn append(
    ctx: &Context,
    tx: &Tx,
    (request, origin): (&ReadingRequest, Origin),
    supersedes: Option<ReadingId>,
) -> Result<ReadingRow, Problem> {
    let surface = match request.surface_id.parse::<SurfaceId>() {
        Ok(id) => tx.surfaces().get(id).await?,
        Err(_not_an_id) => None,
    };
    let completion = match request.completion_id.as_ref().map(|id| id.parse()) {
        Some(Ok(id)) => tx.completions().get(id).await?,
        Some(Err(_)) | None => None,
    };
    // Only work of the contractor's own may be cited, by a token that is bound to it and by its own system.
    let contractor = match origin {
        Origin::Caller(contractor) => contractor,
        Origin::Source(contractor) => Some(contractor),
        // No form asks for readings of their own.
        Origin::Link => None,
    };
    let completion = completion::known_to(contractor, completion).ok();
    let now = ctx.clock.now();
    let mut faults = Faults::new();
    if origin.bound_to().is_some() && request.completion_id.is_none() {
        let detail =
            "The token is bound to a contractor: name the completion that this was taken for.";
        faults.push("#/completion_id", "required", detail);
    }
    let (surface, thousandths) = check(request, surface, completion.as_ref(), now, faults)?;
    let mut row = ReadingRow {
        id: ReadingId::from_uuid(ctx.ids.uuid()),
        site_id: surface.site_id,
        surface_id: surface.id,
        completion_id: completion.map(|completion: CompletionRow| completion.id),
        kind: request.kind.into(),
        thousandths,
        status: FactStatus::Recorded,
        supersedes,
        superseded_by: None,
        taken_at: request.at,
        external: request.external.as_ref().map(Into::into),
        document: String::new(),
        voided: String::new(),
        created_at: now,
        changed_at: now,
    };
    if let Some(old) = supersedes {
        match tx.readings().supersede(old, row.id).await {
            Err(StoreError::StaleVersion) => return Err(no_longer_counts(None::<ReadingId>)),
            done => done?,
        }
    }
    if let Some(external) = &row.external
        && let Some(known) = tx.readings().find_external(external).await?
    {
        return Err(Problem::taken(
            match known_to(&tx.completions(), contractor, Some(known)).await {
                Ok(known) => format!(
                    "`{0}` is this reading: read it at `/v1/readings/{0}`, and supersede it if it is wrong.",
                    known.id
                ),
                Err(_hidden) => {
                    "Another contractor's reading has this external name: choose another."
                        .to_owned()
                }
            },
        ));
    }
    row.document = wire::document(&ReadingView::new(&row, request))?;
    tx.readings().insert(&row).await?;
    let statement = format!("Measured: {} {}.", row.kind.word(), request.value);
    tell(
        ctx,
        tx,
        EventKind::ReadingTaken,
        &row,
        (row.taken_at, &statement),
    )
    .await?;
    Ok(row)
}

/// Puts the event of a reading into the outbox and the history.
async fn tell(
    ctx: &Context,
    tx: &Tx,
    kind: EventKind,
    row: &ReadingRow,
    (at, statement): (DateTime<Utc>, &str),
) -> Result<(), Problem> {
    let (event, now) = (EventId::from_uuid(ctx.ids.uuid()), ctx.clock.now());
    let subject = ("/v1/readings", row.id.to_string(), version(row));
    let on = (row.site_id, row.surface_id);
    let data = SurfaceFactEventData::new(subject, on, row.taken_at);
    let event = wire::event::encode(event, kind, now, &data)?;
    history::tell(tx, &event, (row.surface_id, at), statement).await
}

/// A reading changes once in its life: when another counts in its place, or when it is voided.
pub(crate) fn version(row: &ReadingRow) -> i64 {
    match row.status {
        FactStatus::Recorded => 1,
        FactStatus::Superseded | FactStatus::Voided => 2,
    }
}

/// Holds a reading to what it names and to what is possible: its surface, and its value in thousandths.
fn check(
    request: &ReadingRequest,
    surface: Option<SurfaceRow>,
    completion: Option<&CompletionRow>,
    now: DateTime<Utc>,
    mut faults: Faults,
) -> Result<(SurfaceRow, i64), Problem> {
    let unknown = "reference_not_found";
    if surface.is_none() {
        faults.push("#/surface_id", unknown, "There is no such surface.");
    }
    let on = surface.as_ref().map(|surface| surface.id);
    match completion {
        None if request.completion_id.is_some() => {
            faults.push("#/completion_id", unknown, "There is no such completion.");
        }
        Some(completion) if on.is_some_and(|id| id != completion.surface_id) => {
            let detail = "The completion is on another surface.";
            faults.push("#/completion_id", "completion_of_other_surface", detail);
        }
        None | Some(_) => {}
    }
    let kind = ReadingKind::from(request.kind);
    let value = kind.thousandths(request.value);
    if value.is_none() {
        let ((least, greatest), word) = (kind.bounds(), kind.word());
        let detail = format!("`{word}` lies between {least} and {greatest}.");
        faults.push("#/value", "out_of_range", detail);
    }
    if request.at.signed_duration_since(now) > TimeDelta::hours(MAX_AHEAD_H) {
        let detail = format!("This lies more than {MAX_AHEAD_H} hours in the future.");
        faults.push("#/at", "in_future", detail);
    }
    let first = NaiveDate::from_ymd_opt(2000, 1, 1).and_then(|day| day.and_hms_opt(0, 0, 0));
    if first.is_some_and(|first| request.at < first.and_utc()) {
        let detail = "Readings before the year 2000 are not kept here.";
        faults.push("#/at", "too_early", detail);
    }
    faults.finish()?;
    surface.zip(value).ok_or_else(Problem::not_found)
}

/// Up to `limit` readings in the order of a turn, each as it stands now.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    filter: &ReadingFilter,
    turn: Turn,
    limit: u64,
) -> Result<Page<String, Place>, Problem> {
    let glance = ctx.store.glance(tenant);
    let page = glance.readings().list(filter, turn, limit).await?;
    page.try_map(as_it_stands)
}

/// One reading: its version and its document as it stands now.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    (id, bound_to): (ReadingId, Option<ContractorId>),
) -> Result<(i64, String), Problem> {
    let glance = ctx.store.glance(tenant);
    let found = glance.readings().get(id).await?;
    let row = known_to(&glance.completions(), bound_to, found).await?;
    Ok((version(&row), as_it_stands(row)?))
}

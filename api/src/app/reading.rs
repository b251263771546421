//! Recording and reading measured values.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use domain::{
    id::{EventId, ReadingId, SurfaceId, TenantId},
    reading::ReadingKind,
};
pub(crate) use infra::{row::ReadingRow, store::ReadingFilter};
use infra::{
    row::{CompletionRow, SurfaceRow},
    store::{Page, Tx},
};

use crate::{
    body::Faults,
    context::Context,
    problem::Problem,
    wire::{
        self,
        reading::{ReadingRequest, ReadingView},
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
    request: &ReadingRequest,
) -> Result<ReadingRow, Problem> {
    let surface = match request.surface_id.parse::<SurfaceId>() {
        Ok(id) => tx.surfaces().get(id).await?,
        Err(_not_an_id) => None,
    };
    let completion = match request.completion_id.as_ref().map(|id| id.parse()) {
        Some(Ok(id)) => tx.completions().get(id).await?,
        Some(Err(_)) | None => None,
    };
    let now = ctx.clock.now();
    let (surface, thousandths) = check(request, surface, completion.as_ref(), now)?;
    let mut row = ReadingRow {
        id: ReadingId::from_uuid(ctx.ids.uuid()),
        site_id: surface.site_id,
        surface_id: surface.id,
        completion_id: completion.map(|completion: CompletionRow| completion.id),
        kind: request.kind.into(),
        thousandths,
        taken_at: request.at,
        external: request.external.as_ref().map(Into::into),
        document: String::new(),
        created_at: now,
    };
    if let Some(external) = &row.external
        && let Some(known) = tx.readings().find_external(external).await?
    {
        return Err(Problem::taken(format!(
            "`{0}` is this reading: read it at `/v1/readings/{0}`.",
            known.id
        )));
    }
    let view = ReadingView::new(&row, request);
    row.document = wire::document(&view)?;
    tx.readings().insert(&row).await?;
    let (event, subject) = (EventId::from_uuid(ctx.ids.uuid()), row.id.to_string());
    let kind = "wearcourse.reading.taken.v1";
    let event = wire::event::encode(event, kind, (&subject, 1), now, &view)?;
    tx.outbox().append(&event).await?;
    Ok(row)
}

/// Holds a reading to what it names and to what is possible: its surface, and its value in thousandths.
fn check(
    request: &ReadingRequest,
    surface: Option<SurfaceRow>,
    completion: Option<&CompletionRow>,
    now: DateTime<Utc>,
) -> Result<(SurfaceRow, i64), Problem> {
    let mut faults = Faults::new();
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

/// Up to `limit` readings after an id.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    filter: &ReadingFilter,
    after: Option<ReadingId>,
    limit: u64,
) -> Result<Page<ReadingRow, ReadingId>, Problem> {
    let tx = ctx.store.read(tenant).await?;
    Ok(tx.readings().list(filter, after, limit).await?)
}

/// One reading.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    id: ReadingId,
) -> Result<ReadingRow, Problem> {
    let tx = ctx.store.read(tenant).await?;
    tx.readings().get(id).await?.ok_or_else(Problem::not_found)
}

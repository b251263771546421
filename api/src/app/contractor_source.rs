//! Contractor sources: made with a secret that is told once, read, given a new secret, disabled.

use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use chrono::TimeDelta;
use domain::{
    event::EventKind,
    id::{ContractorId, EventId, SourceId, TenantId},
};
pub(crate) use infra::row::ContractorSourceRow;
use infra::{
    row::SourceStatus,
    store::{Page, Tx},
};
use uuid::Uuid;

use crate::{
    body::Faults,
    context::Context,
    problem::{Code, Problem},
    seal::Place,
    signature::WebhookSecret,
    wire::{
        self,
        contractor_source::{ContractorSourceRequest, ContractorSourceView, RotateSecretRequest},
        event::data::RecordEventData,
    },
};

/// The most sources of a tenant that are enabled.
const MAX_SOURCES: u64 = 200;

/// What the secrets of sources are sealed for.
const PURPOSE: &str = "contractor_source";

/// Where a secret of a source is sealed.
pub(crate) const fn place(tenant: TenantId, source: SourceId) -> Place {
    Place {
        tenant,
        purpose: PURPOSE,
        row: source.uuid(),
    }
}

/// The address of a source: whose it is and which, so that its tenant is known before anything is looked up. It is no
/// secret; the signature proves.
pub(crate) fn path(tenant: TenantId, source: SourceId) -> String {
    let both = [tenant.uuid().into_bytes(), source.uuid().into_bytes()].concat();
    format!("/v1/inbound/{}", URL_SAFE_NO_PAD.encode(both))
}

/// The tenant and the source that the last part of an address names.
pub(crate) fn named(token: &str) -> Option<(TenantId, SourceId)> {
    let both = URL_SAFE_NO_PAD.decode(token).ok()?;
    let (tenant, source) = both.split_at_checked(16)?;
    let tenant = TenantId::from_uuid(Uuid::from_slice(tenant).ok()?);
    Some((tenant, SourceId::from_uuid(Uuid::from_slice(source).ok()?)))
}

/// Makes a source for a contractor and tells of it; the secret is for this one answer.
///
/// # Errors
/// `invalid_body` if there is no such contractor; `state_conflict` if the tenant has 200 enabled ones; `unavailable` if no secret can be kept; those of the store.
pub(crate) async fn make(
    ctx: &Context,
    tx: &Tx,
    request: &ContractorSourceRequest,
) -> Result<(ContractorSourceRow, WebhookSecret), Problem> {
    let contractor = match request.contractor_id.parse::<ContractorId>() {
        Ok(id) => tx.contractors().get(id).await?,
        Err(_not_an_id) => None,
    };
    let Some(contractor) = contractor else {
        let mut faults = Faults::new();
        let detail = "There is no such contractor.";
        faults.push("#/contractor_id", "reference_not_found", detail);
        faults.finish()?;
        return Err(Problem::not_found());
    };
    if tx.contractor_sources().count_enabled().await? >= MAX_SOURCES {
        let detail = format!("A tenant may have {MAX_SOURCES} enabled sources: disable one.");
        return Err(Problem::new(Code::StateConflict, detail));
    }
    let (id, now) = (SourceId::from_uuid(ctx.ids.uuid()), ctx.clock.now());
    let secret = WebhookSecret::generate()?;
    let row = ContractorSourceRow {
        id,
        version: 1,
        contractor_id: contractor.id,
        name: request.name.clone(),
        status: SourceStatus::Enabled,
        secret: ctx.seals.seal(&place(tx.tenant(), id), secret.bytes())?,
        previous: None,
        created_at: now,
        updated_at: now,
    };
    tx.contractor_sources().insert(&row).await?;
    tell(ctx, tx, EventKind::ContractorSourceMade, &row).await?;
    Ok((row, secret))
}

/// Gives a source a new secret; the old one is accepted until the overlap ends, and one from before it no longer.
///
/// # Errors
/// `not_found`; `state_conflict` if it is disabled; `unavailable` if no secret can be kept; those of the store.
pub(crate) async fn rotate(
    ctx: &Context,
    tx: &Tx,
    id: SourceId,
    request: &RotateSecretRequest,
) -> Result<(ContractorSourceRow, WebhookSecret), Problem> {
    let old = enabled(tx, id).await?;
    let (secret, now) = (WebhookSecret::generate()?, ctx.clock.now());
    let until = now.checked_add_signed(TimeDelta::hours(request.overlap_h.into()));
    let previous = until.filter(|until| *until > now);
    let row = ContractorSourceRow {
        version: old.version.saturating_add(1),
        secret: ctx.seals.seal(&place(tx.tenant(), id), secret.bytes())?,
        previous: previous.map(|until| (old.secret, until)),
        updated_at: now,
        ..old
    };
    tx.contractor_sources().update(&row, old.version).await?;
    tell(ctx, tx, EventKind::ContractorSourceRotated, &row).await?;
    Ok((row, secret))
}

/// Disables a source: what it sends from now on is refused. What it sent stays.
///
/// # Errors
/// `state_conflict` if it is disabled already; those of the store.
pub(crate) async fn disable(
    ctx: &Context,
    tx: &Tx,
    old: ContractorSourceRow,
) -> Result<ContractorSourceRow, Problem> {
    if old.status == SourceStatus::Disabled {
        return Err(is_disabled());
    }
    let row = ContractorSourceRow {
        version: old.version.saturating_add(1),
        status: SourceStatus::Disabled,
        updated_at: ctx.clock.now(),
        ..old
    };
    tx.contractor_sources().update(&row, old.version).await?;
    tell(ctx, tx, EventKind::ContractorSourceDisabled, &row).await?;
    Ok(row)
}

/// A source in a transaction.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn find(tx: &Tx, id: SourceId) -> Result<ContractorSourceRow, Problem> {
    let row = tx.contractor_sources().get(id).await?;
    row.ok_or_else(Problem::not_found)
}

async fn enabled(tx: &Tx, id: SourceId) -> Result<ContractorSourceRow, Problem> {
    let row = find(tx, id).await?;
    match row.status {
        SourceStatus::Enabled => Ok(row),
        SourceStatus::Disabled => Err(is_disabled()),
    }
}

fn is_disabled() -> Problem {
    Problem::new(Code::StateConflict, "The source is disabled: make another.")
}

/// A source as it is shown.
pub(crate) fn view(tenant: TenantId, row: &ContractorSourceRow) -> ContractorSourceView {
    ContractorSourceView::new(row, &path(tenant, row.id))
}

/// Tells of a source; an event holds no secret.
async fn tell(
    ctx: &Context,
    tx: &Tx,
    kind: EventKind,
    row: &ContractorSourceRow,
) -> Result<(), Problem> {
    let event = EventId::from_uuid(ctx.ids.uuid());
    let subject = ("/v1/contractor-sources", row.id.to_string(), row.version);
    let data = RecordEventData::new(subject, None);
    let event = wire::event::encode(event, kind, row.updated_at, &data)?;
    Ok(tx.outbox().append(&event).await?)
}

/// Up to `limit` sources after an id, those of one contractor if it is named.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    contractor: Option<ContractorId>,
    page: (Option<SourceId>, u64),
) -> Result<Page<String, SourceId>, Problem> {
    let glance = ctx.store.glance(tenant);
    let sources = glance.contractor_sources();
    let rows = sources.list(contractor, false, page).await?;
    rows.try_map(|row| wire::document(&view(tenant, &row)))
}

/// One source.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    id: SourceId,
) -> Result<ContractorSourceRow, Problem> {
    let glance = ctx.store.glance(tenant);
    let row = glance.contractor_sources().get(id).await?;
    row.ok_or_else(Problem::not_found)
}

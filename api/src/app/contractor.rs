//! Registering and reading contractors.

use domain::{
    event::EventKind,
    id::{ContractorId, EventId, TenantId},
};
use infra::{
    row::ContractorRow,
    store::{Page, Tx},
};

use crate::{
    context::Context,
    problem::Problem,
    wire::{
        self,
        contractor::{ContractorRequest, ContractorView},
        event::data::RecordEventData,
    },
};

/// Registers a contractor and tells of it.
///
/// # Errors
/// `already_exists` if another contractor has the external id; those of the store.
pub(crate) async fn register(
    ctx: &Context,
    tx: &Tx,
    request: &ContractorRequest,
) -> Result<ContractorRow, Problem> {
    let (id, now) = (ContractorId::from_uuid(ctx.ids.uuid()), ctx.clock.now());
    let view = ContractorView::new(id, request, now);
    let row = ContractorRow {
        id,
        version: 1,
        name: request.name.clone(),
        external: request.external.as_ref().map(Into::into),
        document: wire::document(&view)?,
        created_at: now,
        updated_at: now,
    };
    tx.contractors().insert(&row).await?;
    let event = EventId::from_uuid(ctx.ids.uuid());
    let subject = ("/v1/contractors", id.to_string(), row.version);
    let data = RecordEventData::new(subject, None);
    let event = wire::event::encode(event, EventKind::ContractorRegistered, now, &data)?;
    tx.outbox().append(&event).await?;
    Ok(row)
}

/// Up to `limit` contractors after an id.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    after: Option<ContractorId>,
    limit: u64,
) -> Result<Page<ContractorRow, ContractorId>, Problem> {
    let glance = ctx.store.glance(tenant);
    Ok(glance.contractors().list(after, limit).await?)
}

/// One contractor.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    id: ContractorId,
) -> Result<ContractorRow, Problem> {
    let glance = ctx.store.glance(tenant);
    glance
        .contractors()
        .get(id)
        .await?
        .ok_or_else(Problem::not_found)
}

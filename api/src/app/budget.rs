//! What may be spent on the floors of sites: setting, changing and reading it.

use domain::{
    event::EventKind,
    id::{BudgetId, EventId, SiteId, TenantId},
    money::Money,
};
pub(crate) use infra::row::BudgetRow;
use infra::{
    row::SiteRow,
    store::{Page, Tx},
};

use super::site;
use crate::{
    body::Faults,
    context::Context,
    problem::Problem,
    wire::{
        self,
        budget::{BudgetRequest, BudgetView},
        event::data::RecordEventData,
    },
};

/// Sets the budget of a site for a year and tells of it.
///
/// # Errors
/// `not_found` for the site; `invalid_body` with every fault; `already_exists` if the year has one; those of the store.
pub(crate) async fn set(
    ctx: &Context,
    tx: &Tx,
    site: SiteId,
    request: &BudgetRequest,
) -> Result<BudgetRow, Problem> {
    let site = site::find(tx, site).await?;
    let net = net(&site, request, Faults::new())?;
    let now = ctx.clock.now();
    let row = BudgetRow {
        id: BudgetId::from_uuid(ctx.ids.uuid()),
        site_id: site.id,
        year: request.year.into(),
        version: 1,
        net,
        document: wire::document(request)?,
        created_at: now,
        updated_at: now,
    };
    tx.budgets().insert(&row).await?;
    tell(ctx, tx, EventKind::BudgetSet, &row).await?;
    Ok(row)
}

/// Changes a budget to what a request says and tells of it; a request that says the same changes nothing.
///
/// # Errors
/// `invalid_body` with every fault; `stale_version` if somebody else was faster; those of the store.
pub(crate) async fn change(
    ctx: &Context,
    tx: &Tx,
    row: &BudgetRow,
    request: &BudgetRequest,
) -> Result<BudgetRow, Problem> {
    let site = site::find(tx, row.site_id).await?;
    let mut faults = Faults::new();
    if i64::from(request.year) != row.year {
        let detail = "It cannot be changed: set a budget for the other year.";
        faults.push("#/year", "read_only", detail);
    }
    let net = net(&site, request, faults)?;
    if *request == request_of(row)? {
        return Ok(row.clone());
    }
    let changed = BudgetRow {
        version: row.version.saturating_add(1),
        net,
        document: wire::document(request)?,
        updated_at: ctx.clock.now(),
        ..row.clone()
    };
    tx.budgets().update(&changed, row.version).await?;
    tell(ctx, tx, EventKind::BudgetChanged, &changed).await?;
    Ok(changed)
}

/// How much may be spent, in the currency of the site.
fn net(site: &SiteRow, request: &BudgetRequest, mut faults: Faults) -> Result<Money, Problem> {
    let net = request.net.read_amount(site.currency, "#/net", &mut faults);
    faults.finish()?;
    net.ok_or_else(Problem::not_found)
}

async fn tell(ctx: &Context, tx: &Tx, kind: EventKind, row: &BudgetRow) -> Result<(), Problem> {
    let event = EventId::from_uuid(ctx.ids.uuid());
    let subject = ("/v1/budgets", row.id.to_string(), row.version);
    let data = RecordEventData::new(subject, Some(row.site_id));
    let event = wire::event::encode(event, kind, row.updated_at, &data)?;
    tx.outbox().append(&event).await?;
    Ok(())
}

/// Up to `limit` budgets of a site, after an id.
///
/// # Errors
/// `not_found` for the site; those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    site: SiteId,
    (after, limit): (Option<BudgetId>, u64),
) -> Result<Page<BudgetRow, BudgetId>, Problem> {
    let tx = ctx.store.read(tenant).await?;
    let site = site::find(&tx, site).await?;
    Ok(tx.budgets().list(site.id, after, limit).await?)
}

/// One budget.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    id: BudgetId,
) -> Result<BudgetRow, Problem> {
    let tx = ctx.store.read(tenant).await?;
    find(&tx, id).await
}

/// One budget, in the transaction that will change it.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn find(tx: &Tx, id: BudgetId) -> Result<BudgetRow, Problem> {
    tx.budgets().get(id).await?.ok_or_else(Problem::not_found)
}

/// A budget, as its request would say it.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn request_of(row: &BudgetRow) -> Result<BudgetRequest, Problem> {
    wire::stored(&row.document)
}

/// A budget, as callers see it.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn view(row: &BudgetRow) -> Result<BudgetView, Problem> {
    Ok(BudgetView::new(row, &request_of(row)?))
}

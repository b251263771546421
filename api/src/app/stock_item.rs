//! What sites have left over: registering, changing, deleting and reading it, and what planning needs of it.
//!
//! Planning reads it and changes nothing: what is left is what somebody last said is left.

use chrono::NaiveDate;
use domain::{
    event::EventKind,
    id::{EventId, SiteId, StockItemId, TenantId},
    stock::StockItem,
};
pub(crate) use infra::row::StockItemRow;
pub(crate) use infra::store::StockItemFilter;
use infra::{
    row::SiteRow,
    store::{Page, Tx},
};

use super::site;
use crate::{
    body::Faults,
    context::Context,
    problem::{Code, Problem},
    wire::{
        self,
        event::data::RecordEventData,
        stock_item::{StockItemRequest, StockItemView},
    },
};

/// The most that one site has left over: all of it is read for each plan.
const MAX_ITEMS: u64 = 500;
/// For how many days ahead work is planned.
const MAX_AHEAD_DAYS: i64 = 3_660;

/// Registers something that is left over at a site and tells of it.
///
/// # Errors
/// `not_found` for the site; `invalid_body` with every fault; `state_conflict` if the site has 500 of them; those of the
/// store.
pub(crate) async fn register(
    ctx: &Context,
    tx: &Tx,
    site: SiteId,
    request: &StockItemRequest,
) -> Result<StockItemRow, Problem> {
    let site = site::find(tx, site).await?;
    let mut faults = Faults::new();
    let known = ctx.knowledge.product(&request.product).is_some()
        || tx.products().get(&request.product).await?.is_some();
    if !known {
        let detail = format!(
            "No product is named `{}`; GET /v1/products lists them.",
            request.product
        );
        faults.push("#/product", "unknown_product", detail);
    }
    check(ctx, &site, request, faults)?;
    let n_items = of_site(tx, site.id).await?.len();
    if u64::try_from(n_items).is_ok_and(|n| n >= MAX_ITEMS) {
        let detail =
            format!("A site may have {MAX_ITEMS} of these: delete those that are used up.");
        return Err(Problem::new(Code::StateConflict, detail));
    }
    let now = ctx.clock.now();
    let row = StockItemRow {
        id: StockItemId::from_uuid(ctx.ids.uuid()),
        site_id: site.id,
        version: 1,
        product: request.product.clone(),
        expires_on: request.expires_on,
        document: wire::document(request)?,
        created_at: now,
        updated_at: now,
    };
    tx.stock_items().insert(&row).await?;
    tell(ctx, tx, EventKind::StockItemRegistered, &row).await?;
    Ok(row)
}

/// Changes what is left over to what a request says and tells of it; a request that says the same changes nothing.
///
/// # Errors
/// `invalid_body` with every fault; `stale_version` if somebody else was faster; those of the store.
pub(crate) async fn change(
    ctx: &Context,
    tx: &Tx,
    row: &StockItemRow,
    request: &StockItemRequest,
) -> Result<StockItemRow, Problem> {
    let site = site::find(tx, row.site_id).await?;
    let mut faults = Faults::new();
    if request.product != row.product {
        let detail = "It cannot be changed: register what is left of another product for itself.";
        faults.push("#/product", "read_only", detail);
    }
    check(ctx, &site, request, faults)?;
    if *request == request_of(row)? {
        return Ok(row.clone());
    }
    let changed = StockItemRow {
        version: row.version.saturating_add(1),
        expires_on: request.expires_on,
        document: wire::document(request)?,
        updated_at: ctx.clock.now(),
        ..row.clone()
    };
    tx.stock_items().update(&changed, row.version).await?;
    tell(ctx, tx, EventKind::StockItemChanged, &changed).await?;
    Ok(changed)
}

/// Deletes what is used up or thrown away and tells of it.
///
/// # Errors
/// `stale_version` if somebody else was faster; those of the store.
pub(crate) async fn delete(ctx: &Context, tx: &Tx, row: &StockItemRow) -> Result<(), Problem> {
    tx.stock_items().delete(row.id, row.version).await?;
    let gone = StockItemRow {
        version: row.version.saturating_add(1),
        updated_at: ctx.clock.now(),
        ..row.clone()
    };
    tell(ctx, tx, EventKind::StockItemDeleted, &gone).await
}

fn check(
    ctx: &Context,
    site: &SiteRow,
    request: &StockItemRequest,
    mut faults: Faults,
) -> Result<(), Problem> {
    request.check(site::day_of(site, ctx.clock.now()), &mut faults);
    faults.finish()
}

async fn tell(ctx: &Context, tx: &Tx, kind: EventKind, row: &StockItemRow) -> Result<(), Problem> {
    let event = EventId::from_uuid(ctx.ids.uuid());
    let subject = ("/v1/stock-items", row.id.to_string(), row.version);
    let data = RecordEventData::new(subject, Some(row.site_id));
    let event = wire::event::encode(event, kind, row.updated_at, &data)?;
    tx.outbox().append(&event).await?;
    Ok(())
}

async fn of_site(tx: &Tx, site: SiteId) -> Result<Vec<StockItemRow>, Problem> {
    let all = StockItemFilter::default();
    Ok(tx
        .stock_items()
        .list(site, &all, None, MAX_ITEMS)
        .await?
        .items)
}

/// All that a site has left over, by one statement.
///
/// # Errors
/// Those of the store; `internal` for a document that is not what was written.
pub(crate) async fn items(tx: &Tx, site: SiteId) -> Result<Vec<StockItem>, Problem> {
    let rows = of_site(tx, site).await?;
    rows.iter()
        .map(|row| Ok(request_of(row)?.item(row.id)))
        .collect()
}

/// The day on which the work of a request begins: today, unless it names another.
pub(crate) fn planned_day(
    asked: Option<NaiveDate>,
    today: NaiveDate,
    faults: &mut Faults,
) -> NaiveDate {
    let Some(day) = asked else { return today };
    if day < today {
        let detail = format!("At the site it is {today} already.");
        faults.push("#/planned_on", "in_past", detail);
    } else if day.signed_duration_since(today).num_days() > MAX_AHEAD_DAYS {
        faults.push("#/planned_on", "too_late", "Name a day within ten years.");
    }
    day
}

/// Up to `limit` of what a site has left over, after an id.
///
/// # Errors
/// `not_found` for the site; those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    (site, filter): (SiteId, &StockItemFilter),
    after: Option<StockItemId>,
    limit: u64,
) -> Result<Page<StockItemRow, StockItemId>, Problem> {
    let tx = ctx.store.read(tenant).await?;
    let site = site::find(&tx, site).await?;
    Ok(tx.stock_items().list(site.id, filter, after, limit).await?)
}

/// One of what is left over.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    id: StockItemId,
) -> Result<StockItemRow, Problem> {
    let tx = ctx.store.read(tenant).await?;
    find(&tx, id).await
}

/// One of what is left over, in the transaction that will change it.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn find(tx: &Tx, id: StockItemId) -> Result<StockItemRow, Problem> {
    tx.stock_items()
        .get(id)
        .await?
        .ok_or_else(Problem::not_found)
}

/// What is left over, as its request would say it.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn request_of(row: &StockItemRow) -> Result<StockItemRequest, Problem> {
    wire::stored(&row.document)
}

/// What is left over, as callers see it.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn view(row: &StockItemRow) -> Result<StockItemView, Problem> {
    let head = (row.id, row.site_id, row.version);
    let times = (row.created_at, row.updated_at);
    Ok(StockItemView::new(head, &request_of(row)?, times))
}

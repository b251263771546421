//! Products of a tenant's own: registering, changing and reading them, and what planning needs of them.
//!
//! A product is withdrawn and never deleted, because plans and completions name it.

use domain::{
    event::EventKind,
    id::{EventId, ProductId, TenantId},
    knowledge::Product,
};
use infra::{
    row::{ProductRow, ProductStatus},
    store::Tx,
};

use crate::{
    body::Faults,
    context::Context,
    problem::{Code, Problem},
    wire::{
        self,
        event::data::RecordEventData,
        knowledge::{OwnHead, ProductView},
        product::ProductRequest,
    },
};

/// The most products of one tenant: all of them are read for each plan.
const MAX_PRODUCTS: u64 = 500;

/// Registers a product and tells of it.
///
/// # Errors
/// `invalid_body` with every fault; `already_exists` if another product has the key; `state_conflict` if the tenant
/// has 500 products; those of the store.
pub(crate) async fn register(
    ctx: &Context,
    tx: &Tx,
    request: &ProductRequest,
) -> Result<ProductRow, Problem> {
    let mut faults = Faults::new();
    request.check(ctx.knowledge, &mut faults);
    faults.finish()?;
    let n_products = tx.products().first(MAX_PRODUCTS).await?.len();
    if u64::try_from(n_products).is_ok_and(|n| n >= MAX_PRODUCTS) {
        let detail = format!("A tenant may have {MAX_PRODUCTS} products.");
        return Err(Problem::new(Code::StateConflict, detail));
    }
    let now = ctx.clock.now();
    let row = ProductRow {
        id: ProductId::from_uuid(ctx.ids.uuid()),
        key: request.key.clone(),
        version: 1,
        class: request.class.clone(),
        name: request.name.clone(),
        status: status(request),
        document: wire::document(request)?,
        created_at: now,
        updated_at: now,
    };
    tx.products().insert(&row).await?;
    tell(ctx, tx, EventKind::ProductRegistered, &row).await?;
    Ok(row)
}

/// Changes a product to what a request says and tells of it; a request that says the same changes nothing.
///
/// # Errors
/// `invalid_body` with every fault; `stale_version` if somebody else was faster; those of the store.
pub(crate) async fn change(
    ctx: &Context,
    tx: &Tx,
    row: &ProductRow,
    request: &ProductRequest,
) -> Result<ProductRow, Problem> {
    let kept = request_of(row)?;
    let mut faults = Faults::new();
    let fixed = [
        ("#/key", request.key != kept.key),
        ("#/class", request.class != kept.class),
    ];
    for (pointer, _) in fixed.iter().filter(|(_, differs)| *differs) {
        let detail = "It cannot be changed: what was planned and reported goes by it.";
        faults.push(*pointer, "read_only", detail);
    }
    // The rest is judged by what cannot be changed.
    let request = &ProductRequest {
        key: kept.key.clone(),
        class: kept.class.clone(),
        ..request.clone()
    };
    request.check(ctx.knowledge, &mut faults);
    faults.finish()?;
    if *request == kept {
        return Ok(row.clone());
    }
    let changed = ProductRow {
        version: row.version.saturating_add(1),
        name: request.name.clone(),
        status: status(request),
        document: wire::document(request)?,
        updated_at: ctx.clock.now(),
        ..row.clone()
    };
    tx.products().update(&changed, row.version).await?;
    tell(ctx, tx, EventKind::ProductChanged, &changed).await?;
    Ok(changed)
}

const fn status(request: &ProductRequest) -> ProductStatus {
    if request.withdrawn {
        ProductStatus::Withdrawn
    } else {
        ProductStatus::InUse
    }
}

async fn tell(ctx: &Context, tx: &Tx, kind: EventKind, row: &ProductRow) -> Result<(), Problem> {
    let event = EventId::from_uuid(ctx.ids.uuid());
    let data = RecordEventData::new(("/v1/products", row.key.clone(), row.version), None);
    let event = wire::event::encode(event, kind, row.updated_at, &data)?;
    tx.outbox().append(&event).await?;
    Ok(())
}

/// The tenant's own products, withdrawn ones too, in the order in which plans prefer them: the first that was registered
/// first.
///
/// # Errors
/// Those of the store; `internal` for a document that is not what was written.
pub(crate) async fn own(tx: &Tx) -> Result<Vec<Product>, Problem> {
    let rows = tx.products().first(MAX_PRODUCTS).await?;
    rows.iter().map(product).collect()
}

/// Every product that the tenant can use: its own, then those of the knowledge base.
///
/// # Errors
/// As [`own`].
pub(crate) async fn list(ctx: &Context, tenant: TenantId) -> Result<Vec<ProductView>, Problem> {
    let tx = ctx.store.read(tenant).await?;
    let rows = tx.products().first(MAX_PRODUCTS).await?;
    let own = rows.iter().map(view);
    let built_in = ctx.knowledge.products.iter().map(|row| Ok(row.into()));
    own.chain(built_in).collect()
}

/// The product of a key; a text that no key can be names none, whatever a database would make of it.
async fn by_key(tx: &Tx, key: &str) -> Result<Option<ProductRow>, Problem> {
    let may_be_one = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_';
    if key.is_empty() || !key.bytes().all(may_be_one) {
        return Ok(None);
    }
    Ok(tx.products().get(key).await?)
}

/// One product of the tenant's own.
///
/// # Errors
/// Those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    key: &str,
) -> Result<Option<ProductRow>, Problem> {
    let tx = ctx.store.read(tenant).await?;
    by_key(&tx, key).await
}

/// One product of the tenant's own, in the transaction that will change it.
///
/// # Errors
/// `not_found`; `state_conflict` for a product of the knowledge base; those of the store.
pub(crate) async fn find(ctx: &Context, tx: &Tx, key: &str) -> Result<ProductRow, Problem> {
    if let Some(row) = by_key(tx, key).await? {
        return Ok(row);
    }
    if ctx.knowledge.product(key).is_some() {
        let detail = "A product of the knowledge base cannot be changed; register your own.";
        return Err(Problem::new(Code::StateConflict, detail));
    }
    Err(Problem::not_found())
}

/// A product as its request would say it.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn request_of(row: &ProductRow) -> Result<ProductRequest, Problem> {
    wire::stored(&row.document)
}

fn product(row: &ProductRow) -> Result<Product, Problem> {
    Ok(request_of(row)?.product(row.version))
}

/// A product as callers see it.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn view(row: &ProductRow) -> Result<ProductView, Problem> {
    let request = request_of(row)?;
    let product = request.product(row.version);
    let head = OwnHead {
        sheet: request.sheet,
        created_at: row.created_at,
        updated_at: row.updated_at,
    };
    Ok(ProductView::own(&product, head))
}

//! What sites have left over of their products, over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use chrono::{Datelike, NaiveDate};
use domain::id::{SiteId, StockItemId};

use super::route::{Id, no_query};
use crate::{
    app::{
        self,
        stock_item::{StockItemFilter, StockItemRow},
    },
    auth::{
        Actor,
        scope::{StockRead, StockWrite},
    },
    body::{Bare, Strict},
    context::Context,
    cursor::List,
    etag::Expected,
    page::{Page, PageRequest},
    patch::Patch,
    problem::Problem,
    query::Query,
    wire::{
        self,
        stock_item::{StockItemPage, StockItemPatchRequest, StockItemRequest, StockItemView},
    },
    write::{self, KeyRule, Reply},
};

/// Registers something that is left over at a site: sealed packs of one batch of a product, or one pack that was opened.
///
/// Plans and estimates use what is left over before they buy, as far as it is good on the planned day. They only read
/// it: nothing is reserved or taken, and two plans may count on the same pack. Who uses it says so by a change.
#[utoipa::path(post, path = "/v1/sites/{site_id}/stock-items", tag = "stock",
    params(("site_id" = String, Path, description = "The site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")),
    request_body = StockItemRequest,
    responses((status = 201, description = "It is registered.", body = StockItemView)),
)]
pub(crate) async fn register(
    actor: Actor<StockWrite>,
    ctx: web::Data<Context>,
    Id(site): Id<SiteId>,
    body: Strict<StockItemRequest>,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &body.raw, KeyRule::Optional, async |tx| {
        let row = app::stock_item::register(&ctx, tx, site, &body.value).await?;
        let path = format!("/v1/stock-items/{}", row.id);
        Ok(Reply::created(path, row.version, document(&row)?))
    })
    .await
}

fn document(row: &StockItemRow) -> Result<String, Problem> {
    wire::document(&app::stock_item::view(row)?)
}

/// Lists what a site has left over, in the order of its registration.
#[utoipa::path(get, path = "/v1/sites/{site_id}/stock-items", tag = "stock",
    params(
        ("site_id" = String, Path, description = "The site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("product" = Option<String>, Query, description = "Only of this product.", min_length = 1, max_length = 60),
        ("expires_by" = Option<String>, Query, format = Date, description = "Only what may be used on this day for the last time by its label, or on an earlier one; what has no date is left out.", max_length = 10),
    ),
    responses((status = 200, description = "A page of what is left over.", body = StockItemPage)),
)]
pub(crate) async fn list(
    actor: Actor<StockRead>,
    ctx: web::Data<Context>,
    Id(site): Id<SiteId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    let filter = StockItemFilter {
        product: query.text("product", 60),
        expires_by: query.parsed("expires_by", "Must be a day such as 2026-03-31."),
    };
    let far = |day: NaiveDate| !(2000..=2099).contains(&day.year());
    if filter.expires_by.is_some_and(far) {
        query.outside("expires_by", "Must be a day of the years 2000 to 2099.");
    }
    query.finish()?;
    let day = filter.expires_by.map(|day| day.to_string());
    let list = List::new("listStockItems")
        .filter("site_id", Some(&site.to_string()))
        .filter("product", filter.product.as_deref())
        .filter("expires_by", day.as_deref());
    let after = asked.after(&ctx, &actor, &list)?;
    let of = (site, &filter);
    let rows = app::stock_item::list(&ctx, actor.tenant(), of, after, asked.limit()).await?;
    let rows = rows.try_map(|row| document(&row))?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}

/// Reads one of what is left over.
#[utoipa::path(get, path = "/v1/stock-items/{stock_item_id}", tag = "stock",
    params(("stock_item_id" = String, Path, description = "What is left over.", max_length = 40, pattern = "^stk_[0-9a-f-]{36}$")),
    responses((status = 200, description = "What is left over.", body = StockItemView)),
)]
pub(crate) async fn get(
    actor: Actor<StockRead>,
    ctx: web::Data<Context>,
    Id(id): Id<StockItemId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let row = app::stock_item::get(&ctx, actor.tenant(), id).await?;
    Ok(Reply::found(row.version, document(&row)?).unless_known(request.headers()))
}

/// Changes what is left over, by a JSON Merge Patch (RFC 7396) of what its registration says.
///
/// Whoever used some of it says by `left_l` what is left; what is used up is deleted.
#[utoipa::path(patch, path = "/v1/stock-items/{stock_item_id}", tag = "stock",
    params(("stock_item_id" = String, Path, description = "What is left over.", max_length = 40, pattern = "^stk_[0-9a-f-]{36}$")),
    request_body(content = StockItemPatchRequest, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "It as it is now.", body = StockItemView)),
)]
pub(crate) async fn change(
    actor: Actor<StockWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<StockItemId>,
    patch: Patch,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &patch.raw, KeyRule::Optional, async |tx| {
        let row = app::stock_item::find(tx, id).await?;
        Expected::of(&patch.raw.headers)?.check(row.version)?;
        let request = patch.apply(&app::stock_item::request_of(&row)?)?;
        let row = app::stock_item::change(&ctx, tx, &row, &request).await?;
        Ok(Reply::found(row.version, document(&row)?))
    })
    .await
}

/// Deletes what was left over: it is used up, or it was thrown away.
///
/// Plans and estimates that counted on it stay as they are.
#[utoipa::path(delete, path = "/v1/stock-items/{stock_item_id}", tag = "stock",
    params(("stock_item_id" = String, Path, description = "What is left over.", max_length = 40, pattern = "^stk_[0-9a-f-]{36}$")),
    responses((status = 204, description = "It is deleted.")),
)]
pub(crate) async fn delete(
    actor: Actor<StockWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<StockItemId>,
    Bare { raw }: Bare,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &raw, KeyRule::Optional, async |tx| {
        let row = app::stock_item::find(tx, id).await?;
        Expected::of(&raw.headers)?.check(row.version)?;
        app::stock_item::delete(&ctx, tx, &row).await?;
        Ok(Reply::gone())
    })
    .await
}

//! What may be spent at sites, over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use domain::id::{BudgetId, SiteId};

use super::route::{Id, no_query};
use crate::{
    app::{self, budget::BudgetRow},
    auth::{
        Actor, Scope,
        scope::{ReportsRead, SitesWrite},
    },
    body::Strict,
    context::Context,
    cursor::List,
    etag::Expected,
    page::{Page, PageRequest},
    patch::Patch,
    problem::{Code, Problem},
    query::Query,
    wire::{
        self,
        budget::{BudgetPage, BudgetPatchRequest, BudgetRequest, BudgetView},
    },
    write::{self, KeyRule, Reply},
};

/// Sets what may be spent on the floors of a site in a year; `GET /v1/forecast` tells how likely it is enough.
#[utoipa::path(post, path = "/v1/sites/{site_id}/budgets", tag = "due",
    params(("site_id" = String, Path, description = "The site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")),
    request_body = BudgetRequest,
    responses((status = 201, description = "It is set.", body = BudgetView)),
)]
pub(crate) async fn set(
    actor: Actor<SitesWrite>,
    ctx: web::Data<Context>,
    Id(site): Id<SiteId>,
    body: Strict<BudgetRequest>,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &body.raw, KeyRule::Optional, async |tx| {
        let row = app::budget::set(&ctx, tx, site, &body.value).await?;
        let path = format!("/v1/budgets/{}", row.id);
        Ok(Reply::created(path, row.version, document(&row)?))
    })
    .await
}

/// Goes on unless the token is bound to a contractor: what a tenant means to spend is not for those who bid for it.
///
/// # Errors
/// `insufficient_scope`.
pub(super) fn of_nobody_bound<S: Scope>(actor: &Actor<S>) -> Result<(), Problem> {
    if actor.contractor().is_none() {
        return Ok(());
    }
    let detail = "Budgets and forecasts are the tenant's own: a token that is bound to a contractor sees none.";
    Err(Problem::new(Code::InsufficientScope, detail))
}

fn document(row: &BudgetRow) -> Result<String, Problem> {
    wire::document(&app::budget::view(row)?)
}

/// Lists the budgets of a site, in the order in which they were set.
#[utoipa::path(get, path = "/v1/sites/{site_id}/budgets", tag = "due",
    params(("site_id" = String, Path, description = "The site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")),
    responses((status = 200, description = "A page of budgets.", body = BudgetPage)),
)]
pub(crate) async fn list(
    actor: Actor<ReportsRead>,
    ctx: web::Data<Context>,
    Id(site): Id<SiteId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    of_nobody_bound(&actor)?;
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    query.finish()?;
    let list = List::new("listBudgets").filter("site_id", Some(&site.to_string()));
    let page = (asked.after(&ctx, &actor, &list)?, asked.limit());
    let rows = app::budget::list(&ctx, actor.tenant(), site, page).await?;
    let rows = rows.try_map(|row| document(&row))?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}

/// Reads one budget.
#[utoipa::path(get, path = "/v1/budgets/{budget_id}", tag = "due",
    params(("budget_id" = String, Path, description = "The budget.", max_length = 40, pattern = "^bdg_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The budget.", body = BudgetView)),
)]
pub(crate) async fn get(
    actor: Actor<ReportsRead>,
    ctx: web::Data<Context>,
    Id(id): Id<BudgetId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    of_nobody_bound(&actor)?;
    no_query(&request)?;
    let row = app::budget::get(&ctx, actor.tenant(), id).await?;
    Ok(Reply::found(row.version, document(&row)?).unless_known(request.headers()))
}

/// Changes a budget, by a JSON Merge Patch (RFC 7396) of what was said when it was set.
#[utoipa::path(patch, path = "/v1/budgets/{budget_id}", tag = "due",
    params(("budget_id" = String, Path, description = "The budget.", max_length = 40, pattern = "^bdg_[0-9a-f-]{36}$")),
    request_body(content = BudgetPatchRequest, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "It as it is now.", body = BudgetView)),
)]
pub(crate) async fn change(
    actor: Actor<SitesWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<BudgetId>,
    patch: Patch,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &patch.raw, KeyRule::Optional, async |tx| {
        let row = app::budget::find(tx, id).await?;
        Expected::of(&patch.raw.headers)?.check(row.version)?;
        let request = patch.apply(&app::budget::request_of(&row)?)?;
        let row = app::budget::change(&ctx, tx, &row, &request).await?;
        Ok(Reply::found(row.version, document(&row)?))
    })
    .await
}

//! Links to completion forms over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use domain::id::{CompletionLinkId, PlanId};

use super::route::{Id, no_query};
use crate::{
    app::{self, completion_link::CompletionLinkRow},
    auth::{
        Actor,
        scope::{CompletionsRead, CompletionsWrite},
    },
    body::{Bare, Strict},
    context::Context,
    cursor::List,
    etag::Expected,
    page::{Page, PageRequest},
    problem::Problem,
    query::Query,
    wire::{
        self,
        completion_link::{CompletionLinkPage, CompletionLinkRequest, CompletionLinkView},
    },
    write::{self, KeyRule, Reply},
};

/// Makes a link to the completion form of a plan, by which a crew without a system of its own reports the work.
///
/// Whoever has the address sees a form for a phone, with the floor's name and what the plan expects, and reports through it until it
/// expires, is revoked, or as many `reports` were made; nothing else is read or written by it. What is sent is recorded as
/// `POST /v1/completions` records it, in `external` under the system `completion-form`, and once however often the form is
/// sent. The address is told in this answer and in no other (sent again with the same `Idempotency-Key`, it is this answer);
/// what is kept is a hash. Give it to `GET /v1/plans/{plan_id}/sheet` to have it printed as a QR code.
#[utoipa::path(post, path = "/v1/plans/{plan_id}/completion-links", tag = "completions",
    params(("plan_id" = String, Path, description = "The plan.", max_length = 40, pattern = "^pln_[0-9a-f-]{36}$")),
    request_body = CompletionLinkRequest,
    responses((status = 201, description = "The link, with its address.", body = CompletionLinkView)),
)]
pub(crate) async fn make(
    actor: Actor<CompletionsWrite>,
    ctx: web::Data<Context>,
    Id(plan): Id<PlanId>,
    body: Strict<CompletionLinkRequest>,
) -> Result<HttpResponse, Problem> {
    let request = (&body.value, actor.contractor());
    write::run(&ctx, &actor, &body.raw, KeyRule::Optional, async |tx| {
        let (row, address) = app::completion_link::make(&ctx, tx, plan, request).await?;
        let view = CompletionLinkView::new(&row).at(&address);
        let path = format!("/v1/completion-links/{}", row.id);
        Ok(Reply::created(path, row.version, wire::document(&view)?).secret())
    })
    .await
}

/// Lists the links to the completion form of a plan, oldest first, with those that expired or were revoked.
#[utoipa::path(get, path = "/v1/plans/{plan_id}/completion-links", tag = "completions",
    params(("plan_id" = String, Path, description = "The plan.", max_length = 40, pattern = "^pln_[0-9a-f-]{36}$")),
    responses((status = 200, description = "A page of links.", body = CompletionLinkPage)),
)]
pub(crate) async fn list(
    actor: Actor<CompletionsRead>,
    ctx: web::Data<Context>,
    Id(plan): Id<PlanId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    query.finish()?;
    let list = List::new("listCompletionLinks").filter("plan_id", Some(&plan.to_string()));
    let page = (asked.after(&ctx, &actor, &list)?, asked.limit());
    let of_plan = (plan, actor.contractor());
    let rows = app::completion_link::list(&ctx, actor.tenant(), of_plan, page).await?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}

/// Reads one link to a completion form. Its address is told nowhere but where it was made.
#[utoipa::path(get, path = "/v1/completion-links/{completion_link_id}", tag = "completions",
    params(("completion_link_id" = String, Path, description = "The link.", max_length = 40, pattern = "^cpl_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The link.", body = CompletionLinkView)),
)]
pub(crate) async fn get(
    actor: Actor<CompletionsRead>,
    ctx: web::Data<Context>,
    Id(id): Id<CompletionLinkId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let known = (id, actor.contractor());
    let row = app::completion_link::get(&ctx, actor.tenant(), known).await?;
    Ok(found(&row)?.unless_known(request.headers()))
}

/// Takes a link back for good: from now on its address opens nothing. What was reported through it stays.
#[utoipa::path(post, path = "/v1/completion-links/{completion_link_id}/revoke", tag = "completions",
    params(("completion_link_id" = String, Path, description = "The link.", max_length = 40, pattern = "^cpl_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The link as it is now.", body = CompletionLinkView)),
)]
pub(crate) async fn revoke(
    actor: Actor<CompletionsWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<CompletionLinkId>,
    Bare { raw }: Bare,
) -> Result<HttpResponse, Problem> {
    let known = (id, actor.contractor());
    write::run(&ctx, &actor, &raw, KeyRule::Optional, async |tx| {
        let row = app::completion_link::find(tx, known).await?;
        Expected::of(&raw.headers)?.check(row.version)?;
        found(&app::completion_link::revoke(&ctx, tx, row).await?)
    })
    .await
}

fn found(row: &CompletionLinkRow) -> Result<Reply, Problem> {
    let view = CompletionLinkView::new(row);
    Ok(Reply::found(row.version, wire::document(&view)?))
}

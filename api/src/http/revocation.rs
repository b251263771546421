//! Revocations of tokens, over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use domain::id::RevocationId;

use super::route::{Id, no_query};
use crate::{
    app::{self, revocation::RevocationRow},
    auth::{Actor, scope::TokensRevoke},
    body::Strict,
    context::Context,
    cursor::List,
    page::{Page, PageRequest},
    problem::Problem,
    query::Query,
    wire::{
        self,
        revocation::{RevocationPage, RevocationRequest, RevocationView},
    },
    write::{self, KeyRule, Reply},
};

fn document(row: &RevocationRow) -> Result<String, Problem> {
    wire::document(&RevocationView::from(row))
}

/// Has the tokens of a person or a program refused before they end: when somebody leaves, loses a role, or loses a token.
///
/// They are refused at once by the process that answers, and within 30 seconds by every other. Tokens that are issued later
/// are good: take the person away from where tokens are issued first. A token lives 24 hours at most, and a revocation with it.
#[utoipa::path(post, path = "/v1/revocations", tag = "service",
    request_body = RevocationRequest,
    responses((status = 201, description = "They are refused.", body = RevocationView)),
)]
pub(crate) async fn revoke(
    actor: Actor<TokensRevoke>,
    ctx: web::Data<Context>,
    body: Strict<RevocationRequest>,
) -> Result<HttpResponse, Problem> {
    let answer = write::run(&ctx, &actor, &body.raw, KeyRule::Optional, async |tx| {
        let row = app::revocation::revoke(&ctx, tx, &body.value).await?;
        let path = format!("/v1/revocations/{}", row.id);
        Ok(Reply::created(path, row.version, document(&row)?))
    })
    .await;
    ctx.revoked.forget(actor.tenant());
    answer
}

/// Lists revocations of tokens, in the order in which they were told.
#[utoipa::path(get, path = "/v1/revocations", tag = "service",
    responses((status = 200, description = "A page of revocations.", body = RevocationPage)),
)]
pub(crate) async fn list(
    actor: Actor<TokensRevoke>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    query.finish()?;
    let list = List::new("listRevocations");
    let after = asked.after(&ctx, &actor, &list)?;
    let rows = app::revocation::list(&ctx, actor.tenant(), after, asked.limit()).await?;
    let rows = rows.try_map(|row| document(&row))?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}

/// Reads one revocation.
#[utoipa::path(get, path = "/v1/revocations/{revocation_id}", tag = "service",
    params(("revocation_id" = String, Path, description = "The revocation.", max_length = 40, pattern = "^rev_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The revocation.", body = RevocationView)),
)]
pub(crate) async fn get(
    actor: Actor<TokensRevoke>,
    ctx: web::Data<Context>,
    Id(id): Id<RevocationId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let tx = ctx.store.read(actor.tenant()).await?;
    let row = app::revocation::find(&tx, id).await?;
    Ok(Reply::found(row.version, document(&row)?).unless_known(request.headers()))
}

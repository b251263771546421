//! Contractors over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use domain::id::ContractorId;

use super::route::{Id, no_query};
use crate::{
    app,
    auth::{
        Actor,
        scope::{ContractorsRead, ContractorsWrite},
    },
    body::Strict,
    context::Context,
    cursor::List,
    page::{Page, PageRequest},
    problem::Problem,
    query::Query,
    wire::contractor::{ContractorPage, ContractorRequest, ContractorView},
    write::{self, KeyRule, Reply},
};

/// Registers a contractor.
///
/// A contractor is an organisation; no name of a person is stored. The external id, if given, is unique.
#[utoipa::path(post, path = "/v1/contractors", tag = "contractors", request_body = ContractorRequest, responses(
    (status = 201, description = "It is registered.", body = ContractorView),
))]
pub(crate) async fn register(
    actor: Actor<ContractorsWrite>,
    ctx: web::Data<Context>,
    body: Strict<ContractorRequest>,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &body.raw, KeyRule::Optional, async |tx| {
        let row = app::contractor::register(&ctx, tx, &body.value).await?;
        Ok(Reply::created(
            format!("/v1/contractors/{}", row.id),
            row.version,
            row.document,
        ))
    })
    .await
}

/// Lists contractors, oldest first.
#[utoipa::path(get, path = "/v1/contractors", tag = "contractors", responses(
    (status = 200, description = "A page of contractors.", body = ContractorPage),
))]
pub(crate) async fn list(
    actor: Actor<ContractorsRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    query.finish()?;
    let list = List::new("listContractors");
    let after = asked.after(&ctx, &actor, &list)?;
    let rows = app::contractor::list(&ctx, actor.tenant(), after, asked.limit()).await?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |row| row.document)?.answer(&request))
}

/// Reads one contractor.
#[utoipa::path(get, path = "/v1/contractors/{contractor_id}", tag = "contractors",
    params(("contractor_id" = String, Path, description = "The contractor.", max_length = 40, pattern = "^con_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The contractor.", body = ContractorView)),
)]
pub(crate) async fn get(
    actor: Actor<ContractorsRead>,
    ctx: web::Data<Context>,
    Id(id): Id<ContractorId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let row = app::contractor::get(&ctx, actor.tenant(), id).await?;
    Ok(Reply::found(row.version, row.document).unless_known(request.headers()))
}

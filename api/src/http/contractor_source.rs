//! Contractor sources over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use domain::id::{ContractorId, SourceId};

use super::route::{Id, no_query};
use crate::{
    app::{self, contractor_source::ContractorSourceRow},
    auth::{
        Actor, Scope,
        scope::{ContractorsRead, ContractorsWrite},
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
        contractor_source::{
            ContractorSourcePage, ContractorSourceRequest, ContractorSourceView,
            RotateSecretRequest,
        },
    },
    write::{self, KeyRule, Reply},
};

/// Makes a source: an address for a contractor's own system, and the secret that it signs with.
///
/// The secret is told in this answer and in no other (sent again with the same `Idempotency-Key`, it is this answer). What
/// the system sends is signed as the Standard Webhooks specification has it.
#[utoipa::path(post, path = "/v1/contractor-sources", tag = "contractors", request_body = ContractorSourceRequest, responses(
    (status = 201, description = "The source, with its secret.", body = ContractorSourceView),
))]
pub(crate) async fn make(
    actor: Actor<ContractorsWrite>,
    ctx: web::Data<Context>,
    body: Strict<ContractorSourceRequest>,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &body.raw, KeyRule::Optional, async |tx| {
        let (row, secret) = app::contractor_source::make(&ctx, tx, &body.value).await?;
        let view = app::contractor_source::view(tx.tenant(), &row).with_secret(&secret);
        let path = format!("/v1/contractor-sources/{}", row.id);
        Ok(Reply::created(path, row.version, wire::document(&view)?).secret())
    })
    .await
}

/// Gives a source a new secret; the old one stays good for a while.
///
/// `previous_secret_until` says until when both are accepted. Of three secrets only the last two ever are.
#[utoipa::path(post, path = "/v1/contractor-sources/{source_id}/rotate", tag = "contractors",
    params(("source_id" = String, Path, description = "The source.", max_length = 40, pattern = "^src_[0-9a-f-]{36}$")),
    request_body = RotateSecretRequest,
    responses((status = 200, description = "The source, with its new secret.", body = ContractorSourceView)),
)]
pub(crate) async fn rotate(
    actor: Actor<ContractorsWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<SourceId>,
    body: Strict<RotateSecretRequest>,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &body.raw, KeyRule::Required, async |tx| {
        let (row, secret) = app::contractor_source::rotate(&ctx, tx, id, &body.value).await?;
        let view = app::contractor_source::view(tx.tenant(), &row).with_secret(&secret);
        Ok(Reply::found(row.version, wire::document(&view)?).secret())
    })
    .await
}

/// Disables a source for good: what it sends is refused from now on.
#[utoipa::path(post, path = "/v1/contractor-sources/{source_id}/disable", tag = "contractors",
    params(("source_id" = String, Path, description = "The source.", max_length = 40, pattern = "^src_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The source as it is now.", body = ContractorSourceView)),
)]
pub(crate) async fn disable(
    actor: Actor<ContractorsWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<SourceId>,
    Bare { raw }: Bare,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &raw, KeyRule::Optional, async |tx| {
        let row = app::contractor_source::find(tx, id).await?;
        Expected::of(&raw.headers)?.check(row.version)?;
        let row = app::contractor_source::disable(&ctx, tx, row).await?;
        found(&actor, &row)
    })
    .await
}

/// Lists contractor sources, oldest first.
#[utoipa::path(get, path = "/v1/contractor-sources", tag = "contractors",
    params(("contractor_id" = Option<String>, Query, description = "Only those of this contractor.", max_length = 40, pattern = "^con_[0-9a-f-]{36}$")),
    responses((status = 200, description = "A page of sources.", body = ContractorSourcePage)),
)]
pub(crate) async fn list(
    actor: Actor<ContractorsRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    let contractor =
        query.parsed::<ContractorId>("contractor_id", "Must be the id of a contractor.");
    query.finish()?;
    let list = List::new("listContractorSources").filter(
        "contractor_id",
        contractor.map(|id| id.to_string()).as_deref(),
    );
    let page = (asked.after(&ctx, &actor, &list)?, asked.limit());
    let rows = app::contractor_source::list(&ctx, actor.tenant(), contractor, page).await?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}

/// Reads one contractor source. Its secret is told nowhere but where it was made.
#[utoipa::path(get, path = "/v1/contractor-sources/{source_id}", tag = "contractors",
    params(("source_id" = String, Path, description = "The source.", max_length = 40, pattern = "^src_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The source.", body = ContractorSourceView)),
)]
pub(crate) async fn get(
    actor: Actor<ContractorsRead>,
    ctx: web::Data<Context>,
    Id(id): Id<SourceId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let row = app::contractor_source::get(&ctx, actor.tenant(), id).await?;
    Ok(found(&actor, &row)?.unless_known(request.headers()))
}

fn found<S: Scope>(actor: &Actor<S>, row: &ContractorSourceRow) -> Result<Reply, Problem> {
    let view = app::contractor_source::view(actor.tenant(), row);
    Ok(Reply::found(row.version, wire::document(&view)?))
}

//! Finish words of a tenant's own, over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use domain::id::FinishSynonymId;

use super::route::{Id, no_query};
use crate::{
    app::{self, finish_synonym::FinishSynonymRow},
    auth::{
        Actor,
        scope::{SurfacesRead, SurfacesWrite},
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
        finish_synonym::{FinishSynonymPage, FinishSynonymRequest, FinishSynonymView},
    },
    write::{self, KeyRule, Reply},
};

fn document(row: &FinishSynonymRow) -> Result<String, Problem> {
    wire::document(&FinishSynonymView::from(row))
}

/// Tells what your building files mean by a finish word. Imports read it before the dictionary, from the next one on.
#[utoipa::path(post, path = "/v1/finish-synonyms", tag = "imports",
    request_body = FinishSynonymRequest,
    responses((status = 201, description = "It is kept.", body = FinishSynonymView)),
)]
pub(crate) async fn tell(
    actor: Actor<SurfacesWrite>,
    ctx: web::Data<Context>,
    body: Strict<FinishSynonymRequest>,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &body.raw, KeyRule::Optional, async |tx| {
        let row = app::finish_synonym::tell(&ctx, tx, &body.value).await?;
        let path = format!("/v1/finish-synonyms/{}", row.id);
        Ok(Reply::created(path, row.version, document(&row)?))
    })
    .await
}

/// Lists your finish words, in the order in which they were told.
#[utoipa::path(get, path = "/v1/finish-synonyms", tag = "imports",
    responses((status = 200, description = "A page of words.", body = FinishSynonymPage)),
)]
pub(crate) async fn list(
    actor: Actor<SurfacesRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    query.finish()?;
    let list = List::new("listFinishSynonyms");
    let after = asked.after(&ctx, &actor, &list)?;
    let rows = app::finish_synonym::list(&ctx, actor.tenant(), after, asked.limit()).await?;
    let rows = rows.try_map(|row| document(&row))?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}

/// Reads one finish word.
#[utoipa::path(get, path = "/v1/finish-synonyms/{finish_synonym_id}", tag = "imports",
    params(("finish_synonym_id" = String, Path, description = "The word.", max_length = 40, pattern = "^fin_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The word.", body = FinishSynonymView)),
)]
pub(crate) async fn get(
    actor: Actor<SurfacesRead>,
    ctx: web::Data<Context>,
    Id(id): Id<FinishSynonymId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let tx = ctx.store.read(actor.tenant()).await?;
    let row = app::finish_synonym::find(&tx, id).await?;
    Ok(Reply::found(row.version, document(&row)?).unless_known(request.headers()))
}

/// Deletes a finish word. Surfaces that were registered by it stay as they are.
#[utoipa::path(delete, path = "/v1/finish-synonyms/{finish_synonym_id}", tag = "imports",
    params(("finish_synonym_id" = String, Path, description = "The word.", max_length = 40, pattern = "^fin_[0-9a-f-]{36}$")),
    responses((status = 204, description = "It is deleted.")),
)]
pub(crate) async fn delete(
    actor: Actor<SurfacesWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<FinishSynonymId>,
    Bare { raw }: Bare,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &raw, KeyRule::Optional, async |tx| {
        let row = app::finish_synonym::find(tx, id).await?;
        Expected::of(&raw.headers)?.check(row.version)?;
        tx.finish_synonyms().delete(row.id, row.version).await?;
        Ok(Reply::gone())
    })
    .await
}

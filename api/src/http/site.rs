//! Sites over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use domain::id::SiteId;

use super::{
    external,
    route::{Id, no_query},
};
use crate::{
    app::{self, site::SiteFilter},
    auth::{
        Actor,
        scope::{SitesRead, SitesWrite},
    },
    body::Strict,
    context::Context,
    cursor::List,
    etag::Expected,
    page::{Page, TurnParams, TurnRequest},
    patch::Patch,
    problem::Problem,
    query::Query,
    wire::site::{SitePage, SitePatchRequest, SiteRequest, SiteView},
    write::{self, KeyRule, Reply},
};

/// Registers a site.
///
/// Its rate card is edition 1; without one the knowledge base's defaults count, whose amounts are examples.
#[utoipa::path(post, path = "/v1/sites", tag = "sites", request_body = SiteRequest, responses(
    (status = 201, description = "It is registered.", body = SiteView),
))]
pub(crate) async fn register(
    actor: Actor<SitesWrite>,
    ctx: web::Data<Context>,
    body: Strict<SiteRequest>,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &body.raw, KeyRule::Optional, async |tx| {
        let row = app::site::register(&ctx, tx, &body.value).await?;
        Ok(Reply::created(
            format!("/v1/sites/{}", row.id),
            row.version,
            row.document,
        ))
    })
    .await
}

/// Lists sites, oldest first.
#[utoipa::path(get, path = "/v1/sites", tag = "sites",
    params(
        ("external_system" = Option<String>, Query, description = "Only the site with this external name; together with `external_id`.", min_length = 1, max_length = 100),
        ("external_id" = Option<String>, Query, description = "Only the site with this external name; together with `external_system`.", min_length = 1, max_length = 200),
        TurnParams,
    ),
    responses((status = 200, description = "A page of sites.", body = SitePage)),
)]
pub(crate) async fn list(
    actor: Actor<SitesRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = TurnRequest::take(&mut query);
    let named = external::take(&mut query);
    query.finish()?;
    let list = asked.of(external::filter(List::new("listSites"), named.as_ref()));
    let (turn, asked) = (asked.turn(&ctx, &actor, &list)?, asked.page);
    let external = named.as_ref().map(Into::into);
    let filter = SiteFilter { external };
    let rows = app::site::list(&ctx, actor.tenant(), &filter, turn, asked.limit()).await?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |row| row.document)?.answer(&request))
}

/// Reads one site with the newest edition of its rate card.
#[utoipa::path(get, path = "/v1/sites/{site_id}", tag = "sites",
    params(("site_id" = String, Path, description = "The site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The site.", body = SiteView)),
)]
pub(crate) async fn get(
    actor: Actor<SitesRead>,
    ctx: web::Data<Context>,
    Id(id): Id<SiteId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let row = app::site::get(&ctx, actor.tenant(), id).await?;
    Ok(Reply::found(row.version, row.document).unless_known(request.headers()))
}

/// Changes a site by a JSON Merge Patch (RFC 7396) of what its registration says.
///
/// A changed rate card becomes a new edition; earlier editions stay as they are. A patch that changes rates must name the
/// `valid_from` of the new edition, and must tell the whole card where nobody has told one yet (`rate_card_assumed`). What
/// the registration leaves to the knowledge base is left to it again by `null`.
#[utoipa::path(patch, path = "/v1/sites/{site_id}", tag = "sites",
    params(("site_id" = String, Path, description = "The site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")),
    request_body(content = SitePatchRequest, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "The site as it is now.", body = SiteView)),
)]
pub(crate) async fn change(
    actor: Actor<SitesWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<SiteId>,
    patch: Patch,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &patch.raw, KeyRule::Optional, async |tx| {
        let row = app::site::find(tx, id).await?;
        Expected::of(&patch.raw.headers)?.check(row.version)?;
        let request = patch.apply_to(app::site::patchable(&row, patch.speaks_of("rate_card"))?)?;
        let row = app::site::change(&ctx, tx, &row, &request).await?;
        Ok(Reply::found(row.version, row.document))
    })
    .await
}

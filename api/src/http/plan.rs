//! Plans over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use domain::id::{PlanId, SiteId, SurfaceId};

use super::route::{Id, no_query};
use crate::{
    app::{self, plan::PlanFilter},
    auth::{
        Actor,
        scope::{PlansRead, PlansWrite},
    },
    body::Strict,
    context::Context,
    cursor::List,
    page::{Page, PageRequest},
    problem::Problem,
    query::Query,
    wire::plan::{PlanPage, PlanRequest, PlanView},
    write::{self, KeyRule, Reply},
};

/// Makes a plan for one surface.
///
/// The answer is the same for the same surface, wish, climate, rate card and knowledge base. A refusal, or a fact
/// that is missing, is an answer too (201): read `verdict`.
#[utoipa::path(post, path = "/v1/plans", tag = "plans", request_body = PlanRequest, responses(
    (status = 201, description = "The plan, with the reason for each number.", body = PlanView),
))]
pub(crate) async fn propose(
    actor: Actor<PlansWrite>,
    ctx: web::Data<Context>,
    body: Strict<PlanRequest>,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &body.raw, KeyRule::Optional, async |tx| {
        let row = app::plan::propose(&ctx, tx, &body.value).await?;
        Ok(Reply::created(
            format!("/v1/plans/{}", row.id),
            row.version,
            row.document,
        ))
    })
    .await
}

/// Lists plans, oldest first.
#[utoipa::path(get, path = "/v1/plans", tag = "plans",
    params(
        ("site_id" = Option<String>, Query, description = "Only plans of this site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("surface_id" = Option<String>, Query, description = "Only plans of this surface.", max_length = 40, pattern = "^srf_[0-9a-f-]{36}$"),
    ),
    responses((status = 200, description = "A page of plans.", body = PlanPage)),
)]
pub(crate) async fn list(
    actor: Actor<PlansRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    let site = query.parsed::<SiteId>("site_id", "Must be an id that starts with `sit_`");
    let surface = query.parsed::<SurfaceId>("surface_id", "Must be an id that starts with `srf_`");
    query.finish()?;
    let list = List::new("listPlans")
        .filter("site_id", site.map(|id| id.to_string()).as_deref())
        .filter("surface_id", surface.map(|id| id.to_string()).as_deref());
    let after = asked.after(&ctx, &actor, &list)?;
    let filter = PlanFilter {
        site_id: site,
        surface_id: surface,
        ..PlanFilter::default()
    };
    let rows = app::plan::list(&ctx, actor.tenant(), &filter, after, asked.limit()).await?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |row| row.document)?.answer(&request))
}

/// Reads one plan: the bytes that were answered when it was made.
#[utoipa::path(get, path = "/v1/plans/{plan_id}", tag = "plans",
    params(("plan_id" = String, Path, description = "The plan.", max_length = 40, pattern = "^pln_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The plan.", body = PlanView)),
)]
pub(crate) async fn get(
    actor: Actor<PlansRead>,
    ctx: web::Data<Context>,
    Id(id): Id<PlanId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let row = app::plan::get(&ctx, actor.tenant(), id).await?;
    Ok(Reply::found(row.version, row.document).unless_known(request.headers()))
}

//! Estimates over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use domain::id::{EstimateId, SiteId};

use super::route::{Id, no_query};
use crate::{
    app::{self, estimate::EstimateFilter},
    auth::{
        Actor,
        scope::{EstimatesRead, EstimatesWrite},
    },
    body::{MAX_BATCH, Strict},
    context::Context,
    cursor::List,
    page::{Page, TurnParams, TurnRequest},
    problem::Problem,
    query::Query,
    wire::{
        self,
        estimate::{EstimateBriefView, EstimatePage, EstimateRequest, EstimateView},
    },
    write::{self, KeyRule, Reply},
};

/// Makes an estimate over surfaces of one site.
///
/// Every surface is planned; what they need is pooled before packs are bought, and set-up is paid once a shift.
/// Surfaces whose plan is refused or lacks a fact are listed with their answer and cost nothing here.
#[utoipa::path(post, path = "/v1/estimates", tag = "estimates", request_body = EstimateRequest, responses(
    (status = 201, description = "The estimate, with packs to order and the reason for each number.", body = EstimateView),
))]
pub(crate) async fn make(
    actor: Actor<EstimatesWrite>,
    ctx: web::Data<Context>,
    body: Strict<EstimateRequest, MAX_BATCH>,
) -> Result<HttpResponse, Problem> {
    let prepared = app::estimate::prepare(&ctx, actor.tenant(), &body.value).await?;
    write::run(&ctx, &actor, &body.raw, KeyRule::Optional, async |tx| {
        let row = app::estimate::make(&ctx, tx, &body.value, prepared.as_ref()).await?;
        Ok(Reply::created(
            format!("/v1/estimates/{}", row.id),
            1,
            row.document,
        ))
    })
    .await
}

/// Lists estimates in short, oldest first; each is read whole at `GET /v1/estimates/{estimate_id}`.
#[utoipa::path(get, path = "/v1/estimates", tag = "estimates",
    params(
        ("site_id" = Option<String>, Query, description = "Only estimates of this site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        TurnParams,
    ),
    responses((status = 200, description = "A page of estimates.", body = EstimatePage)),
)]
pub(crate) async fn list(
    actor: Actor<EstimatesRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = TurnRequest::take(&mut query);
    let site = query.parsed::<SiteId>("site_id", "Must be an id that starts with `sit_`");
    query.finish()?;
    let site_id = site.map(|id| id.to_string());
    let list = asked.of(List::new("listEstimates").filter("site_id", site_id.as_deref()));
    let (turn, asked) = (asked.turn(&ctx, &actor, &list)?, asked.page);
    let filter = EstimateFilter { site_id: site };
    let rows = app::estimate::list(&ctx, actor.tenant(), &filter, turn, asked.limit()).await?;
    let rows = rows.try_map(|brief| wire::document(&EstimateBriefView::from(brief)))?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}

/// Reads one estimate: the bytes that were answered when it was made.
#[utoipa::path(get, path = "/v1/estimates/{estimate_id}", tag = "estimates",
    params(("estimate_id" = String, Path, description = "The estimate.", max_length = 40, pattern = "^est_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The estimate.", body = EstimateView)),
)]
pub(crate) async fn get(
    actor: Actor<EstimatesRead>,
    ctx: web::Data<Context>,
    Id(id): Id<EstimateId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let row = app::estimate::get(&ctx, actor.tenant(), id).await?;
    Ok(Reply::found(1, row.document).unless_known(request.headers()))
}

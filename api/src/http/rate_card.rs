//! Editions of rate cards over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use chrono::NaiveDate;
use domain::id::{RateCardId, SiteId};

use super::route::{Id, Ids, no_query};
use crate::{
    app,
    auth::{
        Actor,
        scope::{SitesRead, SitesWrite},
    },
    body::Strict,
    context::Context,
    cursor::List,
    page::{Page, PageRequest},
    problem::Problem,
    query::Query,
    wire::{
        self,
        rate_card::{RateCardPage, RateCardRequest, RateCardView},
    },
    write::{self, KeyRule, Reply},
};

/// Issues the next edition of a site's rate card.
///
/// On each day of the site the edition counts that became valid last; of two from the same day the one with the
/// higher number. An edition may begin in the past: work that is reported from now on is priced by it, what is
/// recorded already keeps its price. Work of a day before the first edition is priced by the first, and the completion says so
/// (`rate_card.before_valid_from`). A wrong edition is put right by another with the same `valid_from`. The site shows its newest edition, so its version grows.
#[utoipa::path(post, path = "/v1/sites/{site_id}/rate-cards", tag = "rate cards",
    params(("site_id" = String, Path, description = "The site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")),
    request_body = RateCardRequest,
    responses((status = 201, description = "It is issued.", body = RateCardView)),
)]
pub(crate) async fn issue(
    actor: Actor<SitesWrite>,
    ctx: web::Data<Context>,
    Id(site): Id<SiteId>,
    body: Strict<RateCardRequest>,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &body.raw, KeyRule::Optional, async |tx| {
        let site = app::site::find(tx, site).await?;
        let row = app::rate_card::issue(&ctx, tx, &site, &body.value).await?;
        let path = format!("/v1/sites/{}/rate-cards/{}", row.site_id, row.id);
        let view = wire::document(&RateCardView::new(&row)?)?;
        Ok(Reply::created(path, 1, view))
    })
    .await
}

/// Lists the editions of a site's rate card, newest first.
///
/// With `on` it is the one edition that counts on that day: what work of that day is priced by, and a plan with that `planned_on`.
#[utoipa::path(get, path = "/v1/sites/{site_id}/rate-cards", tag = "rate cards",
    params(
        ("site_id" = String, Path, description = "The site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("on" = Option<String>, Query, format = Date, description = "Only the edition that counts on this day of the site, such as 2026-11-28.", max_length = 10),
    ),
    responses((status = 200, description = "A page of editions.", body = RateCardPage)),
)]
pub(crate) async fn list(
    actor: Actor<SitesRead>,
    ctx: web::Data<Context>,
    Id(site): Id<SiteId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    let on: Option<NaiveDate> = query.parsed("on", "Must be a day such as 2026-11-28.");
    query.finish()?;
    let day = on.map(|day| day.to_string());
    let list = List::new("listRateCards")
        .filter("site_id", Some(&site.to_string()))
        .filter("on", day.as_deref());
    let below = asked.after(&ctx, &actor, &list)?;
    let rows = app::rate_card::list(&ctx, actor.tenant(), (site, on), below, asked.limit()).await?;
    let rows = rows.try_map(|row| wire::document(&RateCardView::new(&row)?))?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |view| view)?.answer(&request))
}

/// Reads one edition of a site's rate card.
#[utoipa::path(get, path = "/v1/sites/{site_id}/rate-cards/{rate_card_id}", tag = "rate cards",
    params(
        ("site_id" = String, Path, description = "The site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("rate_card_id" = String, Path, description = "The edition.", max_length = 40, pattern = "^rtc_[0-9a-f-]{36}$"),
    ),
    responses((status = 200, description = "The edition.", body = RateCardView)),
)]
pub(crate) async fn get(
    actor: Actor<SitesRead>,
    ctx: web::Data<Context>,
    Ids(site, id): Ids<SiteId, RateCardId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let row = app::rate_card::get(&ctx, actor.tenant(), site, id).await?;
    let view = wire::document(&RateCardView::new(&row)?)?;
    Ok(Reply::found(1, view).unless_known(request.headers()))
}

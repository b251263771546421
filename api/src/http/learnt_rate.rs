//! What completed work tells of production rates, over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use domain::id::{ContractorId, SiteId};

use crate::{
    app::{
        self,
        learning::{LearntFilter, LearntRate},
    },
    auth::{Actor, scope::ReportsRead},
    body::Fault,
    context::Context,
    cursor::List,
    page::{Page, PageRequest},
    problem::{Code, Problem},
    query::Query,
    wire::{
        self,
        learnt_rate::{LearntRatePage, LearntRateView},
        report::SVG,
    },
};

/// Lists the production rates that work at a site has told, beside those of the knowledge base.
///
/// Reported hours are set against those that the cited plan reckoned for the floor, so a rate is that before what slows it
/// there. What jobs tell is drawn towards what is usual, the less the more jobs there are, and a job that lies far off counts
/// little or is left out; both are listed. Only completions that count are learnt from, the last 2,000 figures of them. Plans
/// use a rate from five jobs at the site on, unless its rate card tells one or the site does not want it learnt. Who is bound
/// to a contractor sees what that contractor's own work tells.
#[utoipa::path(get, path = "/v1/rates/learnt", tag = "reports",
    params(
        ("site_id" = String, Query, description = "At this site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("contractor_id" = Option<String>, Query, description = "By this contractor; by whoever worked there, in the shares in which they did, without one.", max_length = 40, pattern = "^con_[0-9a-f-]{36}$"),
        ("activity" = Option<String>, Query, description = "Only of this activity.", min_length = 1, max_length = 100),
    ),
    responses((status = 200, description = "A page of rates, in the order of the knowledge base.", body = LearntRatePage)),
)]
pub(crate) async fn list(
    actor: Actor<ReportsRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let page = PageRequest::take(&mut query);
    let (site, filter) = asked(&actor, query)?;
    let by = filter.contractor.map(|id| id.to_string());
    let list = List::new("listLearntRates")
        .filter("site_id", Some(&site.to_string()))
        .filter("contractor_id", by.as_deref())
        .filter("activity", filter.activity.as_deref());
    let after: Option<usize> = page.after(&ctx, &actor, &list)?;
    let rates = app::learning::rates(&ctx, actor.tenant(), (site, &filter)).await?;
    let (first, most) = (after.unwrap_or(0), usize::try_from(page.limit()));
    let end = first.saturating_add(most.unwrap_or(usize::MAX));
    let rows = app::learning::Page {
        next: (end < rates.len()).then_some(end),
        items: rates.into_iter().take(end).skip(first).collect(),
    };
    let rows = rows.try_map(|rate: LearntRate| wire::document(&LearntRateView::from(&rate)))?;
    Ok(Page::new((&ctx, &actor, &list), &page, rows, |document| document)?.answer(&request))
}

/// Takes the site and what of its rates is asked for.
fn asked(actor: &Actor<ReportsRead>, mut query: Query) -> Result<(SiteId, LearntFilter), Problem> {
    let site: Option<SiteId> = query.parsed("site_id", "Must be the id of a site.");
    let contractor: Option<ContractorId> =
        query.parsed("contractor_id", "Must be the id of a contractor.");
    let activity = query.text("activity", 100);
    query.finish()?;
    let fault = || Fault::parameter("site_id", "required", "Name the site.");
    let site = site.ok_or_else(|| Problem::with_faults(Code::InvalidParameter, vec![fault()]))?;
    let filter = LearntFilter {
        contractor: actor.work_of(contractor),
        bound_to: actor.contractor(),
        activity,
    };
    Ok((site, filter))
}

/// Draws the rates that work at a site has told beside the usual ones: how well each is known by now, and from how many jobs.
///
/// It shows what `GET /v1/rates/learnt` lists, on a scale from a fourth of the usual rate to four times. The picture tells its
/// figures in words too (`desc`).
#[utoipa::path(get, path = "/v1/rates/learnt/chart", tag = "reports",
    params(
        ("site_id" = String, Query, description = "At this site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("contractor_id" = Option<String>, Query, description = "By this contractor; by whoever worked there, in the shares in which they did, without one.", max_length = 40, pattern = "^con_[0-9a-f-]{36}$"),
        ("activity" = Option<String>, Query, description = "Only of this activity.", min_length = 1, max_length = 100),
    ),
    responses((status = 200, description = "The chart.", body = String, content_type = "image/svg+xml")),
)]
pub(crate) async fn as_chart(
    actor: Actor<ReportsRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let (site, filter) = asked(&actor, Query::of(&request))?;
    let rates = app::learning::rates(&ctx, actor.tenant(), (site, &filter)).await?;
    let today = ctx.clock.now().date_naive();
    let picture = wire::learnt_rate::chart(&rates, today);
    Ok(HttpResponse::Ok().content_type(SVG).body(picture))
}

//! What completed work tells of production rates, coverage and dry times, over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use domain::{
    id::{ContractorId, SiteId},
    learning::Kind,
};

use crate::{
    app::{
        self,
        learning::{LearntFilter, LearntLine},
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
        learnt_rate::{LearntFigurePage, LearntFigureView},
        report::SVG,
    },
};

/// Lists what work at a site has told of production rates, coverage and dry times, beside what is usual.
///
/// Reported hours and litres are set against those that the cited plan reckoned for the floor, and the minutes after which films
/// were dry against those of the drying model, so each figure is a multiple of what is usual: a rate before what slows it
/// there, coverage of what the data sheet says, dry time of what the model says in that air. What jobs tell is drawn towards
/// what is usual, the less the more jobs there are, and a job that lies far off counts little or is left out; both are
/// listed. Only completions that count are learnt from, the last 2,000 figures of each kind. Plans use a figure from five jobs
/// at the site on, unless its rate card tells one or the site does not want it learnt (`not_learnt`). No dry time makes a
/// wait shorter than a label. Who is bound to a contractor sees what that contractor's own work tells.
#[utoipa::path(get, path = "/v1/rates/learnt", tag = "reports",
    params(
        ("site_id" = String, Query, description = "At this site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("contractor_id" = Option<String>, Query, description = "By this contractor; by whoever worked there, in the shares in which they did, without one.", max_length = 40, pattern = "^con_[0-9a-f-]{36}$"),
        ("kind" = Option<String>, Query, description = "Only of this kind of figure.", max_length = 10, pattern = "^(rate|coverage|dry_time)$"),
        ("subject" = Option<String>, Query, description = "Only of this activity or class of product.", min_length = 1, max_length = 100),
    ),
    responses((status = 200, description = "A page of figures: rates, coverage, dry times, each in the order of the knowledge base.", body = LearntFigurePage)),
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
        .filter("kind", filter.kind.map(Kind::word))
        .filter("subject", filter.subject.as_deref());
    let after: Option<usize> = page.after(&ctx, &actor, &list)?;
    let rates = app::learning::list(&ctx, actor.tenant(), (site, &filter)).await?;
    let (first, most) = (after.unwrap_or(0), usize::try_from(page.limit()));
    let end = first.saturating_add(most.unwrap_or(usize::MAX));
    let rows = app::learning::Page {
        next: (end < rates.len()).then_some(end),
        items: rates.into_iter().take(end).skip(first).collect(),
    };
    let rows = rows.try_map(|rate: LearntLine| wire::document(&LearntFigureView::from(&rate)))?;
    Ok(Page::new((&ctx, &actor, &list), &page, rows, |document| document)?.answer(&request))
}

/// Takes the site and what of its rates is asked for.
fn asked(actor: &Actor<ReportsRead>, mut query: Query) -> Result<(SiteId, LearntFilter), Problem> {
    let site: Option<SiteId> = query.parsed("site_id", "Must be the id of a site.");
    let contractor: Option<ContractorId> =
        query.parsed("contractor_id", "Must be the id of a contractor.");
    let kinds: Vec<(&str, Kind)> = Kind::ALL.iter().map(|kind| (kind.word(), *kind)).collect();
    let kind = query.one_of("kind", &kinds);
    let subject = query.text("subject", 100);
    query.finish()?;
    let fault = || Fault::parameter("site_id", "required", "Name the site.");
    let site = site.ok_or_else(|| Problem::with_faults(Code::InvalidParameter, vec![fault()]))?;
    let filter = LearntFilter {
        contractor: actor.work_of(contractor),
        bound_to: actor.contractor(),
        kind,
        subject,
    };
    Ok((site, filter))
}

/// Draws the figures that work at a site has told beside the usual ones: how well each is known by now, and from how many jobs.
///
/// It shows what `GET /v1/rates/learnt` lists, on a scale from a fourth of what is usual to four times. The picture tells its
/// figures in words too (`desc`).
#[utoipa::path(get, path = "/v1/rates/learnt/chart", tag = "reports",
    params(
        ("site_id" = String, Query, description = "At this site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("contractor_id" = Option<String>, Query, description = "By this contractor; by whoever worked there, in the shares in which they did, without one.", max_length = 40, pattern = "^con_[0-9a-f-]{36}$"),
        ("kind" = Option<String>, Query, description = "Only of this kind of figure.", max_length = 10, pattern = "^(rate|coverage|dry_time)$"),
        ("subject" = Option<String>, Query, description = "Only of this activity or class of product.", min_length = 1, max_length = 100),
    ),
    responses((status = 200, description = "The chart.", body = String, content_type = "image/svg+xml")),
)]
pub(crate) async fn as_chart(
    actor: Actor<ReportsRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let (site, filter) = asked(&actor, Query::of(&request))?;
    let rates = app::learning::list(&ctx, actor.tenant(), (site, &filter)).await?;
    let today = ctx.clock.now().date_naive();
    let picture = wire::learnt_rate::chart(&rates, today);
    Ok(HttpResponse::Ok().content_type(SVG).body(picture))
}

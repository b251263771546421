//! What is due when, over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use chrono::{Datelike, NaiveDate};
use domain::id::SiteId;

use crate::{
    app::{self, due::DueFilter},
    auth::{Actor, scope::PlansRead},
    context::Context,
    cursor::List,
    page::{Page, PageRequest},
    problem::Problem,
    query::Query,
    wire::{
        self,
        due::{DuePage, MONTHS},
        report::{Month, SVG},
    },
};

/// Lists what is due on floors, the earliest first.
///
/// There is an item for each floor and each process that recurs on it: what was done there and can suit it again, of each kind
/// of upkeep that nobody reported the first by which a plan would be made, and what the film asks for as it is. A day is that on
/// which the interval at the floor's traffic is over, or an earlier one on which the film asks for the work: by its condition as it
/// was told, or by how coats wear. New coats begin the interval of what keeps them anew. What nobody reported is due from
/// the first survey on, unless it is known of the film that it needs nothing yet.
///
/// Dates follow every completion, correction, observation and change of a survey; they say nothing of whether the work
/// is allowed: make a plan for that (`POST /v1/plans` with `wish.process`).
#[utoipa::path(get, path = "/v1/due", tag = "due",
    params(
        ("site_id" = Option<String>, Query, description = "Only floors of this site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("by" = Option<String>, Query, format = Date, description = "Only what is due on this day or before.", max_length = 10),
        ("process" = Option<String>, Query, description = "Only this process, by its key.", max_length = 60),
        ("routine" = Option<bool>, Query, description = "Also routine cleaning that nobody ever reported; `false` if left out. A `process` that is routine is told in any case."),
    ),
    responses((status = 200, description = "A page of due dates.", body = DuePage)),
)]
pub(crate) async fn list(
    actor: Actor<PlansRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let page = PageRequest::take(&mut query);
    let filter = DueFilter {
        site_id: query.parsed::<SiteId>("site_id", "Must be an id that starts with `sit_`."),
        by: query.parsed("by", "Must be a day such as 2026-03-31."),
        process: query.text("process", 60),
        routine: query.flag("routine"),
        there_on: None,
    };
    let far = |day: NaiveDate| !(2000..=2099).contains(&day.year());
    if filter.by.is_some_and(far) {
        query.outside("by", "Must be a day of the years 2000 to 2099.");
    }
    query.finish()?;
    let site = filter.site_id.map(|id| id.to_string());
    let by = filter.by.map(|day| day.to_string());
    let list = List::new("listDue")
        .filter("site_id", site.as_deref())
        .filter("by", by.as_deref())
        .filter("process", filter.process.as_deref())
        .filter("routine", filter.routine.then_some("true"));
    let after = (page.after(&ctx, &actor, &list)?, page.limit());
    let rows = app::due::list(&ctx, actor.tenant(), &filter, after).await?;
    let rows = rows.try_map(|row| wire::document(&row))?;
    Ok(Page::new((&ctx, &actor, &list), &page, rows, |document| document)?.answer(&request))
}

/// Draws a year of due dates as a calendar: how much falls due on each day, each month, and what is overdue.
///
/// It shows what `GET /v1/due` lists, once: what comes again after its interval is in `GET /v1/forecast`. The picture tells
/// its figures in words too (`desc`).
#[utoipa::path(get, path = "/v1/due/chart", tag = "due",
    params(
        ("site_id" = Option<String>, Query, description = "Only floors of this site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("from" = Option<String>, Query, description = "The first of the twelve months, of the years 2000 to 2099; this one (UTC) if left out.", max_length = 7, pattern = "^20[0-9]{2}-(0[1-9]|1[0-2])$"),
        ("process" = Option<String>, Query, description = "Only this process, by its key.", max_length = 60),
        ("routine" = Option<bool>, Query, description = "Also routine cleaning that nobody ever reported; `false` if left out."),
    ),
    responses((status = 200, description = "The calendar.", body = String, content_type = "image/svg+xml")),
)]
pub(crate) async fn as_chart(
    actor: Actor<PlansRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let filter = DueFilter {
        site_id: query.parsed::<SiteId>("site_id", "Must be an id that starts with `sit_`."),
        by: None,
        process: query.text("process", 60),
        routine: query.flag("routine"),
        there_on: None,
    };
    let today = ctx.clock.now().date_naive();
    let from: Option<Month> = query.parsed("from", "Must be a month such as 2026-01.");
    let first = from.or_else(|| Month::of(today));
    let days = first.and_then(Month::first_day);
    let after = first.and_then(|first| first.plus(MONTHS)?.first_day());
    let near = |day: &NaiveDate| (2000..=2099).contains(&day.year());
    let over = days.filter(near).zip(after).zip(first);
    if over.is_none() {
        query.outside("from", "Must be a month of the years 2000 to 2099.");
    }
    query.finish()?;
    let (over, first) = over.ok_or_else(Problem::not_found)?;
    let (calendar, site) = app::due::calendar(&ctx, actor.tenant(), &filter, over).await?;
    let of = match (&site, filter.site_id) {
        (Some(name), _) => name.as_str(),
        (None, None) => "All sites",
        (None, Some(_)) => "No site of yours",
    };
    let picture = wire::due::chart(&calendar, first, (today, of));
    Ok(HttpResponse::Ok().content_type(SVG).body(picture))
}

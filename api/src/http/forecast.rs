//! What the work that falls due will cost, over HTTP.

use actix_web::{
    HttpRequest, HttpResponse,
    http::header::{self},
    web,
};
use domain::id::SiteId;

use super::{
    budget::of_nobody_bound,
    report::{Format, accepted},
};
use crate::{
    app::{self, forecast::Asked},
    audit,
    auth::{Actor, scope::ReportsRead},
    context::Context,
    problem::{Code, Problem},
    query::Query,
    wire::{
        self, csv,
        forecast::ForecastView,
        report::{Month, SVG},
    },
};

/// How many months one forecast goes over.
const MAX_MONTHS: u32 = 36;
/// The forms as the `format` parameter names them.
const FORMATS: &[(&str, Format)] = &[
    ("json", Format::Json),
    ("csv", Format::Csv),
    ("svg", Format::Svg),
];

/// Tells what the work that falls due will cost, by site and month, and how far that may come.
///
/// What `GET /v1/due` lists is done on its day (what is overdue: today) and again after each interval, and costs what the planner
/// reckons for it on that floor at the rates of today. Percentiles are those of the sum, for which single ones are never added;
/// neither are currencies. Years stand beside their budgets, with the chance of staying within them.
///
/// A forecast goes over 2,000 floors at most and keeps nothing.
#[utoipa::path(get, path = "/v1/forecast", tag = "due",
    params(
        ("site_id" = Option<String>, Query, description = "Only floors of this site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("from" = Option<String>, Query, description = "The first month, from this one (UTC) to 36 months later; this one if left out.", max_length = 7, pattern = "^[0-9]{4}-(0[1-9]|1[0-2])$"),
        ("months" = Option<u32>, Query, description = "How many months; 12 if left out.", minimum = 1, maximum = 36),
        ("process" = Option<String>, Query, description = "Only this process, by its key.", max_length = 60),
        ("routine" = Option<bool>, Query, description = "Also routine cleaning that nobody ever reported; `false` if left out."),
        ("format" = Option<String>, Query, description = "`json`, `csv` or `svg` (a chart), whatever `Accept` says.", max_length = 4, pattern = "^(json|csv|svg)$"),
    ),
    responses((status = 200, description = "The forecast; as a table, its months.", content(
        (ForecastView = "application/json"),
        (String = "text/csv"),
        (String = "image/svg+xml"),
    ))),
)]
pub(crate) async fn forecast(
    actor: Actor<ReportsRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    of_nobody_bound(&actor)?;
    let mut query = Query::of(&request);
    let format = query.one_of("format", FORMATS);
    let asked = asked(&ctx, &mut query);
    query.finish()?;
    let format = format.map_or_else(|| accepted(request.headers()), Ok)?;
    let asked = asked.ok_or_else(|| Problem::internal(&NoMonths))?;
    let name = format!("forecast-{}-to-{}.{}", asked.from, asked.to, format.word());
    let made = app::forecast::make(&ctx, actor.tenant(), asked).await?;
    let (media, body) = match format {
        Format::Json => {
            let view = wire::document(&ForecastView::from(&made))?;
            ("application/json", view.into_bytes())
        }
        Format::Csv => (csv::CONTENT_TYPE, wire::forecast::table(&made)?),
        Format::Svg => (SVG, wire::forecast::chart(&made).into_bytes()),
        Format::Parquet => {
            let detail = "Available are `application/json`, `text/csv` and `image/svg+xml`.";
            return Err(Problem::new(Code::NotAcceptable, detail));
        }
    };
    let mut answer = HttpResponse::Ok();
    answer
        .insert_header((header::CONTENT_TYPE, media))
        .insert_header((header::VARY, "Accept"));
    if format != Format::Json {
        let named = format!("attachment; filename=\"{name}\"");
        answer.insert_header((header::CONTENT_DISPOSITION, named));
        audit::exported(&ctx, &actor, request.path()).await?;
    }
    Ok(answer.body(body))
}

/// What is asked for; nothing if its months are not in order, which the query then tells.
fn asked(ctx: &Context, query: &mut Query) -> Option<Asked> {
    let this = Month::of(ctx.clock.now().date_naive())?;
    let from = query.parsed("from", "Must be a month such as 2026-01.");
    let n_months = query.integer("months", 1..=MAX_MONTHS, 12);
    let asked = (
        query.parsed::<SiteId>("site_id", "Must be an id that starts with `sit_`."),
        query.text("process", 60),
        query.flag("routine"),
    );
    let from: Month = from.unwrap_or(this);
    let most = i32::try_from(MAX_MONTHS).ok()?;
    if !(0..=most).contains(&this.until(from)) {
        let detail = format!("Must be this month ({this}) or one of the next {MAX_MONTHS}.");
        query.outside("from", detail);
    }
    let (site_id, process, routine) = asked;
    Some(Asked {
        site_id,
        process,
        routine,
        to: from.plus(i32::try_from(n_months).ok()?)?,
        from,
    })
}

/// A forecast without months and without a fault: a mistake of ours.
#[derive(Debug, thiserror::Error)]
#[error("a forecast was asked for without months")]
struct NoMonths;

//! Reports over HTTP.

mod asked;
mod format;

use std::borrow::Cow;

use actix_web::{
    HttpRequest, HttpResponse,
    http::header::{self, HeaderMap},
    web,
};
use domain::id::{ContractorId, TenantId};

pub(super) use self::format::{Format, accepted};
use crate::{
    app::{
        self,
        report::{Asked, Costs, Dim, Pulled},
    },
    audit,
    auth::{Actor, scope::ReportsRead},
    body::{Fault, Faults},
    context::Context,
    etag,
    page::{Page, PageRequest},
    problem::{Code, Problem},
    query::Query,
    wire::{
        self, csv,
        report::{Chart, CostReportView, Layout, MAX_BARS, PARQUET, ReportedCompletionPage, SVG},
    },
};
pub(crate) use asked::Covered;

/// Reports what was planned beside what was done and what it cost.
///
/// Completions count in the month in which the work began at their site; those that were corrected or voided do not count.
/// Currencies are never added: a group has a row for each. What is committed is what is left to do of accepted plans; it
/// counts in the month in which the plan was accepted. A completion stands in every stage and class of product of its
/// lines, with its whole area; the totals count it once.
///
/// Grouped by month, quarter or year, each group has a row for every one of them, of zeros where nothing was done. With `top`
/// the first rows of each currency are told, and all others as one (`is_other`), so that rows add up to the totals.
/// `GET /v1/reports/costs/completions` with the same filters lists what stands behind a cell.
///
/// As a chart (`format=svg`) a report of one dimension shows planned beside actual over time, else the cost of a m².
///
/// Months are added up already, by stage and class of product too; work done again is looked for among the completions: over hundreds
/// of thousands of these that takes seconds, and beyond 20 s the answer is `timed_out`. Ask for fewer months then.
///
/// A report has at most 10,000 rows; one that would have more is refused, never cut. With the `ETag` of an earlier pull in
/// `If-None-Match` the answer is 304 if nothing changed that it could show.
#[utoipa::path(get, path = "/v1/reports/costs", tag = "reports",
    params(
        Covered,
        ("group_by" = Option<Vec<String>>, Query, style = Form, explode, description = "What to group by, any of `site`, `storey`, `material`, `process`, `month`, `quarter`, `year`, `surface`, `stage`, `product_class`, `contractor`: repeated, or separated by commas; `month` if left out.", max_items = 11, max_length = 120, pattern = "^(site|storey|material|process|month|quarter|year|surface|stage|product_class|contractor)(,(site|storey|material|process|month|quarter|year|surface|stage|product_class|contractor)){0,10}$"),
        ("top" = Option<u32>, Query, description = "Only so many rows of each currency, and all others as one.", minimum = 1, maximum = 1000),
        ("top_by" = Option<String>, Query, description = "With `top`: what the first rows have most of; `actual_net` if left out.", max_length = 20, pattern = "^(actual_net|planned_net|variance_net|committed_net|area_m2|actual_hours|actual_l|water_l|voc_g|n_completions)$"),
        ("skip_empty" = Option<bool>, Query, description = "Whether to leave out months, quarters and years without anything; `false` if left out."),
        ("rework_days" = Option<u32>, Query, description = "Also tells how much area was prepared or coated again within so many days: of each completion what goes, with what the same process did on the same floor in the days before, beyond the whole floor. At most 12 months, and not by `stage` or `product_class`.", minimum = 1, maximum = 366),
        ("format" = Option<String>, Query, description = "`json`, `csv`, `parquet` or `svg` (a chart), whatever `Accept` says.", max_length = 7, pattern = "^(json|csv|parquet|svg)$"),
        ("If-None-Match" = Option<String>, Header, description = "The `ETag` of the pull that you have; 304 if nothing changed."),
    ),
    responses(
        (status = 200, description = "The report; as a table, one line for each row and no totals. Parquet holds money as DECIMAL(18, 4).", content(
            (CostReportView = "application/json"),
            (String = "text/csv"),
            (String = "application/vnd.apache.parquet"),
            (String = "image/svg+xml"),
        ), headers(("ETag" = String, description = "A mark that changes with what the report could show."))),
        (status = 304, description = "Nothing changed since the pull named in `If-None-Match`.", headers(("ETag" = String, description = "The mark of that pull."))),
    ),
)]
pub(crate) async fn costs(
    actor: Actor<ReportsRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let reader = (actor.tenant(), actor.contractor());
    let answer = pull(&ctx, reader, Query::of(&request), request.headers()).await?;
    if answer.headers().contains_key(header::CONTENT_DISPOSITION) {
        audit::exported(&ctx, &actor, request.path()).await?;
    }
    Ok(answer)
}

/// Answers the report that a query asks for, to a tenant or to one contractor of theirs.
pub(super) async fn pull(
    ctx: &Context,
    (tenant, contractor): (TenantId, Option<ContractorId>),
    mut query: Query,
    headers: &HeaderMap,
) -> Result<HttpResponse, Problem> {
    let format = query.one_of("format", format::WORDS);
    let asked = asked::take(&mut query, ctx.clock.now().date_naive());
    query.finish()?;
    let format = format.map_or_else(|| format::accepted(headers), Ok)?;
    let mut asked = asked.ok_or_else(|| Problem::internal(&NoMonths))?;
    asked.filter.contractor_id = asked::seen_by(contractor, asked.filter.contractor_id);
    if format == Format::Svg && asked.group_by.len() != 1 {
        let detail = "A chart is of one dimension: group by one.";
        return Err(refused("group_by", "one_dimension", detail));
    }
    let tag = |mark: &str| format!("W/\"{mark}.{}\"", format.word());
    let known = |mark: &str| etag::is_known(headers, &format!("\"{mark}.{}\"", format.word()));
    match app::report::costs(ctx, tenant, &asked, known).await? {
        Pulled::Known(mark) => Ok(HttpResponse::NotModified()
            .insert_header((header::ETAG, tag(&mark)))
            .finish()),
        Pulled::New(costs, _) if format == Format::Svg && is_crowded(&asked, &costs) => {
            let detail =
                format!("A chart has at most {MAX_BARS} bars: ask for the first ones with `top`.");
            Err(refused("top", "too_many_bars", detail))
        }
        Pulled::New(costs, mark) => answer(format, &asked, costs, tag(&mark)),
    }
}

/// Goes on if a report could be asked for by this query string.
///
/// # Errors
/// `invalid_body` at `pointer` with everything that is wrong with it.
pub(super) fn judge(ctx: &Context, text: &str, pointer: &'static str) -> Result<(), Problem> {
    let mut query = Query::parse(text);
    query.one_of("format", format::WORDS);
    let _asked = asked::take(&mut query, ctx.clock.now().date_naive());
    let Err(problem) = query.finish() else {
        return Ok(());
    };
    let mut faults = Faults::new();
    for fault in problem.faults() {
        let name = fault.parameter.as_deref().unwrap_or_default();
        faults.push(
            pointer,
            "invalid_query",
            format!("`{name}`: {}", fault.detail),
        );
    }
    faults.finish()
}

/// Whether a chart that is not over time has more bars than can be told apart.
fn is_crowded(asked: &Asked, costs: &Costs) -> bool {
    !asked.group_by.iter().any(|dim| dim.is_period()) && costs.rows.len() > MAX_BARS
}

fn refused(
    parameter: &'static str,
    code: &'static str,
    detail: impl Into<Cow<'static, str>>,
) -> Problem {
    let fault = Fault::parameter(parameter, code, detail);
    Problem::with_faults(Code::ParameterOutOfRange, vec![fault])
}

/// A report without months and without a fault: a mistake of ours.
#[derive(Debug, thiserror::Error)]
#[error("a report was asked for without months")]
struct NoMonths;

/// The report in the form that was asked for.
fn answer(
    format: Format,
    asked: &Asked,
    costs: Costs,
    tag: String,
) -> Result<HttpResponse, Problem> {
    let (from, to) = (asked.from, asked.to);
    let by = &asked.group_by;
    let layout = Layout {
        group_by: by,
        is_top: asked.top.is_some(),
        has_rework: asked.rework_days.is_some(),
    };
    let (media, body) = match format {
        Format::Json => {
            let view = CostReportView::new((from, to), by, costs.rows, costs.totals);
            ("application/json", wire::document(&view)?.into_bytes())
        }
        Format::Csv => (csv::CONTENT_TYPE, wire::report::csv(layout, &costs.rows)?),
        Format::Svg => {
            let over_time = |dim: &Dim| dim.is_period();
            let chart = Chart {
                is_over_time: by.iter().any(over_time),
                by: by.first().map_or("", |dim| wire::report::word(*dim)),
                months: (from, to),
            };
            (SVG, wire::report::chart(chart, &costs.rows).into_bytes())
        }
        Format::Parquet => {
            let about = [
                ("from_month", from.to_string()),
                ("to_month", to.to_string()),
            ];
            (PARQUET, wire::report::parquet(layout, &costs.rows, &about)?)
        }
    };
    let mut answer = HttpResponse::Ok();
    answer
        .insert_header((header::CONTENT_TYPE, media))
        .insert_header((header::VARY, "Accept"))
        .insert_header((header::ETAG, tag));
    if format != Format::Json {
        let name = format!(
            "attachment; filename=\"costs-{from}-to-{to}.{}\"",
            format.word()
        );
        answer.insert_header((header::CONTENT_DISPOSITION, name));
    }
    Ok(answer.body(body))
}

/// Lists the completions behind a report or one of its cells, in the order of their recording.
///
/// Send the filters of the report, and as filters what the row was grouped by: a null is `none`, a quarter or year is `from` and `to`, and the
/// currency is one too. Each item holds what the completion adds to the sums of the row, so items add up to it. A year is the
/// most that is listed at once.
#[utoipa::path(get, path = "/v1/reports/costs/completions", tag = "reports",
    params(Covered),
    responses((status = 200, description = "A page of completions.", body = ReportedCompletionPage)),
)]
pub(crate) async fn completions(
    actor: Actor<ReportsRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let page = PageRequest::take(&mut query);
    let filter = asked::take_covered(&mut query, ctx.clock.now().date_naive());
    query.finish()?;
    let mut filter = filter.ok_or_else(|| Problem::internal(&NoMonths))?;
    filter.contractor_id = asked::seen_by(actor.contractor(), filter.contractor_id);
    let list = asked::list_of(&filter);
    let after = (page.after(&ctx, &actor, &list)?, page.limit());
    let rows = app::report::completions(&ctx, actor.tenant(), &filter, after).await?;
    let rows = rows.try_map(|row| wire::document(&row))?;
    Ok(Page::new((&ctx, &actor, &list), &page, rows, |document| document)?.answer(&request))
}

/// Draws how planned cost became actual cost: what was planned, what each part of the variance made dearer or cheaper, and what it
/// cost.
///
/// The sums are those of the totals of `GET /v1/reports/costs` with the same filters; each currency has a picture of its own. At
/// most 12 months. The picture tells its figures in words too (`desc`).
#[utoipa::path(get, path = "/v1/reports/costs/waterfall", tag = "reports",
    params(Covered),
    responses((status = 200, description = "The chart.", body = String, content_type = "image/svg+xml")),
)]
pub(crate) async fn waterfall(
    actor: Actor<ReportsRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let filter = asked::take_covered(&mut query, ctx.clock.now().date_naive());
    query.finish()?;
    let mut filter = filter.ok_or_else(|| Problem::internal(&NoMonths))?;
    filter.contractor_id = asked::seen_by(actor.contractor(), filter.contractor_id);
    let months = filter
        .from_month
        .parse()
        .ok()
        .zip(filter.to_month.parse().ok());
    let months = months.ok_or_else(|| Problem::internal(&NoMonths))?;
    let totals = app::report::totals(&ctx, actor.tenant(), &filter).await?;
    let picture = wire::report::waterfall(&totals, months);
    Ok(HttpResponse::Ok().content_type(SVG).body(picture))
}

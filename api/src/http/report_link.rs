//! Links to reports over HTTP.

use actix_web::{HttpRequest, HttpResponse, http::header, web};
use domain::id::ReportLinkId;

use super::{
    report::{judge, pull},
    route::{Id, no_query},
};
use crate::{
    app::{self, report_link::ReportLinkRow},
    auth::{
        Actor,
        scope::{ReportsRead, ReportsShare},
    },
    body::{Bare, Strict},
    context::Context,
    cursor::List,
    etag::Expected,
    page::{Page, PageRequest},
    problem::{Code, Problem},
    query::Query,
    wire::{
        self,
        report::CostReportView,
        report_link::{ReportLinkPage, ReportLinkRequest, ReportLinkView},
    },
    write::{self, KeyRule, Reply},
};

/// Makes a link that opens one cost report without a token, as the web query of a spreadsheet needs it.
///
/// Whoever has the address reads the report until it expires or is revoked, and nothing else. The address is told in this
/// answer and in no other (sent again with the same `Idempotency-Key`, it is this answer); what is kept is a hash.
#[utoipa::path(post, path = "/v1/report-links", tag = "reports", request_body = ReportLinkRequest, responses(
    (status = 201, description = "The link, with its address.", body = ReportLinkView),
))]
pub(crate) async fn make(
    actor: Actor<ReportsShare>,
    ctx: web::Data<Context>,
    body: Strict<ReportLinkRequest>,
) -> Result<HttpResponse, Problem> {
    if actor.contractor().is_some() {
        let detail = "A link opens a report of everybody's work: a token that is bound to a contractor makes none.";
        return Err(Problem::new(Code::InsufficientScope, detail));
    }
    judge(&ctx, &body.value.query, "#/query")?;
    write::run(&ctx, &actor, &body.raw, KeyRule::Optional, async |tx| {
        let (row, address) = app::report_link::make(&ctx, tx, &body.value).await?;
        let view = ReportLinkView::new(&row).at(&address);
        let path = format!("/v1/report-links/{}", row.id);
        Ok(Reply::created(path, row.version, wire::document(&view)?).secret())
    })
    .await
}

/// Lists links to reports, oldest first, with those that expired or were revoked.
#[utoipa::path(get, path = "/v1/report-links", tag = "reports",
    responses((status = 200, description = "A page of links.", body = ReportLinkPage)),
)]
pub(crate) async fn list(
    actor: Actor<ReportsRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    query.finish()?;
    let list = List::new("listReportLinks");
    let page = (asked.after(&ctx, &actor, &list)?, asked.limit());
    let rows = app::report_link::list(&ctx, actor.tenant(), page).await?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}

/// Reads one link to a report. Its address is told nowhere but where it was made.
#[utoipa::path(get, path = "/v1/report-links/{report_link_id}", tag = "reports",
    params(("report_link_id" = String, Path, description = "The link.", max_length = 40, pattern = "^rpl_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The link.", body = ReportLinkView)),
)]
pub(crate) async fn get(
    actor: Actor<ReportsRead>,
    ctx: web::Data<Context>,
    Id(id): Id<ReportLinkId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let row = app::report_link::get(&ctx, actor.tenant(), id).await?;
    Ok(found(&row)?.unless_known(request.headers()))
}

/// Takes a link back for good: from now on its address opens nothing.
#[utoipa::path(post, path = "/v1/report-links/{report_link_id}/revoke", tag = "reports",
    params(("report_link_id" = String, Path, description = "The link.", max_length = 40, pattern = "^rpl_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The link as it is now.", body = ReportLinkView)),
)]
pub(crate) async fn revoke(
    actor: Actor<ReportsShare>,
    ctx: web::Data<Context>,
    Id(id): Id<ReportLinkId>,
    Bare { raw }: Bare,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &raw, KeyRule::Optional, async |tx| {
        let row = app::report_link::find(tx, id).await?;
        Expected::of(&raw.headers)?.check(row.version)?;
        found(&app::report_link::revoke(&ctx, tx, row).await?)
    })
    .await
}

/// Answers the report of a link to whoever has its address.
///
/// The form is the one in the link's query, else what `Accept` prefers. An address that nobody was told, and one that expired or was
/// revoked, answer alike.
#[utoipa::path(get, path = "/v1/shared-reports/{address}", tag = "reports",
    params(("address" = String, Path, description = "The last part of the address.", max_length = 86, pattern = "^[A-Za-z0-9_-]{86}$")),
    responses((status = 200, description = "The report.", content(
        (CostReportView = "application/json"),
        (String = "text/csv"),
        (String = "application/vnd.apache.parquet"),
        (String = "image/svg+xml"),
    ))),
)]
pub(crate) async fn shared(
    ctx: web::Data<Context>,
    address: web::Path<String>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let (tenant, query) = app::report_link::open(&ctx, &address).await?;
    let query = Query::parse(&query);
    let mut answer = pull(&ctx, (tenant, None), query, request.headers()).await?;
    let referrer = header::HeaderValue::from_static("no-referrer");
    answer
        .headers_mut()
        .insert(header::REFERRER_POLICY, referrer);
    Ok(answer)
}

fn found(row: &ReportLinkRow) -> Result<Reply, Problem> {
    let view = ReportLinkView::new(row);
    Ok(Reply::found(row.version, wire::document(&view)?))
}

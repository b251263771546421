//! The knowledge base over HTTP: the same for every tenant, and the same until the next edition.

use actix_web::{
    HttpRequest, HttpResponse,
    http::header::{self, HeaderMap},
    web,
};
use base64::{Engine as _, engine::general_purpose::URL_SAFE_NO_PAD};
use domain::knowledge::Severity;
use serde::Serialize;
use sha2::{Digest as _, Sha256};

use super::route::{Id, no_query};
use crate::{
    auth::{Actor, scope::KnowledgeRead},
    context::Context,
    etag,
    problem::Problem,
    query::Query,
    wire::{
        self,
        knowledge::{MaterialList, MaterialView, ProcessList, ProcessView, RuleList, RuleView},
    },
};

/// Answers with part of the knowledge base, or 304 if the caller has this answer. Its tag names the edition, and changes
/// too where another release tells the same edition in other words.
fn answer(
    ctx: &Context,
    headers: &HeaderMap,
    view: &impl Serialize,
) -> Result<HttpResponse, Problem> {
    let body = wire::document(view)?;
    let digest: Vec<u8> = Sha256::digest(&body).iter().copied().take(9).collect();
    let digest = URL_SAFE_NO_PAD.encode(digest);
    let edition = format!("\"{}.{digest}\"", ctx.knowledge.version);
    let tag = (header::ETAG, format!("W/{edition}"));
    if etag::is_known(headers, &edition) {
        return Ok(HttpResponse::NotModified().insert_header(tag).finish());
    }
    let mut answer = HttpResponse::Ok();
    answer.insert_header((header::CONTENT_TYPE, "application/json"));
    Ok(answer.insert_header(tag).body(body))
}

/// Answers with one row, if there is one.
pub(super) fn row<V: Serialize>(
    ctx: &Context,
    request: &HttpRequest,
    row: Option<impl Into<V>>,
) -> Result<HttpResponse, Problem> {
    no_query(request)?;
    let row: V = row.ok_or_else(Problem::not_found)?.into();
    answer(ctx, request.headers(), &row)
}

/// Lists the floor coverings and what they stand.
#[utoipa::path(get, path = "/v1/materials", tag = "knowledge", responses(
    (status = 200, description = "All materials.", body = MaterialList),
))]
pub(crate) async fn materials(
    _: Actor<KnowledgeRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let rows = ctx.knowledge.materials.iter().map(MaterialView::from);
    answer(&ctx, request.headers(), &rows.collect::<MaterialList>())
}

/// Reads one material.
#[utoipa::path(get, path = "/v1/materials/{key}", tag = "knowledge",
    params(("key" = String, Path, description = "The material.", max_length = 60)),
    responses((status = 200, description = "The material.", body = MaterialView)),
)]
pub(crate) async fn material(
    _: Actor<KnowledgeRead>,
    ctx: web::Data<Context>,
    Id(key): Id<String>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    row::<MaterialView>(&ctx, &request, ctx.knowledge.material(&key))
}

/// Lists the processes with their steps.
#[utoipa::path(get, path = "/v1/processes", tag = "knowledge", responses(
    (status = 200, description = "All processes.", body = ProcessList),
))]
pub(crate) async fn processes(
    _: Actor<KnowledgeRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let rows = ctx.knowledge.processes.iter().map(ProcessView::from);
    answer(&ctx, request.headers(), &rows.collect::<ProcessList>())
}

/// Reads one process with its steps.
#[utoipa::path(get, path = "/v1/processes/{key}", tag = "knowledge",
    params(("key" = String, Path, description = "The process.", max_length = 60)),
    responses((status = 200, description = "The process.", body = ProcessView)),
)]
pub(crate) async fn process(
    _: Actor<KnowledgeRead>,
    ctx: web::Data<Context>,
    Id(key): Id<String>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    row::<ProcessView>(&ctx, &request, ctx.knowledge.process(&key))
}

/// The severities by their words.
const SEVERITIES: [(&str, Severity); 5] = [
    (Severity::Refuse.word(), Severity::Refuse),
    (Severity::Ask.word(), Severity::Ask),
    (Severity::Warn.word(), Severity::Warn),
    (Severity::Open.word(), Severity::Open),
    (Severity::Note.word(), Severity::Note),
];

/// Lists the rules by which plans are judged.
#[utoipa::path(get, path = "/v1/rules", tag = "knowledge",
    params(("severity" = Option<String>, Query, description = "Only rules of this severity: refuse, ask, warn, open or note.", max_length = 6, pattern = "^(refuse|ask|warn|open|note)$")),
    responses((status = 200, description = "The rules.", body = RuleList)),
)]
pub(crate) async fn rules(
    _: Actor<KnowledgeRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let severity = query.one_of("severity", &SEVERITIES);
    query.finish()?;
    let rows = ctx.knowledge.rules.iter();
    let rows = rows.filter(|rule| severity.is_none_or(|asked| rule.severity == asked));
    let rows: RuleList = rows.map(RuleView::from).collect();
    answer(&ctx, request.headers(), &rows)
}

/// Reads one rule.
#[utoipa::path(get, path = "/v1/rules/{key}", tag = "knowledge",
    params(("key" = String, Path, description = "The rule.", max_length = 60)),
    responses((status = 200, description = "The rule.", body = RuleView)),
)]
pub(crate) async fn rule(
    _: Actor<KnowledgeRead>,
    ctx: web::Data<Context>,
    Id(key): Id<String>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    row::<RuleView>(&ctx, &request, ctx.knowledge.rule(&key))
}

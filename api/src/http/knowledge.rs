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
    app::{self, knowledge::RuleQuery},
    auth::{Actor, scope::KnowledgeRead},
    context::Context,
    cursor::List,
    etag,
    page::{Page, PageRequest},
    problem::Problem,
    query::Query,
    wire::{
        self,
        knowledge::{
            ActivityList, ActivityView, FinishList, FinishView, IdentificationTestList,
            IdentificationTestView, MaterialList, MaterialView, ProcessList, ProcessView,
            ProductClassList, ProductClassView, RuleList, RuleView, ToolsView,
        },
    },
};

/// Answers with part of the knowledge base, or 304 if the caller has this answer. Its tag names the edition, and changes
/// too where another release tells the same edition in other words.
pub(super) fn answer(
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

/// Lists the activities that a rate card may name, with how fast each is usually done.
#[utoipa::path(get, path = "/v1/activities", tag = "knowledge", responses(
    (status = 200, description = "All activities.", body = ActivityList),
))]
pub(crate) async fn activities(
    _: Actor<KnowledgeRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let rows = ctx.knowledge.rates.iter().map(ActivityView::from);
    answer(&ctx, request.headers(), &rows.collect::<ActivityList>())
}

/// Lists the words of building data by which a surface's `finish` may be named, and what each means.
#[utoipa::path(get, path = "/v1/finishes", tag = "knowledge", responses(
    (status = 200, description = "All words of the dictionary.", body = FinishList),
))]
pub(crate) async fn finishes(
    _: Actor<KnowledgeRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let rows = ctx.knowledge.finishes.iter().map(FinishView::from);
    answer(&ctx, request.headers(), &rows.collect::<FinishList>())
}

/// Lists the field tests that tell what a floor is made of and what lies on it.
#[utoipa::path(get, path = "/v1/identification-tests", tag = "knowledge", responses(
    (status = 200, description = "All field tests.", body = IdentificationTestList),
))]
pub(crate) async fn identification_tests(
    _: Actor<KnowledgeRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let rows = ctx.knowledge.identification.iter();
    let rows = rows.map(IdentificationTestView::from);
    answer(
        &ctx,
        request.headers(),
        &rows.collect::<IdentificationTestList>(),
    )
}

/// Reads one field test.
#[utoipa::path(get, path = "/v1/identification-tests/{key}", tag = "knowledge",
    params(("key" = String, Path, description = "The test.", max_length = 60)),
    responses((status = 200, description = "The test.", body = IdentificationTestView)),
)]
pub(crate) async fn identification_test(
    _: Actor<KnowledgeRead>,
    ctx: web::Data<Context>,
    Id(key): Id<String>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    row::<IdentificationTestView>(&ctx, &request, ctx.knowledge.identification_test(&key))
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

/// Shows the tools: pads, machines, mops and what is used up, with ranks, speeds, limits and lives.
#[utoipa::path(get, path = "/v1/tools", tag = "knowledge", responses(
    (status = 200, description = "All tools.", body = ToolsView),
))]
pub(crate) async fn tools(
    _: Actor<KnowledgeRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    answer(&ctx, request.headers(), &ToolsView::from(ctx.knowledge))
}

/// Lists what the data sheets of each class of products usually say.
#[utoipa::path(get, path = "/v1/product-classes", tag = "knowledge", responses(
    (status = 200, description = "All classes.", body = ProductClassList),
))]
pub(crate) async fn product_classes(
    _: Actor<KnowledgeRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let rows = ctx
        .knowledge
        .product_classes
        .iter()
        .map(ProductClassView::from);
    answer(&ctx, request.headers(), &rows.collect::<ProductClassList>())
}

/// Reads one class of products.
#[utoipa::path(get, path = "/v1/product-classes/{key}", tag = "knowledge",
    params(("key" = String, Path, description = "The class.", max_length = 60)),
    responses((status = 200, description = "The class.", body = ProductClassView)),
)]
pub(crate) async fn product_class(
    _: Actor<KnowledgeRead>,
    ctx: web::Data<Context>,
    Id(key): Id<String>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    row::<ProductClassView>(&ctx, &request, ctx.knowledge.product_class(&key))
}

/// Lists the rules by which plans are judged.
///
/// With `material`, `process` or `product`: those that speak of it and could fire for it, whatever else is or becomes
/// known; of several, those that all of them leave possible. `text` narrows to rules that say it, in any case of letters.
#[utoipa::path(get, path = "/v1/rules", tag = "knowledge",
    params(
        ("severity" = Option<String>, Query, description = "Only rules of this severity: refuse, ask, warn, open or note.", max_length = 6, pattern = "^(refuse|ask|warn|open|note)$"),
        ("material" = Option<String>, Query, description = "Only rules that could fire for this material.", min_length = 1, max_length = 60),
        ("process" = Option<String>, Query, description = "Only rules that could fire for this process.", min_length = 1, max_length = 60),
        ("product" = Option<String>, Query, description = "Only rules that could fire for this product, your own included.", min_length = 1, max_length = 60),
        ("text" = Option<String>, Query, description = "Only rules that say this.", min_length = 1, max_length = 100),
    ),
    responses((status = 200, description = "A page of rules.", body = RuleList)),
)]
pub(crate) async fn rules(
    actor: Actor<KnowledgeRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    let severity = query.one_of("severity", &SEVERITIES);
    let search = RuleQuery {
        severity,
        material: query.text("material", 60),
        process: query.text("process", 60),
        product: query.text("product", 60),
        text: query.text("text", 100),
    };
    let rows = app::knowledge::rules(&ctx, actor.tenant(), &search, &mut query).await?;
    query.finish()?;
    let list = List::new("listRules")
        .filter("severity", severity.map(Severity::word))
        .filter("material", search.material.as_deref())
        .filter("process", search.process.as_deref())
        .filter("product", search.product.as_deref())
        .filter("text", search.text.as_deref());
    let after: Option<String> = asked.after(&ctx, &actor, &list)?;
    let rows = app::knowledge::page(rows, after.as_deref(), asked.limit())?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |row| row)?.answer(&request))
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

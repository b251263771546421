//! The API description, the page that shows it, and the page to begin with.

use std::sync::{Arc, LazyLock};

use actix_web::{
    HttpRequest, HttpResponse,
    http::header::{self, HeaderValue},
    web,
};
use utoipa_swagger_ui::Config;

use super::paper;
use crate::{context::Context, guide, openapi, problem::Problem};

static CONFIG: LazyLock<Arc<Config<'static>>> =
    LazyLock::new(|| Arc::new(Config::from("/openapi.json").validator_url("none")));

/// What the page may do: run and show what we serve, and call this service.
const PAGE_CSP: HeaderValue = HeaderValue::from_static(
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; \
     connect-src 'self'; frame-ancestors 'none'",
);

/// What the first page may do: look as it does.
static GUIDE_CSP: LazyLock<Option<HeaderValue>> = LazyLock::new(|| paper::looks_only(guide::STYLE));

/// The page to begin with; not part of the API, and shown where the description is.
pub(crate) async fn guide(ctx: web::Data<Context>) -> Result<HttpResponse, Problem> {
    if !ctx.docs {
        return Err(Problem::not_found());
    }
    let mut answer = HttpResponse::Ok();
    answer.insert_header((header::CONTENT_TYPE, "text/html; charset=utf-8"));
    if let Some(policy) = GUIDE_CSP.clone() {
        answer.insert_header((header::CONTENT_SECURITY_POLICY, policy));
    }
    Ok(answer.body(guide::html()))
}

/// The description of this API (OpenAPI 3.1).
///
/// It is made from the code that answers, with examples of answers and links to what can be called next.
#[utoipa::path(get, path = "/openapi.json", tag = "service", responses(
    (status = 200, description = "The description.", body = serde_json::Value),
))]
pub(crate) async fn document() -> HttpResponse {
    let json = (header::CONTENT_TYPE, "application/json");
    HttpResponse::Ok().insert_header(json).body(openapi::text())
}

/// The page that shows the description; not part of the API.
pub(crate) async fn page(
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    if !ctx.docs {
        return Err(Problem::not_found());
    }
    let file = request.match_info().get("file").unwrap_or_default();
    let found = utoipa_swagger_ui::serve(file, Arc::clone(&CONFIG));
    match found.map_err(|error| Problem::internal(error.as_ref()))? {
        Some(file) => Ok(HttpResponse::Ok()
            .insert_header((header::CONTENT_TYPE, file.content_type))
            .insert_header((header::CONTENT_SECURITY_POLICY, PAGE_CSP))
            .body(file.bytes.into_owned())),
        None => Err(Problem::not_found()),
    }
}

//! Whether the service lives and whether it can work; both say only yes or no.

use actix_web::{HttpResponse, http::header, web};

use crate::{
    context::Context,
    problem::{Code, Problem},
};

/// Whether the process serves requests.
///
/// Depends on nothing: a process that answers this is not to be restarted.
#[utoipa::path(get, path = "/livez", tag = "service", responses(
    (status = 200, description = "It does.", body = crate::wire::health::HealthView),
))]
pub(crate) async fn live() -> HttpResponse {
    ok()
}

/// Whether the service can work: the database answers and has the tables of this version.
///
/// Answers 503 as soon as the service is told to stop, so that a balancer sends it nothing more.
#[utoipa::path(get, path = "/readyz", tag = "service", responses(
    (status = 200, description = "It can.", body = crate::wire::health::HealthView),
))]
pub(crate) async fn ready(ctx: web::Data<Context>) -> Result<HttpResponse, Problem> {
    if ctx.readiness.is_ready(&ctx.store).await {
        Ok(ok())
    } else {
        Err(Problem::new(Code::Unavailable, "Not ready."))
    }
}

fn ok() -> HttpResponse {
    let json = (header::CONTENT_TYPE, "application/json");
    HttpResponse::Ok()
        .insert_header(json)
        .body(r#"{"status":"ok"}"#)
}

//! Programmes over years, over HTTP.

use actix_web::{HttpResponse, http::header, web};

use crate::{
    app,
    auth::{Actor, scope::PlansRead},
    body::Strict,
    context::Context,
    problem::Problem,
    query::Query,
    wire::{
        self,
        programme::{ProgrammeRequest, ProgrammesView},
    },
};

/// Compares programmes over years for polished floors of one site, and keeps nothing.
///
/// For each floor stand side by side: the cheapest programme that looks as asked for often enough, the fixed intervals of
/// `GET /v1/due`, longer ones, and nothing beyond cleaning; each with its present cost and its even yearly cost (ISO 15686-5), what it
/// is expected to take month by month, and how often the floor looks worse. Actions cost what the planner reckons for them on that
/// floor. What would take the wet pendulum value below 36 is taken out and never priced. Readings of gloss, grip and footfall and work
/// that was recorded say where each floor begins. An `Idempotency-Key` changes nothing here.
#[utoipa::path(post, path = "/v1/programmes/preview", tag = "due", request_body = ProgrammeRequest, responses(
    (status = 200, description = "The programmes, with the reason for each number.", body = ProgrammesView),
))]
pub(crate) async fn preview(
    actor: Actor<PlansRead>,
    ctx: web::Data<Context>,
    body: Strict<ProgrammeRequest>,
) -> Result<HttpResponse, Problem> {
    Query::parse(&body.raw.query).finish()?;
    let view = app::programme::preview(&ctx, actor.tenant(), body.value).await?;
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, "application/json"))
        .body(wire::document(&view)?))
}

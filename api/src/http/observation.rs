//! Observations over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use domain::id::{ObservationId, SurfaceId};

use super::route::{Id, no_query};
use crate::{
    app::{self, observation::ObservationRow},
    auth::{
        Actor,
        scope::{ReadingsRead, ReadingsWrite},
    },
    body::Strict,
    context::Context,
    cursor::List,
    page::{Page, PageRequest},
    problem::Problem,
    query::Query,
    wire::{
        self,
        observation::{ObservationPage, ObservationRequest, ObservationView},
        remark::VoidRequest,
    },
    write::{self, KeyRule, Reply},
};

/// Records what is known of a surface's film at a moment.
///
/// It is never edited; a wrong one is superseded. What it says counts from its moment on in the surface's state and in
/// plans, until work is done on the film or somebody looks again.
#[utoipa::path(post, path = "/v1/surfaces/{surface_id}/observations", tag = "films",
    params(("surface_id" = String, Path, description = "The surface.", max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")),
    request_body = ObservationRequest,
    responses((status = 201, description = "It is recorded.", body = ObservationView)),
)]
pub(crate) async fn record(
    actor: Actor<ReadingsWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<SurfaceId>,
    body: Strict<ObservationRequest>,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &body.raw, KeyRule::Required, async |tx| {
        created(&app::observation::record(&ctx, tx, id, &body.value).await?)
    })
    .await
}

/// Corrects an observation.
///
/// The body is the whole corrected observation, of the same surface. It is recorded as one of its own that cites the one
/// it corrects, which becomes `superseded`, stays readable and counts no longer.
#[utoipa::path(post, path = "/v1/observations/{observation_id}/supersede", tag = "films",
    params(("observation_id" = String, Path, description = "The observation to correct.", max_length = 40, pattern = "^obs_[0-9a-f-]{36}$")),
    request_body = ObservationRequest,
    responses((status = 201, description = "The correction is recorded.", body = ObservationView)),
)]
pub(crate) async fn supersede(
    actor: Actor<ReadingsWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<ObservationId>,
    body: Strict<ObservationRequest>,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &body.raw, KeyRule::Required, async |tx| {
        created(&app::observation::supersede(&ctx, tx, id, &body.value).await?)
    })
    .await
}

/// Voids an observation that should not be there, such as one of the wrong surface: it stays readable and counts no longer.
///
/// A wrong one is superseded, not voided: then another counts in its place. One that is void says nothing of the film, at no
/// moment; what was planned by it stays as it is.
#[utoipa::path(post, path = "/v1/observations/{observation_id}/void", tag = "films",
    params(("observation_id" = String, Path, description = "The observation.", max_length = 40, pattern = "^obs_[0-9a-f-]{36}$")),
    request_body = VoidRequest,
    responses((status = 200, description = "The observation as it is now.", body = ObservationView)),
)]
pub(crate) async fn void(
    actor: Actor<ReadingsWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<ObservationId>,
    body: Strict<VoidRequest>,
) -> Result<HttpResponse, Problem> {
    let by = actor.by();
    let said = (&by, body.value.reason.as_str());
    write::run(&ctx, &actor, &body.raw, KeyRule::Required, async |tx| {
        let row = app::observation::void(&ctx, tx, id, said).await?;
        Ok(Reply::found(
            app::observation::version(&row),
            document(&row)?,
        ))
    })
    .await
}

fn created(row: &ObservationRow) -> Result<Reply, Problem> {
    let (path, version) = (
        format!("/v1/observations/{}", row.id),
        app::observation::version(row),
    );
    Ok(Reply::created(path, version, document(row)?))
}

fn document(row: &ObservationRow) -> Result<String, Problem> {
    wire::document(&ObservationView::new(row)?)
}

/// Lists what was known of a surface's film, in the order of recording.
///
/// Among them are the films that the surface was registered and changed with. Those that were corrected or voided are left out
/// unless they are asked for.
#[utoipa::path(get, path = "/v1/surfaces/{surface_id}/observations", tag = "films",
    params(
        ("surface_id" = String, Path, description = "The surface.", max_length = 40, pattern = "^srf_[0-9a-f-]{36}$"),
        ("include_superseded" = Option<bool>, Query, description = "Whether to list also those that count no longer; `false` if left out."),
    ),
    responses((status = 200, description = "A page of observations.", body = ObservationPage)),
)]
pub(crate) async fn list(
    actor: Actor<ReadingsRead>,
    ctx: web::Data<Context>,
    Id(id): Id<SurfaceId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    let superseded = query.flag("include_superseded");
    query.finish()?;
    let (surface, flag) = (id.to_string(), superseded.to_string());
    let list = List::new("listObservations")
        .filter("surface_id", Some(&surface))
        .filter("include_superseded", Some(&flag));
    let after = asked.after(&ctx, &actor, &list)?;
    let of = (id, superseded);
    let rows = app::observation::list(&ctx, actor.tenant(), of, after, asked.limit()).await?;
    let rows = rows.try_map(|row| document(&row))?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}

/// Reads one observation, corrected or not.
#[utoipa::path(get, path = "/v1/observations/{observation_id}", tag = "films",
    params(("observation_id" = String, Path, description = "The observation.", max_length = 40, pattern = "^obs_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The observation.", body = ObservationView)),
)]
pub(crate) async fn get(
    actor: Actor<ReadingsRead>,
    ctx: web::Data<Context>,
    Id(id): Id<ObservationId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let row = app::observation::get(&ctx, actor.tenant(), id).await?;
    let version = app::observation::version(&row);
    Ok(Reply::found(version, document(&row)?).unless_known(request.headers()))
}

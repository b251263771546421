//! Readings over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use domain::{id::ReadingId, reading::ReadingKind};

use super::{
    external,
    route::{Id, no_query},
};
use crate::{
    app::{
        self,
        completion::Origin,
        reading::{ReadingFilter, ReadingRow},
    },
    auth::{
        Actor,
        scope::{ReadingsRead, ReadingsWrite},
    },
    body::Strict,
    context::Context,
    cursor::List,
    page::{Page, TurnParams, TurnRequest},
    problem::Problem,
    query::Query,
    wire::{
        reading::{ReadingPage, ReadingRequest, ReadingView, as_it_stands},
        remark::VoidRequest,
    },
    write::{self, KeyRule, Reply},
};

/// Records a measured value.
///
/// A reading is kept and listed; no plan reads it yet. Plans take the pH after a rinse from `surface_ph` of the completion, and moisture,
/// slip and the air from the surface, its site and the wish. A reading is never edited; a wrong one is superseded.
#[utoipa::path(post, path = "/v1/readings", tag = "readings", request_body = ReadingRequest, responses(
    (status = 201, description = "It is recorded.", body = ReadingView),
))]
pub(crate) async fn record(
    actor: Actor<ReadingsWrite>,
    ctx: web::Data<Context>,
    body: Strict<ReadingRequest>,
) -> Result<HttpResponse, Problem> {
    let report = (&body.value, Origin::Caller(actor.contractor()));
    write::run(&ctx, &actor, &body.raw, KeyRule::Optional, async |tx| {
        let row = app::reading::record(&ctx, tx, report).await?;
        Ok(created(row))
    })
    .await
}

/// Corrects a reading.
///
/// The body is the whole corrected reading. It is recorded as a reading of its own that cites the one it corrects, which
/// becomes `superseded`, stays readable and counts no longer.
#[utoipa::path(post, path = "/v1/readings/{reading_id}/supersede", tag = "readings",
    params(("reading_id" = String, Path, description = "The reading to correct.", max_length = 40, pattern = "^rdg_[0-9a-f-]{36}$")),
    request_body = ReadingRequest,
    responses((status = 201, description = "The correction is recorded.", body = ReadingView)),
)]
pub(crate) async fn supersede(
    actor: Actor<ReadingsWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<ReadingId>,
    body: Strict<ReadingRequest>,
) -> Result<HttpResponse, Problem> {
    let report = (&body.value, Origin::Caller(actor.contractor()));
    write::run(&ctx, &actor, &body.raw, KeyRule::Required, async |tx| {
        let row = app::reading::supersede(&ctx, tx, id, report).await?;
        Ok(created(row))
    })
    .await
}

/// Voids a reading that should not be there, such as one of the wrong surface: it stays readable and counts no longer.
///
/// A wrong value is superseded, not voided: then another counts in its place.
#[utoipa::path(post, path = "/v1/readings/{reading_id}/void", tag = "readings",
    params(("reading_id" = String, Path, description = "The reading.", max_length = 40, pattern = "^rdg_[0-9a-f-]{36}$")),
    request_body = VoidRequest,
    responses((status = 200, description = "The reading as it is now.", body = ReadingView)),
)]
pub(crate) async fn void(
    actor: Actor<ReadingsWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<ReadingId>,
    body: Strict<VoidRequest>,
) -> Result<HttpResponse, Problem> {
    let (by, known) = (actor.by(), (id, actor.contractor()));
    let said = (&by, body.value.reason.as_str());
    write::run(&ctx, &actor, &body.raw, KeyRule::Required, async |tx| {
        let row = app::reading::void(&ctx, tx, known, said).await?;
        let version = app::reading::version(&row);
        Ok(Reply::found(version, as_it_stands(row)?))
    })
    .await
}

fn created(row: ReadingRow) -> Reply {
    let version = app::reading::version(&row);
    Reply::created(format!("/v1/readings/{}", row.id), version, row.document)
}

/// Lists readings, in the order of their recording.
///
/// Those that were corrected or voided are left out unless they are asked for.
#[utoipa::path(get, path = "/v1/readings", tag = "readings",
    params(
        ("site_id" = Option<String>, Query, description = "Only on this site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("surface_id" = Option<String>, Query, description = "Only of this surface.", max_length = 40, pattern = "^srf_[0-9a-f-]{36}$"),
        ("completion_id" = Option<String>, Query, description = "Only those that were taken for this completion.", max_length = 40, pattern = "^cmp_[0-9a-f-]{36}$"),
        ("external_system" = Option<String>, Query, description = "Only the reading with this external name; together with `external_id`.", min_length = 1, max_length = 100),
        ("external_id" = Option<String>, Query, description = "Only the reading with this external name; together with `external_system`.", min_length = 1, max_length = 200),
        ("kind" = Option<String>, Query, description = "Only of this kind, such as `surface_ph`.", max_length = 40, pattern = "^(surface_ph|gloss_gu|ptv_wet|moisture_rh_pct|film_resistance_ohm|footfall|air_c|floor_c|humidity_pct)$"),
        ("include_superseded" = Option<bool>, Query, description = "Whether to list also those that count no longer; `false` if left out."),
        TurnParams,
    ),
    responses((status = 200, description = "A page of readings.", body = ReadingPage)),
)]
pub(crate) async fn list(
    actor: Actor<ReadingsRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = TurnRequest::take(&mut query);
    let kinds: Vec<_> = ReadingKind::ALL.iter().map(|k| (k.word(), *k)).collect();
    let external = external::take(&mut query);
    let filter = ReadingFilter {
        external: external.as_ref().map(Into::into),
        site_id: query.parsed("site_id", "Must be the id of a site."),
        surface_id: query.parsed("surface_id", "Must be the id of a surface."),
        completion_id: query.parsed("completion_id", "Must be the id of a completion."),
        contractor_id: actor.contractor(),
        kind: query.one_of("kind", &kinds),
        include_superseded: query.flag("include_superseded"),
    };
    query.finish()?;
    let site = filter.site_id.map(|id| id.to_string());
    let surface = filter.surface_id.map(|id| id.to_string());
    let completion = filter.completion_id.map(|id| id.to_string());
    let superseded = filter.include_superseded.to_string();
    let list = List::new("listReadings")
        .filter("site_id", site.as_deref())
        .filter("surface_id", surface.as_deref())
        .filter("completion_id", completion.as_deref())
        .filter("kind", filter.kind.map(ReadingKind::word))
        .filter("include_superseded", Some(&superseded));
    let list = asked.of(external::filter(list, external.as_ref()));
    let (turn, asked) = (asked.turn(&ctx, &actor, &list)?, asked.page);
    let rows = app::reading::list(&ctx, actor.tenant(), &filter, turn, asked.limit()).await?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}

/// Reads one reading, corrected or not.
#[utoipa::path(get, path = "/v1/readings/{reading_id}", tag = "readings",
    params(("reading_id" = String, Path, description = "The reading.", max_length = 40, pattern = "^rdg_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The reading.", body = ReadingView)),
)]
pub(crate) async fn get(
    actor: Actor<ReadingsRead>,
    ctx: web::Data<Context>,
    Id(id): Id<ReadingId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let (version, document) =
        app::reading::get(&ctx, actor.tenant(), (id, actor.contractor())).await?;
    Ok(Reply::found(version, document).unless_known(request.headers()))
}

//! A surface's film at any moment, and its history, over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use chrono::{DateTime, Days};
use domain::id::SurfaceId;

use super::route::Id;
use crate::{
    app::{self, history::HistoryFilter},
    auth::{Actor, scope::SurfacesRead},
    context::Context,
    cursor::List,
    page::{Page, PageRequest},
    problem::Problem,
    query::Query,
    wire::{
        self,
        film::SurfaceStateView,
        history::{HistoryEntryView, HistoryPage},
        time,
    },
    write::Reply,
};

/// How far ahead a film's wear is told, in days.
const MAX_AHEAD_DAYS: u64 = 3_660;

/// Tells what lies on a surface at a moment.
///
/// The film that the surface was surveyed with, observations and completions are taken in the order in which they
/// happened, however late they were told; what was superseded does not count. Of two at the same moment work counts
/// before a word, a strip before a coat, the less trusted word before the more trusted one. Between entries a film wears
/// and what is known of it becomes less sure. Coats are an interval, because nobody can measure them without harm.
#[utoipa::path(get, path = "/v1/surfaces/{surface_id}/state", tag = "films",
    params(
        ("surface_id" = String, Path, description = "The surface.", max_length = 40, pattern = "^srf_[0-9a-f-]{36}$"),
        ("at" = Option<String>, Query, format = DateTime, description = "The moment (RFC 3339), from the year 2000 to 3,660 days from now; now if left out.", max_length = 40),
    ),
    responses((status = 200, description = "What lies on it.", body = SurfaceStateView)),
)]
pub(crate) async fn state(
    actor: Actor<SurfacesRead>,
    ctx: web::Data<Context>,
    Id(id): Id<SurfaceId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let at = query.moment("at");
    let first = DateTime::from_timestamp_millis(946_684_800_000);
    let last = ctx.clock.now().checked_add_days(Days::new(MAX_AHEAD_DAYS));
    if at.is_some_and(|at| first.is_some_and(|f| at < f) || last.is_some_and(|l| at > l)) {
        let detail = format!("Must lie from the year 2000 to {MAX_AHEAD_DAYS} days from now.");
        query.outside("at", detail);
    }
    query.finish()?;
    let view = app::film::get(&ctx, actor.tenant(), id, at).await?;
    Ok(Reply::plain(wire::document(&view)?).unless_known(request.headers()))
}

/// Lists what happened to a surface, oldest first.
///
/// Its registration and changes, observations, readings, plans and what became of them, completions and corrections,
/// each when it happened.
#[utoipa::path(get, path = "/v1/surfaces/{surface_id}/history", tag = "films",
    params(
        ("surface_id" = String, Path, description = "The surface.", max_length = 40, pattern = "^srf_[0-9a-f-]{36}$"),
        ("from" = Option<String>, Query, format = DateTime, description = "Only what happened at or after this moment (RFC 3339).", max_length = 40),
        ("to" = Option<String>, Query, format = DateTime, description = "Only what happened before this moment (RFC 3339).", max_length = 40),
    ),
    responses((status = 200, description = "A page of the history.", body = HistoryPage)),
)]
pub(crate) async fn history(
    actor: Actor<SurfacesRead>,
    ctx: web::Data<Context>,
    Id(id): Id<SurfaceId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    let filter = HistoryFilter {
        from: query.moment("from"),
        to: query.moment("to"),
    };
    query.finish()?;
    let (surface, from, to) = (
        id.to_string(),
        filter.from.map(time::write),
        filter.to.map(time::write),
    );
    let list = List::new("listSurfaceHistory")
        .filter("surface_id", Some(&surface))
        .filter("from", from.as_deref())
        .filter("to", to.as_deref());
    let page = (asked.after(&ctx, &actor, &list)?, asked.limit());
    let rows = app::history::list(&ctx, actor.tenant(), id, filter, page).await?;
    let rows = rows.try_map(|row| wire::document(&HistoryEntryView::new(&row)?))?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}

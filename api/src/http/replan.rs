//! Schedules that are being done are planned again, over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use domain::id::ScheduleId;

use super::route::Id;
use crate::{
    app::{self, schedule::replan as use_case},
    auth::{
        Actor,
        scope::{PlansRead, PlansWrite},
    },
    body::Strict,
    context::Context,
    cursor::List,
    page::{Page, PageRequest},
    problem::Problem,
    query::Query,
    wire::{
        self,
        schedule::replan::{ReplanRequest, ReplanView, ScheduleMovePage, ScheduleRevisionPage},
    },
    write::{self, KeyRule, Reply},
};

/// Plans the rest of a schedule again that is being done, and moves as little as may be.
///
/// What has begun by `as_of` stands as it was planned, reported or told; nothing else begins before. Of the rest as few tasks as
/// possible move, by as few minutes in all as can be found, and only then the schedule's objective counts. Tasks keep their numbers.
/// What moved is kept as a revision, which lists, tables and the calendar of the chosen choice then show, and is told to subscribers
/// (`wearcourse.schedule.moved.v1`). Tasks of plans that were withdrawn or replaced fall away. Where it cannot be done, nothing is
/// kept and the answer says why. The search is synchronous: at most `schedules` tries, and never more than 2,000,000 placed steps.
#[utoipa::path(post, path = "/v1/schedules/{schedule_id}/replan", tag = "schedules", request_body = ReplanRequest,
    params(("schedule_id" = String, Path, description = "The schedule.", max_length = 40, pattern = "^sch_[0-9a-f-]{36}$")),
    responses((status = 200, description = "What moved, or why it cannot be done.", body = ReplanView)),
)]
pub(crate) async fn replan(
    actor: Actor<PlansWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<ScheduleId>,
    body: Strict<ReplanRequest>,
) -> Result<HttpResponse, Problem> {
    // What is wrong now may have been right when the same request came first: that answer is given again.
    let prepared = use_case::prepare(&ctx, actor.tenant(), id, &body.value).await;
    write::run(&ctx, &actor, &body.raw, KeyRule::Required, async |tx| {
        let prepared = prepared.as_ref().map_err(Problem::clone)?;
        let view = use_case::keep(&ctx, tx, prepared).await?;
        Ok(Reply::found(view.version, wire::document(&view)?))
    })
    .await
}

/// Lists the revisions of a schedule, oldest first: what each was told of, in figures, and the first of what moved.
#[utoipa::path(get, path = "/v1/schedules/{schedule_id}/revisions", tag = "schedules",
    params(("schedule_id" = String, Path, description = "The schedule.", max_length = 40, pattern = "^sch_[0-9a-f-]{36}$")),
    responses((status = 200, description = "A page of revisions.", body = ScheduleRevisionPage)),
)]
pub(crate) async fn revisions(
    actor: Actor<PlansRead>,
    ctx: web::Data<Context>,
    Id(id): Id<ScheduleId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    query.finish()?;
    let list = List::new("listScheduleRevisions").filter("schedule_id", Some(&id.to_string()));
    let after = asked.after(&ctx, &actor, &list)?.unwrap_or(0);
    let rows = use_case::revisions(&ctx, actor.tenant(), id, (after, asked.limit())).await?;
    let rows = rows.try_map(|row| Ok::<_, Problem>(row.1))?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}

/// Lists what moved in a revision of a schedule, in the order of the new times: which task, from when to when, and why.
#[utoipa::path(get, path = "/v1/schedules/{schedule_id}/moves", tag = "schedules",
    params(
        ("schedule_id" = String, Path, description = "The schedule.", max_length = 40, pattern = "^sch_[0-9a-f-]{36}$"),
        ("revision" = Option<u32>, Query, description = "The number of the revision; the last one if left out.", minimum = 1, maximum = 500),
    ),
    responses((status = 200, description = "A page of what moved.", body = ScheduleMovePage)),
)]
pub(crate) async fn moves(
    actor: Actor<PlansRead>,
    ctx: web::Data<Context>,
    Id(id): Id<ScheduleId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    let named = query.integer("revision", 1..=500, u32::MAX);
    query.finish()?;
    let named = (named < u32::MAX).then(|| i64::from(named));
    let (number, moves) = use_case::moves(&ctx, actor.tenant(), id, named).await?;
    let list = List::new("listScheduleMoves")
        .filter("schedule_id", Some(&id.to_string()))
        .filter("revision", Some(&number.to_string()));
    let after = asked.after(&ctx, &actor, &list)?.unwrap_or(0);
    let rows = app::schedule::page(moves, after, asked.limit());
    let rows = rows.try_map(|told| wire::document(&told))?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}

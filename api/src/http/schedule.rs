//! Schedules, over HTTP.

use actix_web::{
    HttpRequest, HttpResponse,
    http::header::{self, HeaderValue},
    web,
};
use domain::id::{ScheduleId, SiteId};

use super::route::{Id, no_query};
use crate::{
    app::{
        self,
        schedule::{JobFilter, JobStatus, ScheduleRow},
    },
    auth::{
        Actor,
        scope::{PlansRead, PlansWrite},
    },
    body::{Bare, Strict},
    context::Context,
    cursor::List,
    page::{Page, PageRequest},
    problem::Problem,
    query::Query,
    wire::{
        self,
        schedule::{
            ChooseRequest, ScheduleRequest,
            told::{SchedulePage, ScheduleView, TaskPage},
        },
    },
    write::{self, KeyRule, Reply},
};

/// How long a caller should wait before he looks again, in seconds.
const LOOK_AGAIN: HeaderValue = HeaderValue::from_static("1");

const STATUSES: &[(&str, JobStatus)] = &[
    ("queued", JobStatus::Queued),
    ("running", JobStatus::Running),
    ("succeeded", JobStatus::Succeeded),
    ("failed", JobStatus::Failed),
    ("cancelled", JobStatus::Cancelled),
];

/// Asks for a schedule of plans of one site, which is made in the background.
///
/// A plan's work is cut into its bays and put into the hours in which its floor may be closed and its crew is there, so that
/// each window ends with a floor that people may walk on. It answers at once; `Location` names the schedule. Read it until it is
/// `succeeded`: it then holds one to three choices, or says why it cannot be done. The same request gives the same choices.
/// At most 3 schedules of a tenant are queued or running at a time; 5,000 tasks and waits can be scheduled together.
#[utoipa::path(post, path = "/v1/schedules", tag = "schedules", request_body = ScheduleRequest, responses(
    (status = 202, description = "The schedule.", body = ScheduleView, headers(
        ("Retry-After" = String, description = "Seconds after which to look again."),
    )),
))]
pub(crate) async fn ask(
    actor: Actor<PlansWrite>,
    ctx: web::Data<Context>,
    body: Strict<ScheduleRequest>,
) -> Result<HttpResponse, Problem> {
    let mut answer = write::run(&ctx, &actor, &body.raw, KeyRule::Required, async |tx| {
        let row = app::schedule::ask(&ctx, tx, &body.value).await?;
        let path = format!("/v1/schedules/{}", row.id);
        Ok(Reply::accepted(path, row.version, document(&row, true)?))
    })
    .await?;
    ctx.schedules.notify_one();
    answer.headers_mut().insert(header::RETRY_AFTER, LOOK_AGAIN);
    Ok(answer)
}

/// Lists schedules, oldest first, without what came of them.
#[utoipa::path(get, path = "/v1/schedules", tag = "schedules",
    params(
        ("site_id" = Option<String>, Query, description = "Only schedules of this site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("status" = Option<String>, Query, description = "Only schedules that stand here.", max_length = 10, pattern = "^(queued|running|succeeded|failed|cancelled)$"),
    ),
    responses((status = 200, description = "A page of schedules.", body = SchedulePage)),
)]
pub(crate) async fn list(
    actor: Actor<PlansRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    let status = query.one_of("status", STATUSES);
    let site_id = query.parsed::<SiteId>("site_id", "Must be an id that starts with `sit_`");
    query.finish()?;
    let list = List::new("listSchedules")
        .filter("site_id", site_id.map(|id| id.to_string()).as_deref())
        .filter("status", status.map(JobStatus::as_str));
    let after = asked.after(&ctx, &actor, &list)?;
    let filter = JobFilter { site_id, status };
    let rows = app::schedule::list(&ctx, actor.tenant(), &filter, after, asked.limit()).await?;
    let rows = rows.try_map(|row| document(&row, false))?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}

/// Reads one schedule: where it stands, how far the search is, and what came of it.
///
/// While it is queued or running, `Retry-After` says when to look again. Bounds are proven and weak where windows cut the work:
/// "at most 8 % above" never means that 8 % can be gained. `by_deadline` is simulated: work and waits vary, the order is kept.
#[utoipa::path(get, path = "/v1/schedules/{schedule_id}", tag = "schedules",
    params(("schedule_id" = String, Path, description = "The schedule.", max_length = 40, pattern = "^sch_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The schedule.", body = ScheduleView)),
)]
pub(crate) async fn get(
    actor: Actor<PlansRead>,
    ctx: web::Data<Context>,
    Id(id): Id<ScheduleId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let row = app::schedule::get(&ctx, actor.tenant(), id).await?;
    let reply = Reply::found(row.version, document(&row, true)?);
    let is_finished = row.finished_at.is_some();
    // How far a search is makes no new version.
    let none = header::HeaderMap::new();
    let known = if is_finished {
        request.headers()
    } else {
        &none
    };
    let mut answer = reply.unless_known(known);
    if !is_finished {
        answer.headers_mut().insert(header::RETRY_AFTER, LOOK_AGAIN);
    }
    Ok(answer)
}

/// Cancels a schedule that is queued or running, however far it is; one that has come to its end stays as it is.
#[utoipa::path(post, path = "/v1/schedules/{schedule_id}/cancel", tag = "schedules",
    params(("schedule_id" = String, Path, description = "The schedule.", max_length = 40, pattern = "^sch_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The schedule as it is now.", body = ScheduleView)),
)]
pub(crate) async fn cancel(
    actor: Actor<PlansWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<ScheduleId>,
    Bare { raw }: Bare,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &raw, KeyRule::Optional, async |tx| {
        let row = app::schedule::cancel(&ctx, tx, id).await?;
        Ok(Reply::found(row.version, document(&row, true)?))
    })
    .await
}

/// Says which choice is to be done. Another may be chosen later: what is read without naming a choice then follows it.
#[utoipa::path(post, path = "/v1/schedules/{schedule_id}/choose", tag = "schedules", request_body = ChooseRequest,
    params(("schedule_id" = String, Path, description = "The schedule.", max_length = 40, pattern = "^sch_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The schedule as it is now.", body = ScheduleView)),
)]
pub(crate) async fn choose(
    actor: Actor<PlansWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<ScheduleId>,
    body: Strict<ChooseRequest>,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &body.raw, KeyRule::Required, async |tx| {
        let row = app::schedule::choose(tx, id, &body.value).await?;
        Ok(Reply::found(row.version, document(&row, true)?))
    })
    .await
}

/// Lists the tasks of a choice in the order of time: who does what in which bay of which floor, from when to when.
#[utoipa::path(get, path = "/v1/schedules/{schedule_id}/tasks", tag = "schedules",
    params(
        ("schedule_id" = String, Path, description = "The schedule.", max_length = 40, pattern = "^sch_[0-9a-f-]{36}$"),
        ("choice" = Option<u32>, Query, description = "The number of the choice; the chosen one if left out, or else the first.", minimum = 1, maximum = 3),
    ),
    responses((status = 200, description = "A page of tasks.", body = TaskPage)),
)]
pub(crate) async fn tasks(
    actor: Actor<PlansRead>,
    ctx: web::Data<Context>,
    Id(id): Id<ScheduleId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    let choice = choice(&mut query);
    query.finish()?;
    let (_, number, tasks) = app::schedule::tasks(&ctx, actor.tenant(), id, choice).await?;
    let list = List::new("listScheduleTasks")
        .filter("schedule_id", Some(&id.to_string()))
        .filter("choice", Some(&number.to_string()));
    let after = asked.after(&ctx, &actor, &list)?.unwrap_or(0);
    let rows = app::schedule::page(tasks, after, asked.limit());
    let rows = rows.try_map(|task| wire::document(&task))?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}

/// The choice that a query names.
pub(super) fn choice(query: &mut Query) -> Option<i64> {
    let named = query.integer("choice", 1..=3, u32::MAX);
    (named < u32::MAX).then(|| i64::from(named))
}

fn document(row: &ScheduleRow, whole: bool) -> Result<String, Problem> {
    wire::document(&ScheduleView::new(row, whole)?)
}

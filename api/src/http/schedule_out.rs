//! Schedules for calendars, spreadsheets, walls and crews, over HTTP.

use actix_web::{HttpRequest, HttpResponse, http::header, web};
use domain::id::{ScheduleId, SurfaceId};

use super::{paper, route::Id, schedule::choice};
use crate::{
    app::{self, schedule::Shown},
    audit,
    auth::{Actor, scope::PlansRead},
    body::Fault,
    context::Context,
    problem::{Code, Problem},
    query::Query,
    wire::{
        csv,
        report::SVG,
        schedule::{
            calendar::{self, Calendar},
            gantt, night,
            table::table,
            visit::{Visit, visits},
        },
    },
};

/// So many tasks are printed on one sheet at most.
const MAX_PRINTED: usize = 1_000;

/// Lists the tasks of a choice as a table (RFC 4180), with moments in UTC and by the site's clock.
#[utoipa::path(get, path = "/v1/schedules/{schedule_id}/table", tag = "schedules",
    params(
        ("schedule_id" = String, Path, description = "The schedule.", max_length = 40, pattern = "^sch_[0-9a-f-]{36}$"),
        ("choice" = Option<u32>, Query, description = "The number of the choice; the chosen one if left out, or else the first.", minimum = 1, maximum = 3),
    ),
    responses((status = 200, description = "The table.", body = String, content_type = "text/csv")),
)]
pub(crate) async fn as_table(
    actor: Actor<PlansRead>,
    ctx: web::Data<Context>,
    Id(id): Id<ScheduleId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let choice = choice(&mut query);
    query.finish()?;
    let shown = app::schedule::shown(&ctx, actor.tenant(), id, choice).await?;
    audit::exported(&ctx, &actor, request.path()).await?;
    let named = format!("attachment; filename=\"{id}-{}.csv\"", shown.number);
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, csv::CONTENT_TYPE))
        .insert_header((header::CONTENT_DISPOSITION, named))
        .body(table(&shown.tasks, shown.zone)?))
}

/// Gives the visits of a choice as a calendar (RFC 5545), in UTC: those of one crew or of one surface, or all.
///
/// A visit keeps its `UID` when another choice is made, and its `SEQUENCE` goes up; one that the choice does not have any more
/// is `CANCELLED`. Before a choice is made all are `TENTATIVE`. Where the schedule was re-planned, the `SEQUENCE` goes up of what
/// moved or fell away alone. `DTSTAMP` is when the visit was last changed.
#[utoipa::path(get, path = "/v1/schedules/{schedule_id}/calendar", tag = "schedules",
    params(
        ("schedule_id" = String, Path, description = "The schedule.", max_length = 40, pattern = "^sch_[0-9a-f-]{36}$"),
        ("choice" = Option<u32>, Query, description = "The number of the choice; the chosen one if left out, or else the first.", minimum = 1, maximum = 3),
        ("crew" = Option<String>, Query, description = "Only visits of this crew, by its name.", max_length = 100),
        ("surface_id" = Option<String>, Query, description = "Only visits to this surface.", max_length = 40, pattern = "^srf_[0-9a-f-]{36}$"),
    ),
    responses((status = 200, description = "The calendar.", body = String, content_type = "text/calendar")),
)]
pub(crate) async fn as_calendar(
    actor: Actor<PlansRead>,
    ctx: web::Data<Context>,
    Id(id): Id<ScheduleId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let choice = choice(&mut query);
    let crew = query.text("crew", 100);
    let surface = query.parsed::<SurfaceId>("surface_id", "Must be an id that starts with `srf_`");
    query.finish()?;
    let surface = surface.map(|id| id.to_string());
    let shown = app::schedule::shown(&ctx, actor.tenant(), id, choice).await?;
    let is_chosen = shown.row.chosen == Some(shown.number);
    let is_asked = |visit: &Visit| {
        crew.as_ref().is_none_or(|crew| visit.crew == *crew)
            && surface.as_ref().is_none_or(|id| visit.surface_id == *id)
    };
    let mut booked = app::schedule::booked(&ctx, actor.tenant(), &shown).await?;
    booked.retain(|booked| (is_chosen || booked.is_on) && is_asked(&booked.visit));
    let name = match (
        &crew,
        booked
            .iter()
            .map(|booked| &booked.visit)
            .find(|visit| surface.as_ref() == Some(&visit.surface_id)),
    ) {
        (Some(crew), _) => format!("{crew}: floors of {}", shown.site),
        (None, Some(visit)) => format!("{}, {}", visit.surface, shown.site),
        (None, None) => format!("Floors of {}", shown.site),
    };
    let written = calendar::write(&Calendar {
        schedule: &id.to_string(),
        name,
        site: &shown.site,
        is_chosen,
        visits: booked,
    });
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, calendar::CONTENT_TYPE))
        .body(written))
}

/// Draws a choice: a row for each floor, a bar for each visit, and when each floor opens.
#[utoipa::path(get, path = "/v1/schedules/{schedule_id}/chart", tag = "schedules",
    params(
        ("schedule_id" = String, Path, description = "The schedule.", max_length = 40, pattern = "^sch_[0-9a-f-]{36}$"),
        ("choice" = Option<u32>, Query, description = "The number of the choice; the chosen one if left out, or else the first.", minimum = 1, maximum = 3),
    ),
    responses((status = 200, description = "The chart.", body = String, content_type = "image/svg+xml")),
)]
pub(crate) async fn as_chart(
    actor: Actor<PlansRead>,
    ctx: web::Data<Context>,
    Id(id): Id<ScheduleId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let choice = choice(&mut query);
    query.finish()?;
    let shown = app::schedule::shown(&ctx, actor.tenant(), id, choice).await?;
    let chart = gantt::chart(&shown.site, shown.zone, &visits(&shown.tasks));
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, SVG))
        .body(chart))
}

/// Shows what is done in a night or on a day, by crew: one page, for paper, or a PDF of it.
///
/// A day goes from 06:00 to 06:00 by the site's clock, so that a night belongs to the evening in which it begins.
#[utoipa::path(get, path = "/v1/schedules/{schedule_id}/sheet", tag = "schedules",
    params(
        ("schedule_id" = String, Path, description = "The schedule.", max_length = 40, pattern = "^sch_[0-9a-f-]{36}$"),
        ("choice" = Option<u32>, Query, description = "The number of the choice; the chosen one if left out, or else the first.", minimum = 1, maximum = 3),
        ("date" = Option<String>, Query, description = "The day; that of the first task if left out.", max_length = 10, format = Date),
        ("crew" = Option<String>, Query, description = "Only tasks of this crew, by its name.", max_length = 100),
        ("format" = Option<String>, Query, description = "`html` or `pdf` (A4, tagged), whatever `Accept` says.", max_length = 4, pattern = "^(html|pdf)$"),
    ),
    responses((status = 200, description = "The page, or the PDF.", content(
        (String = "text/html"),
        (String = "application/pdf"),
    ))),
)]
pub(crate) async fn as_sheet(
    actor: Actor<PlansRead>,
    ctx: web::Data<Context>,
    Id(id): Id<ScheduleId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let choice = choice(&mut query);
    let date = query.parsed("date", "Must be a date such as 2026-07-27");
    let crew = query.text("crew", 100);
    let format = paper::asked(&mut query);
    query.finish()?;
    let format = paper::settled(format, request.headers())?;
    let shown = app::schedule::shown(&ctx, actor.tenant(), id, choice).await?;
    let Shown {
        number,
        mut tasks,
        site,
        zone,
        ..
    } = shown;
    let first = tasks.first().map(|task| night::day_of(task, zone));
    let day = date.or(first).unwrap_or_default();
    // By all tasks: a floor on which work goes on when the day turns is open when all of it is done.
    let closed = visits(&tasks);
    tasks.retain(|task| {
        night::day_of(task, zone) == day && crew.as_ref().is_none_or(|crew| task.crew == *crew)
    });
    if format == paper::Form::Pdf && tasks.len() > MAX_PRINTED {
        let detail = format!("A PDF holds at most {MAX_PRINTED} tasks: ask for one `crew`.");
        let fault = Fault::parameter("crew", "too_many_rows", detail);
        return Err(Problem::with_faults(Code::ParameterOutOfRange, vec![fault]));
    }
    let about = (&*id.to_string(), number);
    let page = night::page((&site, zone, day), about, (&tasks, &closed));
    paper::answer(&ctx, &request, page, format, &id.to_string()).await
}

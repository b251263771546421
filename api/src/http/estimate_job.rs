//! Estimates that are made in the background, over HTTP.

use actix_web::{
    HttpRequest, HttpResponse,
    http::header::{self, HeaderValue},
    web,
};
use domain::id::{EstimateJobId, SiteId};
use futures_util::stream;

use super::route::{Id, no_query};
use crate::{
    app::{
        self,
        estimate_job::{EstimateJobRow, JobFilter, JobStatus},
    },
    audit,
    auth::{
        Actor,
        scope::{EstimatesRead, EstimatesWrite},
    },
    body::{Bare, MAX_BATCH, Strict},
    context::Context,
    cursor::List,
    page::{Page, PageRequest},
    problem::{Code, Problem},
    query::Query,
    wire::{
        self,
        estimate::EstimateRequest,
        estimate_job::{EstimateJobPage, EstimateJobView},
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

/// Asks for an estimate over up to 10,000 surfaces of one site, which is made in the background.
///
/// It answers at once with a job; `Location` names it. Read the job until it is `succeeded`, then its result. Each surface is
/// planned as of the moment of asking, with what is known of it when its turn comes. At most 3 jobs of a tenant are queued
/// or running at a time.
#[utoipa::path(post, path = "/v1/estimate-jobs", tag = "estimates", request_body = EstimateRequest, responses(
    (status = 202, description = "The job.", body = EstimateJobView, headers(
        ("Retry-After" = String, description = "Seconds after which to look again."),
    )),
))]
pub(crate) async fn ask(
    actor: Actor<EstimatesWrite>,
    ctx: web::Data<Context>,
    body: Strict<EstimateRequest, MAX_BATCH>,
) -> Result<HttpResponse, Problem> {
    let mut answer = write::run(&ctx, &actor, &body.raw, KeyRule::Required, async |tx| {
        let row = app::estimate_job::ask(&ctx, tx, &body.value).await?;
        let path = format!("/v1/estimate-jobs/{}", row.id);
        Ok(Reply::accepted(path, row.version, document(&row)?))
    })
    .await?;
    ctx.jobs.notify_one();
    answer.headers_mut().insert(header::RETRY_AFTER, LOOK_AGAIN);
    Ok(answer)
}

/// Lists jobs, oldest first.
#[utoipa::path(get, path = "/v1/estimate-jobs", tag = "estimates",
    params(
        ("site_id" = Option<String>, Query, description = "Only jobs over surfaces of this site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("status" = Option<String>, Query, description = "Only jobs that stand here.", max_length = 10, pattern = "^(queued|running|succeeded|failed|cancelled)$"),
    ),
    responses((status = 200, description = "A page of jobs.", body = EstimateJobPage)),
)]
pub(crate) async fn list(
    actor: Actor<EstimatesRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    let status = query.one_of("status", STATUSES);
    let site_id = query.parsed::<SiteId>("site_id", "Must be an id that starts with `sit_`");
    query.finish()?;
    let list = List::new("listEstimateJobs")
        .filter("site_id", site_id.map(|id| id.to_string()).as_deref())
        .filter("status", status.map(JobStatus::as_str));
    let after = asked.after(&ctx, &actor, &list)?;
    let filter = JobFilter { site_id, status };
    let rows = app::estimate_job::list(&ctx, actor.tenant(), &filter, after, asked.limit()).await?;
    let rows = rows.try_map(|row| document(&row))?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}

/// Reads one job: where it stands and how far it is.
///
/// While it is queued or running, `Retry-After` says when to look again. A job is kept for 7 days after its end.
#[utoipa::path(get, path = "/v1/estimate-jobs/{estimate_job_id}", tag = "estimates",
    params(("estimate_job_id" = String, Path, description = "The job.", max_length = 40, pattern = "^ejb_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The job.", body = EstimateJobView)),
)]
pub(crate) async fn get(
    actor: Actor<EstimatesRead>,
    ctx: web::Data<Context>,
    Id(id): Id<EstimateJobId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let row = app::estimate_job::get(&ctx, actor.tenant(), id).await?;
    let reply = Reply::found(row.version, document(&row)?);
    let mut answer = reply.unless_known(request.headers());
    if row.finished_at.is_none() {
        answer.headers_mut().insert(header::RETRY_AFTER, LOOK_AGAIN);
    }
    Ok(answer)
}

/// Cancels a job that is queued or running, however far it is.
///
/// What was made of it until then is not given. `status` says whether it was in time: a job that had come to its end stays
/// as it was.
#[utoipa::path(post, path = "/v1/estimate-jobs/{estimate_job_id}/cancel", tag = "estimates",
    params(("estimate_job_id" = String, Path, description = "The job.", max_length = 40, pattern = "^ejb_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The job as it is now.", body = EstimateJobView)),
)]
pub(crate) async fn cancel(
    actor: Actor<EstimatesWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<EstimateJobId>,
    Bare { raw }: Bare,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &raw, KeyRule::Optional, async |tx| {
        let row = app::estimate_job::cancel(&ctx, tx, id).await?;
        Ok(Reply::found(row.version, document(&row)?))
    })
    .await
}

/// Reads the result of a job: one JSON object a line (NDJSON), one line for each surface in the order of their ids, and a
/// last line with what all of them come to.
///
/// A surface has `"line": "surface"`, or `"line": "problem"` if it could not be planned: it is not there, or another has
/// replaced it. The last line has `"line": "total"`; a file without it was cut. The sums are those of the lines.
#[utoipa::path(get, path = "/v1/estimate-jobs/{estimate_job_id}/result", tag = "estimates",
    params(("estimate_job_id" = String, Path, description = "The job.", max_length = 40, pattern = "^ejb_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The lines, each a `ResultLine`.", content((String = "application/x-ndjson")))),
)]
pub(crate) async fn result(
    actor: Actor<EstimatesRead>,
    ctx: web::Data<Context>,
    Id(id): Id<EstimateJobId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let tenant = actor.tenant();
    let row = app::estimate_job::get(&ctx, tenant, id).await?;
    if row.status != JobStatus::Succeeded {
        let detail = format!(
            "The job is {}: only one that succeeded has a result.",
            row.status
        );
        let problem = Problem::new(Code::StateConflict, detail);
        return Err(match row.finished_at {
            None => problem.header(header::RETRY_AFTER, LOOK_AGAIN),
            Some(_) => problem,
        });
    }
    audit::exported(&ctx, &actor, request.path()).await?;
    // Part by part, so that no result is ever held whole.
    let parts = stream::try_unfold(1_i64, move |number| {
        let ctx = ctx.clone();
        async move {
            let lines = app::estimate_job::lines(&ctx, tenant, id, number).await;
            let lines = lines.map_err(|problem| std::io::Error::other(problem.to_string()))?;
            let next = number.saturating_add(1);
            Ok::<_, std::io::Error>(lines.map(|lines| (web::Bytes::from(lines), next)))
        }
    });
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, "application/x-ndjson"))
        .streaming(parts))
}

fn document(row: &EstimateJobRow) -> Result<String, Problem> {
    wire::document(&EstimateJobView::new(row)?)
}

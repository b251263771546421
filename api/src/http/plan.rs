//! Plans over HTTP.

use actix_web::{HttpRequest, HttpResponse, http::header, web};
use domain::{
    id::{ContractorId, PlanId},
    plan::Verdict,
    survey::Goal,
};

use super::route::{Id, no_query};
use crate::{
    app::{
        self,
        plan::{
            PlanFilter, PlanStatus,
            life::{self, PlanRow},
        },
    },
    auth::{
        Actor,
        scope::{PlansRead, PlansWrite},
    },
    body::{Bare, Strict},
    context::Context,
    cursor::List,
    etag::Expected,
    page::{Page, TurnParams, TurnRequest},
    problem::Problem,
    query::Query,
    wire::{
        self,
        plan::{
            PlanBriefView, PlanPage, PlanPreviewView, PlanRequest, PlanView, ReportingView,
            as_it_stands,
        },
    },
    write::{self, KeyRule, Reply},
};

/// Where a plan can stand, by the word of the wire.
const STATUSES: &[(&str, PlanStatus)] = &[
    ("proposed", PlanStatus::Proposed),
    ("accepted", PlanStatus::Accepted),
    ("superseded", PlanStatus::Superseded),
    ("withdrawn", PlanStatus::Withdrawn),
];

/// What a plan can say of its wish, by the word of the wire.
const VERDICTS: &[(&str, Verdict)] = &[
    ("allowed", Verdict::Allowed),
    ("allowed_with_warnings", Verdict::AllowedWithWarnings),
    ("needs_information", Verdict::NeedsInformation),
    ("refused", Verdict::Refused),
];

/// Makes a plan for one surface.
///
/// The answer hangs on the surface, the wish, the climate, the rate card of `planned_on`, the knowledge base and your own products,
/// the moment, the film by all that was told and done, what was not rinsed off, and what the site has left over; on nothing
/// else. A refusal, or a fact that is missing, is an answer too (201): read `verdict`.
#[utoipa::path(post, path = "/v1/plans", tag = "plans", request_body = PlanRequest, responses(
    (status = 201, description = "The plan, with the reason for each number.", body = PlanView),
))]
pub(crate) async fn propose(
    actor: Actor<PlansWrite>,
    ctx: web::Data<Context>,
    body: Strict<PlanRequest>,
) -> Result<HttpResponse, Problem> {
    let prepared = app::plan::prepare(&ctx, actor.tenant(), &body.value).await?;
    write::run(&ctx, &actor, &body.raw, KeyRule::Optional, async |tx| {
        let row = app::plan::propose(&ctx, tx, &body.value, prepared.as_ref()).await?;
        Ok(Reply::created(
            format!("/v1/plans/{}", row.id),
            row.version,
            row.document,
        ))
    })
    .await
}

/// Shows what a plan for one surface would say, and keeps nothing.
///
/// The request and the answer are those of `POST /v1/plans`, without the members of a record: `id`, `version`, `status` and
/// `created_at`. There is no event and nothing to cite. An `Idempotency-Key` changes nothing here, because nothing is
/// done that could be done twice.
#[utoipa::path(post, path = "/v1/plans/preview", tag = "plans", request_body = PlanRequest, responses(
    (status = 200, description = "What the plan would say, with the reason for each number.", body = PlanPreviewView),
))]
pub(crate) async fn preview(
    actor: Actor<PlansRead>,
    ctx: web::Data<Context>,
    body: Strict<PlanRequest>,
) -> Result<HttpResponse, Problem> {
    Query::parse(&body.raw.query).finish()?;
    let view = app::plan::preview(&ctx, actor.tenant(), &body.value).await?;
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, "application/json"))
        .body(wire::document(&view)?))
}

/// Lists plans in short, oldest first; each is read whole at `GET /v1/plans/{plan_id}`.
#[utoipa::path(get, path = "/v1/plans", tag = "plans",
    params(
        ("site_id" = Option<String>, Query, description = "Only plans of this site.", max_length = 40, pattern = "^sit_[0-9a-f-]{36}$"),
        ("surface_id" = Option<String>, Query, description = "Only plans of this surface.", max_length = 40, pattern = "^srf_[0-9a-f-]{36}$"),
        ("status" = Option<String>, Query, description = "Only plans that stand here: `proposed`, `accepted`, `superseded` or `withdrawn`.", max_length = 20, pattern = "^(proposed|accepted|superseded|withdrawn)$"),
        ("open" = Option<bool>, Query, description = "Whether to list only plans that are accepted and of which completions have not yet done all (`share_left` above 0); `false` if left out."),
        ("goal" = Option<String>, Query, description = "Only plans for this goal: `clean`, `maintain`, `restore`, `protect` or `make_safe`.", max_length = 20, pattern = "^(clean|maintain|restore|protect|make_safe)$"),
        ("verdict" = Option<String>, Query, description = "Only plans that say this of the wish: `allowed`, `allowed_with_warnings`, `needs_information` or `refused`.", max_length = 30, pattern = "^(allowed|allowed_with_warnings|needs_information|refused)$"),
        ("process" = Option<String>, Query, description = "Only plans whose work is this process.", min_length = 1, max_length = 60),
        ("planned_on" = Option<String>, Query, format = Date, description = "Only plans whose work begins on this day of the site, such as 2026-11-28.", max_length = 10),
        TurnParams,
    ),
    responses((status = 200, description = "A page of plans.", body = PlanPage)),
)]
pub(crate) async fn list(
    actor: Actor<PlansRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = TurnRequest::take(&mut query);
    let filter = take(&mut query);
    query.finish()?;
    let list = asked.of(list_of(&filter));
    let (turn, asked) = (asked.turn(&ctx, &actor, &list)?, asked.page);
    let rows = app::plan::list(&ctx, actor.tenant(), &filter, turn, asked.limit()).await?;
    let rows = rows.try_map(|brief| wire::document(&PlanBriefView::new(brief, ctx.knowledge)))?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}

/// Takes the filters of the list.
fn take(query: &mut Query) -> PlanFilter {
    let goals: Vec<_> = Goal::ALL.iter().map(|goal| (goal.word(), *goal)).collect();
    PlanFilter {
        site_id: query.parsed("site_id", "Must be an id that starts with `sit_`"),
        surface_id: query.parsed("surface_id", "Must be an id that starts with `srf_`"),
        status: query.one_of("status", STATUSES),
        verdict: query.one_of("verdict", VERDICTS),
        goal: query.one_of("goal", &goals),
        process: query.text("process", 60),
        planned_on: query.parsed("planned_on", "Must be a day such as 2026-11-28."),
        is_open: query.flag("open"),
    }
}

/// The list that these filters make; a cursor is good for one.
fn list_of(asked: &PlanFilter) -> List {
    let filters = [
        ("site_id", asked.site_id.map(|id| id.to_string())),
        ("surface_id", asked.surface_id.map(|id| id.to_string())),
        ("status", asked.status.map(|status| status.to_string())),
        (
            "verdict",
            asked.verdict.map(|verdict| verdict.word().to_owned()),
        ),
        ("goal", asked.goal.map(|goal| goal.word().to_owned())),
        ("process", asked.process.clone()),
        ("planned_on", asked.planned_on.map(|day| day.to_string())),
        ("open", Some(asked.is_open.to_string())),
    ];
    let list = List::new("listPlans");
    filters.iter().fold(list, |list, (name, value)| {
        list.filter(name, value.as_deref())
    })
}

/// Reads one plan: the bytes that were answered when it was made, with its version and status of now.
#[utoipa::path(get, path = "/v1/plans/{plan_id}", tag = "plans",
    params(("plan_id" = String, Path, description = "The plan.", max_length = 40, pattern = "^pln_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The plan.", body = PlanView)),
)]
pub(crate) async fn get(
    actor: Actor<PlansRead>,
    ctx: web::Data<Context>,
    Id(id): Id<PlanId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let (version, document) = app::plan::get(&ctx, actor.tenant(), id).await?;
    Ok(Reply::found(version, document).unless_known(request.headers()))
}

/// Accepts a plan: it is to be done, and what it costs is committed.
///
/// Only a plan that is `proposed` and holds work can be accepted. An accepted plan of the same surface for the same
/// goal becomes `superseded`.
#[utoipa::path(post, path = "/v1/plans/{plan_id}/accept", tag = "plans",
    params(("plan_id" = String, Path, description = "The plan.", max_length = 40, pattern = "^pln_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The plan as it is now.", body = PlanView)),
)]
pub(crate) async fn accept(
    actor: Actor<PlansWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<PlanId>,
    Bare { raw }: Bare,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &raw, KeyRule::Optional, async |tx| {
        let plan = life::hold(tx, id).await?;
        Expected::of(&raw.headers)?.check(plan.version)?;
        found(&life::accept(&ctx, tx, plan).await?)
    })
    .await
}

/// Withdraws a plan: it is not to be done.
///
/// Only a plan that is `proposed` or `accepted` can be withdrawn. Completions that cite it stay as they are.
#[utoipa::path(post, path = "/v1/plans/{plan_id}/withdraw", tag = "plans",
    params(("plan_id" = String, Path, description = "The plan.", max_length = 40, pattern = "^pln_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The plan as it is now.", body = PlanView)),
)]
pub(crate) async fn withdraw(
    actor: Actor<PlansWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<PlanId>,
    Bare { raw }: Bare,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &raw, KeyRule::Optional, async |tx| {
        let plan = life::hold(tx, id).await?;
        Expected::of(&raw.headers)?.check(plan.version)?;
        found(&life::withdraw(&ctx, tx, plan).await?)
    })
    .await
}

/// Tells where and how a contractor's own system reports the work of a plan.
///
/// The addresses are those of the contractors' sources; the example is an event for this plan in the
/// form in which it is taken. **Sent as it stands, it is recorded** as work that was done, with the plan's own figures: put in
/// what was really done, or send it with `?dry_run=true`.
#[utoipa::path(get, path = "/v1/plans/{plan_id}/reporting", tag = "plans",
    params(
        ("plan_id" = String, Path, description = "The plan.", max_length = 40, pattern = "^pln_[0-9a-f-]{36}$"),
        ("contractor_id" = Option<String>, Query, description = "Only addresses of this contractor.", max_length = 40, pattern = "^con_[0-9a-f-]{36}$"),
    ),
    responses((status = 200, description = "The addresses, and an example.", body = ReportingView)),
)]
pub(crate) async fn reporting(
    actor: Actor<PlansRead>,
    ctx: web::Data<Context>,
    Id(id): Id<PlanId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let contractor =
        query.parsed::<ContractorId>("contractor_id", "Must be the id of a contractor.");
    query.finish()?;
    let contractor = actor.work_of(contractor);
    let view = app::plan::reporting(&ctx, actor.tenant(), (id, contractor)).await?;
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, "application/json"))
        .body(wire::document(&view)?))
}

fn found(plan: &PlanRow) -> Result<Reply, Problem> {
    Ok(Reply::found(plan.version, as_it_stands(plan)?))
}

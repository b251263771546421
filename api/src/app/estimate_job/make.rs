//! Makes the estimates that were asked for: one at a time, part by part, each part planned on a thread of its own.
//!
//! What is pooled does not grow with the surfaces, and the lines of a part are kept as soon as they are made. Whoever takes
//! a job over after a crash begins anew: plans are made as of the moment of asking, so the lines are the same.

use std::{collections::BTreeMap, sync::Arc};

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use domain::{
    card::RateCard,
    estimate::pool::{Planned, Pool},
    film::State,
    id::{SurfaceId, TenantId},
    quantity::Area,
    stock::{Stock, StockItem},
    survey::Climate,
};
use infra::{
    row::{EstimateJobRow, RateCardRow, SurfaceRow},
    store::{DueJob, Lease},
};

use crate::{
    app::{
        estimate::Wishes,
        film, learning, plan, product,
        site::{self, Site},
        stock_item,
        surface::succession::gone_by,
        unrinsed::Unrinsed,
    },
    body::Faults,
    context::Context,
    problem::{Code, Problem},
    wire::{
        self,
        climate::ClimateRequest,
        estimate::EstimateRequest,
        estimate_job::{JobProblem, ProblemLine, ResultLine, SurfaceLine, TotalLine},
        plan::RateCardRef,
    },
};

/// For how long a part may take before the worker is taken for dead.
const LEASE: TimeDelta = TimeDelta::seconds(60);
/// How often a job is begun before it is given up.
const MAX_ATTEMPTS: i64 = 3;
/// For how long a job is kept after its end.
const KEPT: TimeDelta = TimeDelta::days(7);

/// Makes the oldest estimate that nobody works on; false if there is none.
///
/// # Errors
/// Those of the store before a job was taken. What goes wrong with a job is kept with the job.
pub(crate) async fn next(ctx: &Arc<Context>, owner: &str) -> Result<bool, Problem> {
    let now = ctx.clock.now();
    for DueJob { tenant, row } in ctx.store.due_estimate_jobs(now).await? {
        let tx = ctx.store.begin(tenant).await?;
        let lease = lease(owner, now);
        if !tx.estimate_jobs().claim(&row, lease, now).await? {
            continue;
        }
        tx.commit().await?;
        let made = if row.n_attempts < MAX_ATTEMPTS {
            make(ctx, tenant, &row, owner).await
        } else {
            let detail = "It was begun three times and never came to its end: ask for it again, over fewer surfaces.";
            Err(Problem::new(Code::Internal, detail))
        };
        if let Err(problem) = made {
            give_up(ctx, tenant, &row, owner, &problem).await?;
        }
        return Ok(true);
    }
    Ok(false)
}

/// Forgets jobs that came to their end a week ago.
///
/// # Errors
/// Those of the store.
pub(crate) async fn sweep(ctx: &Context) -> Result<(), Problem> {
    let n_swept = ctx
        .store
        .sweep_estimate_jobs(ctx.clock.now() - KEPT)
        .await?;
    if n_swept > 0 {
        tracing::info!(n_swept, "old estimate jobs are forgotten");
    }
    Ok(())
}

fn lease(owner: &str, now: DateTime<Utc>) -> Lease<'_> {
    let until = now + LEASE;
    Lease { owner, until }
}

/// Says in the job why there is no result, unless it is worth another try: then its lease runs out.
async fn give_up(
    ctx: &Context,
    tenant: TenantId,
    row: &EstimateJobRow,
    owner: &str,
    problem: &Problem,
) -> Result<(), Problem> {
    tracing::warn!(job = %row.id, %problem, "an estimate job came to nothing");
    if problem.may_pass() {
        return Ok(());
    }
    let told = wire::document(&JobProblem::from(problem))?;
    let tx = ctx.store.begin(tenant).await?;
    let jobs = tx.estimate_jobs();
    jobs.fail(row.id, owner, &told, ctx.clock.now()).await?;
    Ok(tx.commit().await?)
}

/// What all surfaces of a job are planned with.
struct Terms {
    site: Site,
    card_row: RateCardRow,
    card: RateCard,
    wishes: Wishes,
    climate: Climate,
    climate_assumed: bool,
    /// What is left over at the site as the job begins.
    left_over: Vec<StockItem>,
    planned_on: NaiveDate,
    at: DateTime<Utc>,
}

impl Terms {
    async fn load(ctx: &Context, tenant: TenantId, row: &EstimateJobRow) -> Result<Self, Problem> {
        let request: EstimateRequest = wire::stored(&row.request)?;
        let tx = ctx.store.read(tenant).await?;
        let own = product::own(&tx).await?;
        let site = site::load(&tx, row.site_id, own).await?;
        let site = site.ok_or_else(Problem::not_found)?;
        let mut faults = Faults::new();
        let wishes = (&request.wish, &request.wishes[..]);
        let wishes = Wishes::read(site.products(ctx), wishes, &mut faults);
        faults.finish()?;
        let today = site::day_of(&site.row, row.created_at);
        let planned_on = request.planned_on.unwrap_or(today);
        let (card_row, mut card) = site::card_on(&tx, &site.row, planned_on).await?;
        learning::onto(ctx, &tx, &site, row.created_at, &mut card).await?;
        let told = request.climate.as_ref().map(ClimateRequest::climate);
        Ok(Self {
            climate: told.unwrap_or(site.climate),
            climate_assumed: told.is_none() && site.climate_assumed,
            left_over: stock_item::items(&tx, site.row.id).await?,
            planned_on,
            site,
            card_row,
            card,
            wishes,
            at: row.created_at,
        })
    }
}

/// The surfaces of a part with what is known of them.
struct Part {
    ids: Vec<SurfaceId>,
    floors: BTreeMap<SurfaceId, SurfaceRow>,
    states: BTreeMap<SurfaceId, State>,
    left: Unrinsed,
}

/// What the surfaces come to so far.
#[derive(Default)]
struct Sum {
    pool: Pool,
    area: Area,
    n_planned: i64,
    n_problems: i64,
}

async fn make(
    ctx: &Arc<Context>,
    tenant: TenantId,
    row: &EstimateJobRow,
    owner: &str,
) -> Result<(), Problem> {
    let terms = Arc::new(Terms::load(ctx, tenant, row).await?);
    let mut sum = Sum::default();
    let mut number = 1_i64;
    while let Some(part) = load(ctx, tenant, row, &terms, number).await? {
        let (on, by) = (Arc::clone(ctx), Arc::clone(&terms));
        let planned = tokio::task::spawn_blocking(move || {
            let lines = lines(&on, &by, &part, &mut sum);
            lines.map(|lines| (lines, sum))
        });
        let planned = planned.await.map_err(|error| Problem::internal(&error))?;
        let (lines, grown) = planned?;
        sum = grown;
        let n_done = sum.n_planned.saturating_add(sum.n_problems);
        let tx = ctx.store.begin(tenant).await?;
        let lease = lease(owner, ctx.clock.now());
        let jobs = tx.estimate_jobs();
        if !jobs.keep(row.id, lease, n_done, (number, lines)).await? {
            tracing::info!(job = %row.id, "an estimate job was cancelled or is another's");
            return Ok(());
        }
        tx.commit().await?;
        number = number.saturating_add(1);
    }
    let total = total(ctx, &terms, row, sum)?;
    let tx = ctx.store.begin(tenant).await?;
    let (jobs, now) = (tx.estimate_jobs(), ctx.clock.now());
    jobs.succeed(row.id, owner, (number, total), now).await?;
    Ok(tx.commit().await?)
}

/// A part of the job with all that its plans need; `None` behind the last.
async fn load(
    ctx: &Context,
    tenant: TenantId,
    row: &EstimateJobRow,
    terms: &Terms,
    number: i64,
) -> Result<Option<Part>, Problem> {
    let tx = ctx.store.read(tenant).await?;
    let Some(ids) = tx.estimate_jobs().surfaces(row.id, number).await? else {
        return Ok(None);
    };
    let mut floors = tx.surfaces().get_many(&ids).await?;
    floors.retain(|floor| floor.site_id == row.site_id);
    let states = film::states(ctx, &tx, &floors, terms.at).await?;
    let left = Unrinsed::load(ctx, &tx, &floors, terms.at).await?;
    Ok(Some(Part {
        ids,
        floors: floors.into_iter().map(|floor| (floor.id, floor)).collect(),
        states,
        left,
    }))
}

/// The lines of a part, one a surface; adds its plans to the sum.
fn lines(ctx: &Context, terms: &Terms, part: &Part, sum: &mut Sum) -> Result<String, Problem> {
    let mut lines = String::new();
    for id in &part.ids {
        let line = match line(ctx, terms, part, *id, sum) {
            Ok(line) => {
                sum.n_planned = sum.n_planned.saturating_add(1);
                ResultLine::Surface(line)
            }
            Err(problem) => {
                sum.n_problems = sum.n_problems.saturating_add(1);
                ResultLine::Problem(ProblemLine {
                    surface_id: id.to_string(),
                    problem,
                })
            }
        };
        lines.push_str(&wire::document(&line)?);
        lines.push('\n');
    }
    Ok(lines)
}

fn line(
    ctx: &Context,
    terms: &Terms,
    part: &Part,
    id: SurfaceId,
    sum: &mut Sum,
) -> Result<SurfaceLine, JobProblem> {
    let absent = || JobProblem::new(Code::NotFound, "There is no such surface at this site.");
    let floor = part.floors.get(&id).ok_or_else(absent)?;
    let state = part.states.get(&id).ok_or_else(absent)?;
    let today = site::day_of(&terms.site.row, terms.at);
    let told = |problem: Problem| JobProblem::from(&problem);
    if let Some(gone) = gone_by(floor, today).map_err(told)? {
        return Err(JobProblem::new(Code::StateConflict, gone.to_string()));
    }
    let (lies_on_it, wish) = ((floor, state, &part.left), terms.wishes.of(&floor.material));
    let air = (&terms.climate, terms.climate_assumed);
    // What is left over goes once into what they need together.
    let card = (&terms.card, Stock::NONE);
    let (site, answers) = (&terms.site, plan::Answers::LeftOut);
    let plan = plan::draft(ctx, lies_on_it, wish, air, card, site, answers).map_err(told)?;
    sum.pool.add(Planned {
        area: floor.area,
        plan: &plan,
    });
    sum.area = sum.area.plus(floor.area);
    Ok(SurfaceLine::new(id, floor.area, &plan))
}

/// The last line.
fn total(ctx: &Context, terms: &Terms, row: &EstimateJobRow, sum: Sum) -> Result<String, Problem> {
    let stock = Stock {
        items: &terms.left_over,
        on: terms.planned_on,
    };
    let products = terms.site.products(ctx);
    let estimate = sum.pool.estimate(products, &terms.card, stock);
    let estimate = estimate.map_err(|error| Problem::internal(&error))?;
    let lines = estimate.cost.lines.iter();
    wire::money::check_counted("#/site_id", lines.map(|line| line.amount.amount))?;
    let line = TotalLine {
        job_id: row.id.to_string(),
        site_id: row.site_id.to_string(),
        knowledge_version: ctx.knowledge.version.clone(),
        rate_card: RateCardRef::new(&terms.card_row, &terms.card),
        n_surfaces: sum.n_planned.saturating_add(sum.n_problems),
        n_planned: sum.n_planned,
        n_problems: sum.n_problems,
        area_m2: wire::number::square_metres(sum.area),
        pooled: (&estimate).into(),
    };
    let mut line = wire::document(&ResultLine::Total(Box::new(line)))?;
    line.push('\n');
    Ok(line)
}

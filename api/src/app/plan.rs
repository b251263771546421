//! Making and reading plans.

pub(crate) mod life;
mod reporting;

pub(crate) use reporting::reporting;

use domain::{
    card::RateCard,
    film::State,
    id::{EventId, PlanId, SurfaceId, TenantId},
    knowledge::{KnowledgeBase, Products},
    plan::{DraftPlanError, Plan, PlanInput, draft_plan, lead_on},
    record::ledger,
    stock::Stock,
    survey::{Climate, Goal, Survey, Wish},
};
pub(crate) use infra::{row::PlanStatus, store::PlanFilter};
use infra::{
    row::{PlanBrief, PlanLineRow, PlanRow, RateCardRow, SiteRow, SurfaceRow},
    store::{Page, Tx},
};

use super::{
    film, history, product,
    site::{self, Site},
    stock_item,
    surface::{self, succession::is_gone},
    unrinsed::Unrinsed,
};
use crate::{
    body::Faults,
    context::Context,
    problem::Problem,
    wire::{
        self,
        climate::ClimateRequest,
        plan::{PlanHead, PlanPreviewView, PlanRequest, PlanView, RateCardRef, as_it_stands},
    },
};

/// A plan that was just made, with what it was made from.
struct Made {
    floor: SurfaceRow,
    site: SiteRow,
    card: RateCardRow,
    plan: Plan,
    answer: PlanPreviewView,
}

/// Makes a plan for a surface, keeps it as the document that is answered, and tells of it.
///
/// # Errors
/// `invalid_body` for a surface or process that does not exist or a climate that cannot be used; those of the store.
pub(crate) async fn propose(
    ctx: &Context,
    tx: &Tx,
    request: &PlanRequest,
) -> Result<PlanRow, Problem> {
    let made = make(ctx, tx, request).await?;
    keep(ctx, tx, request, made).await
}

/// What [`propose`] would answer now; nothing is kept.
///
/// # Errors
/// As [`propose`].
pub(crate) async fn preview(
    ctx: &Context,
    tenant: TenantId,
    request: &PlanRequest,
) -> Result<PlanPreviewView, Problem> {
    let tx = ctx.store.read(tenant).await?;
    Ok(make(ctx, &tx, request).await?.answer)
}

async fn make(ctx: &Context, tx: &Tx, request: &PlanRequest) -> Result<Made, Problem> {
    let mut faults = Faults::new();
    let own = product::own(tx).await?;
    let known = Products {
        base: ctx.knowledge,
        own: &own,
    };
    let wish = request.wish.wish(known, "#/wish", &mut faults);
    let found = match request.surface_id.parse::<SurfaceId>() {
        Ok(id) => tx.surfaces().get(id).await?,
        Err(_not_an_id) => None,
    };
    let Some(floor) = found else {
        faults.push(
            "#/surface_id",
            "reference_not_found",
            "There is no such surface.",
        );
        return Err(faults.finish().err().unwrap_or_else(Problem::not_found));
    };
    faults.finish()?;
    let site = site::load(tx, floor.site_id, own)
        .await?
        .ok_or_else(Problem::not_found)?;
    let now = ctx.clock.now();
    let today = site::day_of(&site.row, now);
    let mut faults = Faults::new();
    is_gone(&floor, today, "#/surface_id", &mut faults)?;
    let planned_on = stock_item::planned_day(request.planned_on, today, &mut faults);
    faults.finish()?;
    let items = stock_item::items(tx, site.row.id).await?;
    let stock = Stock {
        items: &items,
        on: planned_on,
    };
    let (card_row, card) = site::card_on(tx, &site.row, planned_on).await?;
    let climate = request
        .climate
        .as_ref()
        .map_or(site.climate, ClimateRequest::climate);
    let state = film::state(ctx, tx, &floor, now).await?;
    let left = Unrinsed::load(ctx, tx, std::slice::from_ref(&floor), now).await?;
    let assumed = request.climate.is_none() && site.climate_assumed;
    let (lies_on_it, air) = ((&floor, &state, &left), (&climate, assumed));
    let answers = Answers::WorkedOut;
    let plan = draft(ctx, lies_on_it, &wish, air, (&card, stock), &site, answers)?;
    let head = PlanHead {
        site_id: floor.site_id,
        surface_id: floor.id,
        surface_version: floor.version,
        planned_on,
        knowledge_version: &ctx.knowledge.version,
        rate_card: RateCardRef::new(&card_row, &card),
        wish: &request.wish,
        climate: climate.into(),
        film: &state,
    };
    Ok(Made {
        answer: PlanPreviewView::new(head, &plan),
        floor,
        site: site.row,
        card: card_row,
        plan,
    })
}

/// Whether a plan's questions say what each answer would lead to, which takes a plan for each answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Answers {
    /// They do.
    WorkedOut,
    /// They do not: many floors are planned at once.
    LeftOut,
}

impl Answers {
    /// The place in the request that names the floor: itself, or the site that it is one of.
    const fn floor_at(self) -> &'static str {
        match self {
            Self::WorkedOut => "#/surface_id",
            Self::LeftOut => "#/site_id",
        }
    }
}

/// The plan for one surface on which lies what its state says.
///
/// # Errors
/// `invalid_body` where the wish or the climate leads nowhere, at the place in the request that says so, and for amounts
/// that no ledger holds; a floor that is one of many is named in the detail.
pub(crate) fn draft(
    ctx: &Context,
    (floor, state, left): (&SurfaceRow, &State, &Unrinsed),
    wish: &Wish,
    (climate, climate_assumed): (&Climate, bool),
    (card, stock): (&RateCard, Stock<'_>),
    site: &Site,
    answers: Answers,
) -> Result<Plan, Problem> {
    let mut survey = Survey {
        film: state.film(),
        coated_at: state.coated_at(),
        ..surface::survey_of(floor)?
    };
    survey.closer.recent_products = left.on(floor.id);
    let base: &KnowledgeBase = ctx.knowledge;
    let input = PlanInput {
        survey: &survey,
        wish,
        climate,
        card,
        country: &site.country,
        base,
        own_products: &site.own_products,
        stock,
        climate_assumed,
        // The moment for which the film was worked out: a plan is made at one.
        now: state.at,
        zone: site::zone_of(&site.row),
    };
    let plan = draft_plan(&input);
    let plan = match answers {
        Answers::WorkedOut => plan.and_then(|plan| lead_on(&input, plan)),
        Answers::LeftOut => plan,
    }
    .map_err(|error| refused(&error, (answers.floor_at(), floor.id)))?;
    let lines = plan.work.iter().flat_map(|work| &work.cost.lines);
    wire::money::check_counted(answers.floor_at(), lines.map(|line| line.amount.amount))?;
    Ok(plan)
}

/// Where in the request an error of the planner belongs.
fn refused(error: &DraftPlanError, (place, floor): (&str, SurfaceId)) -> Problem {
    let mut faults = Faults::new();
    let detail = error.to_string();
    match error {
        DraftPlanError::UnknownMaterial { .. } => {
            let detail = format!(
                "{detail}: the surface `{floor}` was kept under an older knowledge base; patch it."
            );
            faults.push(place, "unknown_material", detail);
        }
        DraftPlanError::UnknownProcess { .. } => {
            faults.push("#/wish/process", "unknown_process", detail);
        }
        DraftPlanError::UnknownProduct { .. } => {
            faults.push("#/wish/limits/products", "unknown_product", detail);
        }
        DraftPlanError::UnknownTool { .. } => {
            faults.push("#/wish/limits", "unknown_tool", detail);
        }
        DraftPlanError::Climate { .. } => faults.push("#/climate", "unusable_climate", detail),
        DraftPlanError::Figure { .. } => {
            let detail = format!("{detail} for `{floor}`: look at the site's rate card.");
            faults.push(place, "unusable_figure", detail);
        }
    }
    faults.finish().err().unwrap_or_else(Problem::not_found)
}

async fn keep(
    ctx: &Context,
    tx: &Tx,
    request: &PlanRequest,
    Made {
        floor,
        site,
        card,
        plan,
        answer,
    }: Made,
) -> Result<PlanRow, Problem> {
    let (id, now) = (PlanId::from_uuid(ctx.ids.uuid()), ctx.clock.now());
    let view = PlanView::new(id, now, answer);
    let cost = plan.work.as_ref().map(|work| &work.cost);
    let row = PlanRow {
        id,
        site_id: floor.site_id,
        surface_id: floor.id,
        surface_version: floor.version,
        version: 1,
        status: PlanStatus::Proposed,
        goal: Goal::from(request.wish.goal).word().to_owned(),
        verdict: plan.verdict.word().to_owned(),
        process: plan.work.as_ref().map(|_work| plan.process.clone()),
        knowledge_version: ctx.knowledge.version.clone(),
        rate_card_id: Some(card.id),
        area: floor.area,
        net_amount: cost.map(|cost| cost.net.amount),
        currency: site.currency,
        request_document: wire::document(request)?,
        document: wire::document(&view)?,
        created_at: now,
    };
    tx.plans().insert(&row, &lines(id, &plan)).await?;
    let (event, subject) = (EventId::from_uuid(ctx.ids.uuid()), id.to_string());
    let kind = "wearcourse.plan.proposed.v1";
    let subject = (subject.as_str(), row.version);
    let event = wire::event::encode_document(event, kind, subject, now, &row.document)?;
    let statement = format!(
        "Planned: {}, {}.",
        plan.process_name,
        plan.verdict.word().replace('_', " ")
    );
    history::tell(tx, &event, (row.surface_id, now), &statement).await?;
    Ok(row)
}

/// The plan's cost sheet as it is kept for reports.
fn lines(plan_id: PlanId, made: &Plan) -> Vec<PlanLineRow> {
    let kept = made
        .work
        .as_ref()
        .map(|work| ledger(&work.cost))
        .unwrap_or_default();
    let row = |(index, line): (usize, domain::record::LedgerLine)| PlanLineRow {
        plan_id,
        line_no: i64::try_from(index).unwrap_or(i64::MAX).saturating_add(1),
        kind: line.kind.word().to_owned(),
        stage: line.stage.map(|stage| stage.word().to_owned()),
        product_class: line.product_class,
        seconds: line.labour.seconds_half_even(),
        ml: line.volume.ml_half_even(),
        amount: line.amount.amount,
    };
    kept.into_iter().enumerate().map(row).collect()
}

/// Up to `limit` plans after an id, in short.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    filter: &PlanFilter,
    after: Option<PlanId>,
    limit: u64,
) -> Result<Page<PlanBrief, PlanId>, Problem> {
    let glance = ctx.store.glance(tenant);
    Ok(glance.plans().list(filter, after, limit).await?)
}

/// One plan: its version and its document as it stands now.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    id: PlanId,
) -> Result<(i64, String), Problem> {
    let glance = ctx.store.glance(tenant);
    let row = glance
        .plans()
        .get(id)
        .await?
        .ok_or_else(Problem::not_found)?;
    Ok((row.version, as_it_stands(&row)?))
}

//! Making and reading plans.

mod inputs;
pub(crate) mod life;
mod reporting;
mod sheet;

use inputs::Inputs;
pub(crate) use reporting::reporting;
pub(crate) use sheet::sheet;

use domain::{
    card::RateCard,
    event::EventKind,
    film::State,
    id::{EventId, PlanId, SurfaceId, TenantId},
    knowledge::KnowledgeBase,
    plan::{DraftPlanError, Plan, PlanInput, draft_plan, lead_on},
    record::ledger,
    stock::Stock,
    survey::{Climate, Goal, Survey, Wish},
};
pub(crate) use infra::{row::PlanStatus, store::PlanFilter};
use infra::{
    row::{PlanBrief, PlanLineRow, PlanRow, SurfaceRow},
    store::{InputVersions, Page, Place, Turn, Tx},
};

use super::{
    history,
    site::{self, Site},
    surface,
    unrinsed::Unrinsed,
};
use crate::{
    body::Faults,
    context::Context,
    problem::Problem,
    wire::{
        self,
        event::data::PlanEventData,
        plan::{PlanHead, PlanPreviewView, PlanRequest, PlanView, RateCardRef, as_it_stands},
    },
};

/// Makes a plan before there is a transaction that writes, from what all is at one moment: on SQLite whoever writes holds
/// the only writer, and planning takes far longer than writing. `None` where nothing can be planned: [`propose`]
/// says why, after the answer that may be kept for the request's idempotency key.
///
/// # Errors
/// Those of the store.
pub(crate) async fn prepare(
    ctx: &Context,
    tenant: TenantId,
    request: &PlanRequest,
) -> Result<Option<Made>, Problem> {
    let tx = ctx.store.snapshot(tenant).await?;
    let loaded = async {
        let inputs = Inputs::load(ctx, &tx, request).await?;
        let versions = inputs.versions(&tx).await?;
        Ok((inputs, versions))
    };
    let loaded = loaded.await;
    drop(tx);
    let made = loaded.and_then(|(inputs, versions)| {
        let made = make(ctx, request, inputs)?;
        Ok(Made {
            versions: Some(versions),
            ..made
        })
    });
    unless_refused(made)
}

/// What was prepared, if the request can be planned; that it cannot is no error yet.
pub(super) fn unless_refused<T>(prepared: Result<T, Problem>) -> Result<Option<T>, Problem> {
    match prepared {
        Ok(prepared) => Ok(Some(prepared)),
        Err(problem) if problem.code().status() < 500 => Ok(None),
        Err(problem) => Err(problem),
    }
}

/// Keeps a plan for a surface as the document that is answered, and tells of it: the one that was prepared, if nothing that
/// it was made from has changed since, else one that is made here.
///
/// # Errors
/// `invalid_body` for a surface or process that does not exist or a climate that cannot be used; those of the store.
pub(crate) async fn propose(
    ctx: &Context,
    tx: &Tx,
    request: &PlanRequest,
    prepared: Option<&Made>,
) -> Result<PlanRow, Problem> {
    if let Some(made) = prepared
        && made.versions == Some(made.inputs.versions(tx).await?)
    {
        return keep(ctx, tx, request, made).await;
    }
    let made = make(ctx, request, Inputs::load(ctx, tx, request).await?)?;
    keep(ctx, tx, request, &made).await
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
    let tx = ctx.store.snapshot(tenant).await?;
    let inputs = Inputs::load(ctx, &tx, request).await;
    drop(tx);
    Ok(make(ctx, request, inputs?)?.answer)
}

/// A plan that was just made, with what it was made from.
pub(crate) struct Made {
    inputs: Inputs,
    /// In which versions that was there, if it was looked at outside of the transaction that keeps the plan.
    versions: Option<InputVersions>,
    plan: Plan,
    answer: PlanPreviewView,
}

fn make(ctx: &Context, request: &PlanRequest, inputs: Inputs) -> Result<Made, Problem> {
    let stock = Stock {
        items: &inputs.left_over,
        on: inputs.planned_on,
    };
    let lies_on_it = (&inputs.floor, &inputs.state, &inputs.left);
    let air = (&inputs.climate, inputs.climate_assumed);
    let plan = draft(
        ctx,
        lies_on_it,
        &inputs.wish,
        air,
        (&inputs.card, stock),
        &inputs.site,
        Answers::WorkedOut,
    )?;
    let head = PlanHead {
        site_id: inputs.floor.site_id,
        surface_id: inputs.floor.id,
        surface_version: inputs.floor.version,
        planned_on: inputs.planned_on,
        knowledge_version: &ctx.knowledge.version,
        rate_card: RateCardRef::new(&inputs.card_row, &inputs.card),
        wish: &request.wish,
        climate: inputs.climate.into(),
        film: &inputs.state,
    };
    Ok(Made {
        answer: PlanPreviewView::new(head, &plan),
        inputs,
        versions: None,
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
    made: &Made,
) -> Result<PlanRow, Problem> {
    // The id is given here and not before, so that plans stand in lists in the order in which they are kept.
    let (id, now) = (PlanId::from_uuid(ctx.ids.uuid()), ctx.clock.now());
    let Made {
        inputs,
        plan,
        answer,
        ..
    } = made;
    let floor = &inputs.floor;
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
        rate_card_id: Some(inputs.card_row.id),
        planned_on: inputs.planned_on,
        area: floor.area,
        net_amount: cost.map(|cost| cost.net.amount),
        currency: inputs.site.row.currency,
        request_document: wire::document(request)?,
        document: wire::document(&view)?,
        created_at: now,
        changed_at: now,
    };
    tx.plans().insert(&row, &lines(id, plan)).await?;
    let (event, data) = (
        EventId::from_uuid(ctx.ids.uuid()),
        PlanEventData::from(&row),
    );
    let event = wire::event::encode(event, EventKind::PlanProposed, now, &data)?;
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

/// Up to `limit` plans in the order of a turn, in short.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    filter: &PlanFilter,
    turn: Turn,
    limit: u64,
) -> Result<Page<PlanBrief, Place>, Problem> {
    let glance = ctx.store.glance(tenant);
    Ok(glance.plans().list(filter, turn, limit).await?)
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

#[cfg(test)]
mod tests;

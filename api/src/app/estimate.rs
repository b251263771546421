//! Making and reading estimates over many surfaces.

mod inputs;

use std::sync::Arc;

use domain::{
    estimate::pool::{Estimate, Planned, pool},
    event::EventKind,
    id::{EstimateId, EventId, SurfaceId, TenantId},
    plan::Plan,
    stock::Stock,
};
pub(crate) use infra::store::EstimateFilter;
use infra::{
    row::{EstimateBrief, EstimateRow, SurfaceRow},
    store::{Page, Place, Turn, Tx},
};

use self::inputs::{Inputs, Versions};
pub(super) use self::inputs::{Wishes, matching};
use super::plan;
use crate::{
    context::Context,
    problem::Problem,
    wire::{
        self,
        estimate::{EstimateHead, EstimateRequest, EstimateView},
        event::data::EstimateEventData,
        plan::RateCardRef,
    },
};

/// Makes an estimate before there is a transaction that writes, as [`plan::prepare`] does for one plan; hundreds of floors
/// are planned on a thread of their own.
///
/// # Errors
/// Those of the store.
pub(crate) async fn prepare(
    ctx: &Arc<Context>,
    tenant: TenantId,
    request: &EstimateRequest,
) -> Result<Option<Made>, Problem> {
    let tx = ctx.store.snapshot(tenant).await?;
    let loaded = async {
        let inputs = Inputs::load(ctx, &tx, request).await?;
        let versions = inputs.versions(&tx, request).await?;
        Ok((inputs, versions))
    };
    let loaded = loaded.await;
    drop(tx);
    let Some((inputs, versions)) = plan::unless_refused(loaded)? else {
        return Ok(None);
    };
    let on = Arc::clone(ctx);
    let made = tokio::task::spawn_blocking(move || {
        let versions = Some(versions);
        work_out(&on, inputs).map(|made| Made { versions, ..made })
    });
    let made = made.await.map_err(|error| Problem::internal(&error))?;
    plan::unless_refused(made)
}

/// Keeps an estimate over many surfaces and tells of it: the one that was prepared, if nothing that it was made from has
/// changed since, else one that is made here.
///
/// # Errors
/// `invalid_body` for sites, surfaces or processes that do not exist, or too many surfaces; those of the store.
pub(crate) async fn make(
    ctx: &Context,
    tx: &Tx,
    request: &EstimateRequest,
    prepared: Option<&Made>,
) -> Result<EstimateRow, Problem> {
    if let Some(made) = prepared
        && made.versions == Some(made.inputs.versions(tx, request).await?)
    {
        return keep(ctx, tx, made).await;
    }
    let made = work_out(ctx, Inputs::load(ctx, tx, request).await?)?;
    keep(ctx, tx, &made).await
}

/// An estimate that was just made, with what it was made from.
pub(crate) struct Made {
    inputs: Inputs,
    /// In which versions that was there, if it was looked at outside of the transaction that keeps the estimate.
    versions: Option<Versions>,
    plans: Vec<Plan>,
    estimate: Estimate,
}

/// Plans every surface and pools what they need.
fn work_out(ctx: &Context, inputs: Inputs) -> Result<Made, Problem> {
    let plan_of = |floor: &SurfaceRow| {
        let state = inputs.states.get(&floor.id);
        let state = state.ok_or_else(Problem::not_found)?;
        let lies_on_it = (floor, state, &inputs.left);
        let wish = inputs.wishes.of(&floor.material);
        let air = (&inputs.climate, inputs.climate_assumed);
        // What is left over goes once into what they need together.
        let card = (&inputs.card, Stock::NONE);
        let answers = plan::Answers::LeftOut;
        plan::draft(ctx, lies_on_it, wish, air, card, &inputs.site, answers)
    };
    let floors = &inputs.floors.rows;
    let plans: Vec<Plan> = floors.iter().map(plan_of).collect::<Result<_, _>>()?;
    let planned = planned(floors, &plans);
    let pooled: Vec<Planned<'_>> = planned.iter().map(|(_, floor)| *floor).collect();
    let products = inputs.site.products(ctx);
    let estimate = pool(products, &inputs.card, &pooled, inputs.stock());
    let estimate = estimate.map_err(|error| Problem::internal(&error))?;
    let lines = estimate.cost.lines.iter();
    wire::money::check_counted("#/site_id", lines.map(|line| line.amount.amount))?;
    Ok(Made {
        inputs,
        versions: None,
        plans,
        estimate,
    })
}

async fn keep(ctx: &Context, tx: &Tx, made: &Made) -> Result<EstimateRow, Problem> {
    let Made {
        inputs,
        plans,
        estimate,
        ..
    } = made;
    let floors = &inputs.floors.rows;
    let (id, now) = (EstimateId::from_uuid(ctx.ids.uuid()), ctx.clock.now());
    let head = EstimateHead {
        id,
        site_id: inputs.site.row.id,
        planned_on: inputs.planned_on,
        knowledge_version: &ctx.knowledge.version,
        rate_card: RateCardRef::new(&inputs.card_row, &inputs.card),
        now,
    };
    let view = EstimateView::new(head, &planned(floors, plans), estimate);
    let row = EstimateRow {
        id,
        site_id: inputs.site.row.id,
        n_surfaces: i64::try_from(floors.len()).unwrap_or(i64::MAX),
        area: floors.iter().map(|floor| floor.area).sum(),
        net_amount: estimate.cost.net.amount,
        currency: inputs.card.currency,
        knowledge_version: ctx.knowledge.version.clone(),
        document: wire::document(&view)?,
        created_at: now,
    };
    tx.estimates().insert(&row).await?;
    let (event, data) = (
        EventId::from_uuid(ctx.ids.uuid()),
        EstimateEventData::from(&row),
    );
    let event = wire::event::encode(event, EventKind::EstimateMade, now, &data)?;
    tx.outbox().append(&event).await?;
    Ok(row)
}

/// Each floor with its plan.
fn planned<'a>(floors: &[SurfaceRow], plans: &'a [Plan]) -> Vec<(SurfaceId, Planned<'a>)> {
    let pairs = floors.iter().zip(plans);
    pairs
        .map(|(floor, plan)| {
            (
                floor.id,
                Planned {
                    area: floor.area,
                    plan,
                },
            )
        })
        .collect()
}

/// Up to `limit` estimates in the order of a turn, in short.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    filter: &EstimateFilter,
    turn: Turn,
    limit: u64,
) -> Result<Page<EstimateBrief, Place>, Problem> {
    let glance = ctx.store.glance(tenant);
    Ok(glance.estimates().list(filter, turn, limit).await?)
}

/// One estimate.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    id: EstimateId,
) -> Result<EstimateRow, Problem> {
    let glance = ctx.store.glance(tenant);
    glance
        .estimates()
        .get(id)
        .await?
        .ok_or_else(Problem::not_found)
}

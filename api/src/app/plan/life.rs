//! The life of a plan: proposed, then accepted, then superseded or withdrawn.

use domain::{
    event::EventKind,
    id::{EventId, PlanId},
};
pub(crate) use infra::row::PlanRow;
use infra::{
    row::{CommitmentRow, PlanStatus},
    store::Tx,
};

use crate::{
    app::{history, site},
    context::Context,
    problem::{Code, Problem},
    wire::{self, event::data::PlanEventData},
};

/// A plan whose status may be changed: nobody else changes it, or accepts another plan of its surface, until the
/// transaction ends.
///
/// # Errors
/// `not_found`; `contended`; those of the store.
pub(crate) async fn hold(tx: &Tx, id: PlanId) -> Result<PlanRow, Problem> {
    let plan = tx.plans().get(id).await?.ok_or_else(Problem::not_found)?;
    // Always the surface before its plans, so that two callers cannot wait for each other.
    tx.surfaces().lock(plan.surface_id).await?;
    tx.plans().lock_plan(id).await?;
    tx.plans().get(id).await?.ok_or_else(Problem::not_found)
}

/// Accepts a plan that was held: it is to be done, and what it costs is committed. An accepted plan of the same
/// surface and goal is superseded.
///
/// # Errors
/// `state_conflict` if it is not proposed or holds no work; those of the store.
pub(crate) async fn accept(ctx: &Context, tx: &Tx, plan: PlanRow) -> Result<PlanRow, Problem> {
    if plan.status != PlanStatus::Proposed {
        return Err(conflict("Only a plan that is `proposed` can be accepted."));
    }
    let Some(process) = plan.process.clone() else {
        return Err(conflict(
            "The plan holds no work: see its verdict, and have another plan made.",
        ));
    };
    for earlier in tx.plans().accepted(plan.surface_id, &plan.goal).await? {
        step(ctx, tx, earlier, PlanStatus::Superseded).await?;
    }
    let site = tx.sites().get(plan.site_id).await?;
    let floor = tx.surfaces().get(plan.surface_id).await?;
    let (site, floor) = site.zip(floor).ok_or_else(Problem::not_found)?;
    let commitment = CommitmentRow {
        plan_id: plan.id,
        site_id: plan.site_id,
        surface_id: plan.surface_id,
        storey: floor.storey,
        material: floor.material,
        process,
        goal: plan.goal.clone(),
        month: site::month_of(&site, ctx.clock.now()),
        currency: plan.currency,
    };
    tx.plans().commit(&commitment).await?;
    step(ctx, tx, plan, PlanStatus::Accepted).await
}

/// Withdraws a plan that was held: it is not to be done.
///
/// # Errors
/// `state_conflict` if it is neither proposed nor accepted; those of the store.
pub(crate) async fn withdraw(ctx: &Context, tx: &Tx, plan: PlanRow) -> Result<PlanRow, Problem> {
    if !matches!(plan.status, PlanStatus::Proposed | PlanStatus::Accepted) {
        return Err(conflict(
            "Only a plan that is `proposed` or `accepted` can be withdrawn.",
        ));
    }
    step(ctx, tx, plan, PlanStatus::Withdrawn).await
}

/// Takes a plan to its next status and tells of it.
async fn step(
    ctx: &Context,
    tx: &Tx,
    plan: PlanRow,
    status: PlanStatus,
) -> Result<PlanRow, Problem> {
    let now = ctx.clock.now();
    let since = (plan.version, now);
    tx.plans().set_status(plan.id, status, since).await?;
    let plan = PlanRow {
        status,
        changed_at: now,
        version: plan.version.saturating_add(1),
        ..plan
    };
    let kind = match status {
        PlanStatus::Proposed => EventKind::PlanProposed,
        PlanStatus::Accepted => EventKind::PlanAccepted,
        PlanStatus::Superseded => EventKind::PlanSuperseded,
        PlanStatus::Withdrawn => EventKind::PlanWithdrawn,
    };
    let event = EventId::from_uuid(ctx.ids.uuid());
    let event = wire::event::encode(event, kind, now, &PlanEventData::from(&plan))?;
    let statement = format!("A plan was {status}.");
    history::tell(tx, &event, (plan.surface_id, now), &statement).await?;
    Ok(plan)
}

fn conflict(detail: &'static str) -> Problem {
    Problem::new(Code::StateConflict, detail)
}

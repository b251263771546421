//! A kept plan for the crew.

use domain::id::{PlanId, TenantId};
use infra::row::{SiteRow, SurfaceRow};

use super::as_it_stands;
use crate::{context::Context, problem::Problem, sheet::Told, wire};

/// What a sheet shows of a plan, and of the floor and the site that it is for.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn sheet(
    ctx: &Context,
    tenant: TenantId,
    id: PlanId,
) -> Result<(Told, SurfaceRow, SiteRow), Problem> {
    let tx = ctx.store.read(tenant).await?;
    let plan = tx.plans().get(id).await?.ok_or_else(Problem::not_found)?;
    let floor = tx.surfaces().get(plan.surface_id).await?;
    let site = tx.sites().get(plan.site_id).await?;
    let told = wire::stored(&as_it_stands(&plan)?)?;
    Ok((
        told,
        floor.ok_or_else(Problem::not_found)?,
        site.ok_or_else(Problem::not_found)?,
    ))
}

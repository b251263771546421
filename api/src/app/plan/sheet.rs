//! A kept plan for the crew.

use domain::id::{PlanId, TenantId};
use infra::row::{SiteRow, SurfaceRow};

use super::as_it_stands;
use crate::{
    context::Context,
    problem::Problem,
    sheet::{Told, ToldFloor},
    wire,
};

/// What a sheet shows of a plan.
#[derive(Debug)]
pub(crate) struct Shown {
    /// The plan.
    pub(crate) plan: Told,
    /// Its floor.
    pub(crate) floor: SurfaceRow,
    /// The floor's outline, if the floor is still what the plan was made for.
    pub(crate) outline: Option<ToldFloor>,
    /// The floor's site.
    pub(crate) site: SiteRow,
}

/// What a sheet shows of a plan, and of the floor and the site that it is for.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn sheet(ctx: &Context, tenant: TenantId, id: PlanId) -> Result<Shown, Problem> {
    let tx = ctx.store.read(tenant).await?;
    let plan = tx.plans().get(id).await?.ok_or_else(Problem::not_found)?;
    let floor = tx.surfaces().get(plan.surface_id).await?;
    let site = tx.sites().get(plan.site_id).await?;
    let told = wire::stored(&as_it_stands(&plan)?)?;
    let floor = floor.ok_or_else(Problem::not_found)?;
    let is_same = floor.version == plan.surface_version;
    let outline = is_same.then(|| wire::stored(&floor.document));
    Ok(Shown {
        plan: told,
        outline: outline.transpose()?,
        floor,
        site: site.ok_or_else(Problem::not_found)?,
    })
}

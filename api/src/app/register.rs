//! The surfaces of a site for other programs: what the register says now, page by page.

use domain::id::{SiteId, SurfaceId, TenantId};
pub(crate) use infra::row::{SiteRow, SurfaceRow};
use infra::store::{Page, RegisterLine};

use super::{
    site,
    surface::SurfaceFilter,
    surface::succession::{ended_by, gone_by},
};
use crate::{context::Context, problem::Problem};

/// How many surfaces are read at once.
const PAGE: u64 = 1_000;

/// The site whose surfaces are asked for.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn of_site(
    ctx: &Context,
    tenant: TenantId,
    id: SiteId,
) -> Result<SiteRow, Problem> {
    let found = ctx.store.glance(tenant).sites().get(id).await?;
    found.ok_or_else(Problem::not_found)
}

/// The next surfaces of a site after an id, in the order in which they were registered, without those that are there no more.
///
/// # Errors
/// Those of the store.
pub(crate) async fn page(
    ctx: &Context,
    tenant: TenantId,
    (site, storey): (&SiteRow, Option<&str>),
    after: Option<SurfaceId>,
) -> Result<Page<SurfaceRow, SurfaceId>, Problem> {
    let filter = filter(site, storey);
    let day = site::day_of(site, ctx.clock.now());
    let glance = ctx.store.glance(tenant);
    let found = glance.surfaces().list(&filter, after, PAGE).await?;
    let mut items = Vec::with_capacity(found.items.len());
    for row in found.items {
        if gone_by(&row, day)?.is_none() {
            items.push(row);
        }
    }
    Ok(Page {
        items,
        next: found.next,
    })
}

/// What the register tells of the next surfaces of a site, those that [`page`] would give.
///
/// # Errors
/// Those of the store.
pub(crate) async fn lines(
    ctx: &Context,
    tenant: TenantId,
    (site, storey): (&SiteRow, Option<&str>),
    after: Option<SurfaceId>,
) -> Result<Page<RegisterLine, SurfaceId>, Problem> {
    let day = site::day_of(site, ctx.clock.now());
    let glance = ctx.store.glance(tenant);
    let filter = filter(site, storey);
    let found = glance.surfaces().register(&filter, after, PAGE).await?;
    let mut items = Vec::with_capacity(found.items.len());
    for line in found.items {
        let gone = match &line.may_end {
            Some(document) => ended_by(document, day)?,
            None => None,
        };
        if gone.is_none() {
            items.push(line);
        }
    }
    Ok(Page {
        items,
        next: found.next,
    })
}

fn filter(site: &SiteRow, storey: Option<&str>) -> SurfaceFilter {
    SurfaceFilter {
        site_id: Some(site.id),
        storey: storey.map(str::to_owned),
        ..SurfaceFilter::default()
    }
}

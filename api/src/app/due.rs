//! What is due when: reckoned where something changed, and read a page at a time.

mod reckon;
pub(crate) mod tell;

use std::{collections::BTreeMap, sync::Arc};

use chrono::NaiveDate;
use domain::id::{PlanId, SiteId, SurfaceId, TenantId};
use infra::store::Page;
pub(crate) use infra::store::{DueFilter, DueKey};

pub(crate) use self::reckon::reckon;
use self::reckon::reckon_site;
pub(super) use self::reckon::surveyed_at;
use super::site;
use crate::{
    context::Context,
    problem::Problem,
    wire::due::{Calendar, DueView, Told},
};

/// A page of due dates, after all floors that they may stand on were reckoned. Four statements, however many there are.
///
/// # Errors
/// `unavailable` where more floors wait to be reckoned than one call does; those of the store.
pub(crate) async fn list(
    ctx: &Arc<Context>,
    tenant: TenantId,
    filter: &DueFilter,
    (after, limit): (Option<DueKey>, u64),
) -> Result<Page<DueView, DueKey>, Problem> {
    reckon(ctx, tenant, filter.site_id).await?;
    let now = ctx.clock.now();
    let filter = DueFilter {
        there_on: Some(now.date_naive()),
        ..filter.clone()
    };
    let tx = ctx.store.read(tenant).await?;
    let page = tx.dues().list(&filter, after, limit).await?;
    let surfaces: Vec<SurfaceId> = page.items.iter().map(|row| row.surface_id).collect();
    let floors = by_id(tx.surfaces().get_many(&surfaces).await?, |row| row.id);
    let sites: Vec<SiteId> = page.items.iter().map(|row| row.site_id).collect();
    let sites = by_id(tx.sites().get_many(&sites).await?, |row| row.id);
    let mut plans: BTreeMap<(SurfaceId, String), PlanId> = BTreeMap::new();
    for plan in tx.dues().covering(&surfaces).await? {
        plans.insert((plan.surface_id, plan.process), plan.plan_id);
    }
    drop(tx);
    page.try_map(|row| {
        let floor = floors.get(&row.surface_id);
        let site = sites.get(&row.site_id);
        let (floor, site) = floor.zip(site).ok_or_else(Problem::not_found)?;
        let plan = plans.get(&(row.surface_id, row.due.process.clone()));
        let told = Told {
            row: &row,
            floor,
            site,
            plan: plan.copied(),
        };
        DueView::new(&told, site::day_of(site, now), ctx.knowledge)
    })
}

/// How much is due on each day from `first` on and before `after`, and how much was due before today; with the name of the site, of one
/// that is there.
///
/// # Errors
/// As [`list`].
pub(crate) async fn calendar(
    ctx: &Arc<Context>,
    tenant: TenantId,
    filter: &DueFilter,
    (first, after): (NaiveDate, NaiveDate),
) -> Result<(Calendar, Option<String>), Problem> {
    reckon(ctx, tenant, filter.site_id).await?;
    let today = ctx.clock.now().date_naive();
    let filter = DueFilter {
        there_on: Some(today),
        by: after.max(today).pred_opt(),
        ..filter.clone()
    };
    let tx = ctx.store.read(tenant).await?;
    let days = tx.dues().by_day(&filter).await?;
    let site = match filter.site_id {
        Some(id) => tx.sites().get(id).await?.map(|site| site.name),
        None => None,
    };
    let mut calendar = Calendar::default();
    for (day, count) in days {
        let count = u64::try_from(count).unwrap_or(0);
        if day < today {
            calendar.n_overdue = calendar.n_overdue.saturating_add(count);
        }
        if (first..after).contains(&day) {
            calendar.days.insert(day, count);
        }
    }
    Ok((calendar, site))
}

fn by_id<K: Ord, R>(rows: Vec<R>, id: impl Fn(&R) -> K) -> BTreeMap<K, R> {
    rows.into_iter().map(|row| (id(&row), row)).collect()
}

#[cfg(test)]
mod tests;

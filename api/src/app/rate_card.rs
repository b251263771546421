//! The editions of a site's rate card: issuing and reading them.
//!
//! What work was recorded at is kept with it, so an edition that begins in the past prices what is recorded from now
//! on for those days and changes nothing that is there.

use chrono::NaiveDate;
use domain::id::{RateCardId, SiteId, TenantId};
use infra::row::RateCardRow;
pub(crate) use infra::store::Page;

use super::site;
pub(crate) use super::site::issue;
use crate::{context::Context, problem::Problem};

/// Up to `limit` editions of a site below a number, the newest first; of a day, the one that counts on it.
///
/// # Errors
/// `not_found` for a site that is not there; those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    (site, on): (SiteId, Option<NaiveDate>),
    below: Option<i64>,
    limit: u64,
) -> Result<Page<RateCardRow, i64>, Problem> {
    let tx = ctx.store.read(tenant).await?;
    let site = site::find(&tx, site).await?;
    if let Some(day) = on {
        let (row, _card) = site::card_on(&tx, &site, day).await?;
        return Ok(Page {
            items: vec![row],
            next: None,
        });
    }
    Ok(tx.rate_cards().list(site.id, below, limit).await?)
}

/// One edition of a site's rate card.
///
/// # Errors
/// `not_found`, also for an edition of another site; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    site: SiteId,
    id: RateCardId,
) -> Result<RateCardRow, Problem> {
    let glance = ctx.store.glance(tenant);
    let row = glance.rate_cards().get(id).await?;
    row.filter(|row| row.site_id == site)
        .ok_or_else(Problem::not_found)
}

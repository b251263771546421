//! Sites and their rate cards: registering, changing and reading them, and what other use cases need of them.

mod write;

pub(crate) use infra::store::SiteFilter;
pub(crate) use write::{change, issue, register};

use chrono::{DateTime, Datelike, NaiveDate, Utc};
use chrono_tz::Tz;
use domain::{
    card::RateCard,
    id::{SiteId, TenantId},
    knowledge::{Product, Products},
    survey::Climate,
};
use infra::{
    row::{RateCardRow, SiteRow},
    store::{Page, Place, Turn, Tx},
};
use serde_json::Value;

use crate::{body::Faults, context::Context, problem::Problem, wire};

/// A site as planning needs it.
#[derive(Debug, Clone)]
pub(crate) struct Site {
    /// Its row.
    pub(crate) row: SiteRow,
    /// Its ISO 3166-1 code.
    pub(crate) country: String,
    /// The air over its floors.
    pub(crate) climate: Climate,
    /// Whether nobody has said what that air is.
    pub(crate) climate_assumed: bool,
    /// Figures that are not learnt from the work that was done here, by their names.
    pub(crate) not_learnt: Vec<String>,
    /// The tenant's own products, which come before those of the knowledge base.
    pub(crate) own_products: Vec<Product>,
    /// The day from which its floors are looked after no more.
    retired_on: Option<NaiveDate>,
}

impl Site {
    /// The products that its floors can be treated with.
    pub(crate) fn products(&self, ctx: &Context) -> Products<'_> {
        Products {
            base: ctx.knowledge,
            own: &self.own_products,
        }
    }

    /// Whether its floors are looked after no more by `day`; if so, that is a fault at `pointer`.
    pub(crate) fn is_retired(&self, day: NaiveDate, pointer: &str, faults: &mut Faults) {
        is_retired(self.retired_on, day, pointer, faults);
    }
}

/// Whether floors are looked after no more by `day`; if so, that is a fault at `pointer`.
pub(crate) fn is_retired(
    retired_on: Option<NaiveDate>,
    day: NaiveDate,
    pointer: &str,
    faults: &mut Faults,
) {
    if let Some(on) = retired_on.filter(|on| *on <= day) {
        faults.push(pointer, "site_retired", retired_since(on));
    }
}

/// What to do about a site that is looked after no more.
pub(crate) fn retired_since(on: NaiveDate) -> String {
    format!(
        "The site's floors are looked after no more since {on}: take its `retired_on` away by a patch if that is wrong."
    )
}

/// The site that a body names at `site_id`, as [`load`]; `None` also for what is no id.
///
/// # Errors
/// As [`load`].
pub(crate) async fn named(
    tx: &Tx,
    id: &str,
    own_products: Vec<Product>,
) -> Result<Option<Site>, Problem> {
    match id.parse() {
        Ok(id) => load(tx, id, own_products).await,
        Err(_not_an_id) => Ok(None),
    }
}

/// What a body is refused with that names no site, with everything else that is wrong with it.
pub(crate) fn no_such(mut faults: Faults) -> Problem {
    faults.push("#/site_id", "reference_not_found", "There is no such site.");
    faults.finish().err().unwrap_or_else(Problem::not_found)
}

/// A site of the tenant, whose own products are read already; `None` if there is none with this id.
///
/// # Errors
/// Those of the store; `internal` for a document that is not what was written.
pub(crate) async fn load(
    tx: &Tx,
    id: SiteId,
    own_products: Vec<Product>,
) -> Result<Option<Site>, Problem> {
    let Some(row) = tx.sites().get(id).await? else {
        return Ok(None);
    };
    let view = wire::site::stored(&row.document)?;
    Ok(Some(Site {
        country: row.country.clone(),
        row,
        climate: view.climate(),
        climate_assumed: view.climate_is_assumed(),
        retired_on: view.retired_on(),
        not_learnt: view.not_learnt(),
        own_products,
    }))
}

/// The edition of a site's rate card that counts on a day of the site; before the first, the first.
///
/// # Errors
/// Those of the store; `internal` for a site without a card or a document that is not what was written.
pub(crate) async fn card_on(
    tx: &Tx,
    site: &SiteRow,
    day: NaiveDate,
) -> Result<(RateCardRow, RateCard), Problem> {
    let row = match tx.rate_cards().current(site.id, day).await? {
        Some(row) => Some(row),
        None => tx.rate_cards().list(site.id, Some(2), 1).await?.items.pop(),
    };
    let row = row.ok_or_else(|| Problem::internal(&NoRateCard(site.id)))?;
    let card = wire::rate_card::stored(&row.document, site.currency)?;
    Ok((row, card))
}

/// The edition that counts on a day among all those of a site; before the first, the first.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn card_among(
    editions: &[RateCardRow],
    site: &SiteRow,
    day: NaiveDate,
) -> Result<RateCard, Problem> {
    let own = || editions.iter().filter(|row| row.site_id == site.id);
    let valid = own().filter(|row| row.valid_from <= day);
    let row = valid
        .max_by_key(|row| (row.valid_from, row.number))
        .or_else(|| own().min_by_key(|row| row.number));
    let row = row.ok_or_else(|| Problem::internal(&NoRateCard(site.id)))?;
    wire::rate_card::stored(&row.document, site.currency)
}

/// A site that lost its rate card.
#[derive(Debug, thiserror::Error)]
#[error("the site {0} has no rate card")]
struct NoRateCard(SiteId);

/// The day at a site.
pub(crate) fn day_of(site: &SiteRow, moment: DateTime<Utc>) -> NaiveDate {
    moment.with_timezone(&zone_of(site)).date_naive()
}

/// The zone of a site.
pub(crate) fn zone_of(site: &SiteRow) -> Tz {
    // It was checked when it was stored.
    site.time_zone.parse().unwrap_or(Tz::UTC)
}

/// The month at a site, as `YYYY-MM`.
pub(crate) fn month_of(site: &SiteRow, moment: DateTime<Utc>) -> String {
    let day = day_of(site, moment);
    format!("{:04}-{:02}", day.year(), day.month())
}

/// Up to `limit` sites in the order of a turn.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    filter: &SiteFilter,
    turn: Turn,
    limit: u64,
) -> Result<Page<SiteRow, Place>, Problem> {
    let glance = ctx.store.glance(tenant);
    Ok(glance.sites().list(filter, turn, limit).await?)
}

/// One site.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn get(ctx: &Context, tenant: TenantId, id: SiteId) -> Result<SiteRow, Problem> {
    let found = ctx.store.glance(tenant).sites().get(id).await?;
    found.ok_or_else(Problem::not_found)
}

/// One site, in the transaction that will change it.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn find(tx: &Tx, id: SiteId) -> Result<SiteRow, Problem> {
    tx.sites().get(id).await?.ok_or_else(Problem::not_found)
}

/// A site as a patch is merged into it.
///
/// Where the patch speaks of the rate card, the day from which it is valid is left out, so that the patch must name one: the
/// newest edition's own would have the change count backwards. Of a card that nobody has told nothing is there to be
/// merged into: examples beside told rates would look like told ones.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn patchable(row: &SiteRow, speaks_of_rates: bool) -> Result<Value, Problem> {
    let view = wire::site::stored(&row.document)?;
    let assumed = view.rates_are_assumed();
    let document = serde_json::to_value(view.into_request());
    let mut document = document.map_err(|error| Problem::internal(&error))?;
    if speaks_of_rates && let Some(members) = document.as_object_mut() {
        if assumed {
            members.remove("rate_card");
        }
        let card = members.get_mut("rate_card").and_then(Value::as_object_mut);
        if let Some(card) = card {
            card.remove("valid_from");
        }
    }
    Ok(document)
}

#[cfg(test)]
mod tests;

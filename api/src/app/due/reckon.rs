//! Reckons when what is due on floors of which something was told or done since they were reckoned last.

use std::{collections::BTreeMap, sync::Arc};

use chrono::{DateTime, Utc};
use domain::{
    card::RateCard,
    due::{Done, Past, due},
    film::Entry,
    id::{SiteId, SurfaceId, TenantId},
    plan::PlanInput,
    stock::Stock,
    survey::{Goal, Wish},
};
use infra::row::{DueRow, SiteRow, SurfaceRow};

use crate::{
    app::{film, site, surface},
    context::Context,
    problem::{Code, Problem},
    wire,
};

/// How many floors are reckoned in one transaction.
const PART: u64 = 100;
/// How many floors one call reckons before it asks its caller to come again.
const MOST: usize = 2_000;

/// Reckons the floors of a site, or of all, that wait for it.
///
/// # Errors
/// `unavailable` where more wait than one call reckons: the rest goes on in the background; those of the store.
pub(crate) async fn reckon(
    ctx: &Arc<Context>,
    tenant: TenantId,
    site: Option<SiteId>,
) -> Result<(), Problem> {
    let glance = ctx.store.glance(tenant);
    let edition = &ctx.knowledge.version;
    let mut left = MOST;
    for site in glance.dues().unreckoned_sites(edition, site).await? {
        left = left.saturating_sub(reckon_site(ctx, tenant, site, left).await?);
        if left == 0 {
            let detail = "Due dates of many floors are being reckoned: they were just registered, or the knowledge base is new.";
            return Err(Problem::new(Code::Unavailable, detail));
        }
    }
    Ok(())
}

/// Reckons up to `most` floors of a site, a part in each transaction, and says how many.
///
/// # Errors
/// Those of the store; `internal` for a document that is not what was written.
pub(crate) async fn reckon_site(
    ctx: &Arc<Context>,
    tenant: TenantId,
    site: SiteId,
    most: usize,
) -> Result<usize, Problem> {
    let mut n_reckoned = 0_usize;
    while n_reckoned < most {
        let n = part(ctx, tenant, site).await?;
        n_reckoned = n_reckoned.saturating_add(n);
        // Fewer than there is room for: no other floor waits that nobody has.
        if u64::try_from(n).is_ok_and(|n| n < PART) {
            break;
        }
    }
    Ok(n_reckoned)
}

/// What the dates of some floors of a site come from.
struct Facts {
    site: SiteRow,
    floors: Vec<SurfaceRow>,
    entries: BTreeMap<SurfaceId, Vec<Entry>>,
    done: BTreeMap<SurfaceId, Vec<Done>>,
}

/// Reckons one part; says how many floors it was, none where none waits that nobody else has.
async fn part(ctx: &Arc<Context>, tenant: TenantId, site: SiteId) -> Result<usize, Problem> {
    let tx = ctx.store.begin(tenant).await?;
    let edition = &ctx.knowledge.version;
    let ids = tx.dues().take(edition, site, PART).await?;
    if ids.is_empty() {
        tx.commit().await?;
        return Ok(0);
    }
    let floors = tx.surfaces().get_many(&ids).await?;
    let mut done: BTreeMap<SurfaceId, Vec<Done>> = BTreeMap::new();
    for (surface, work) in tx.dues().done(&ids).await? {
        done.entry(surface).or_default().push(work);
    }
    let facts = Facts {
        site: site::find(&tx, site).await?,
        entries: film::entries(ctx, &tx, &floors).await?,
        floors,
        done,
    };
    let on = Arc::clone(ctx);
    let rows = tokio::task::spawn_blocking(move || work_out(&on, &facts));
    let rows = rows.await.map_err(|error| Problem::internal(&error))??;
    tx.dues().put(edition, &ids, rows).await?;
    tx.commit().await?;
    Ok(ids.len())
}

/// The due dates of the floors. Of a floor whose material the knowledge base has no more nothing is known to be due.
fn work_out(ctx: &Context, facts: &Facts) -> Result<Vec<DueRow>, Problem> {
    let site = &facts.site;
    let view = wire::site::stored(&site.document)?;
    // No process recurs by what it costs.
    let card = RateCard::defaults(ctx.knowledge, site.currency);
    let card = card.map_err(|error| Problem::internal(&error))?;
    let (climate, wish) = (view.climate(), Wish::to(Goal::Maintain));
    let retired_on = view.retired_on();
    let mut rows = Vec::new();
    for floor in &facts.floors {
        let survey = surface::survey_of(floor)?;
        let input = PlanInput {
            survey: &survey,
            wish: &wish,
            climate: &climate,
            card: &card,
            country: &site.country,
            base: ctx.knowledge,
            own_products: &[],
            stock: Stock::NONE,
            climate_assumed: view.climate_is_assumed(),
            now: floor.created_at,
            zone: site::zone_of(site),
        };
        let past = Past {
            entries: facts.entries.get(&floor.id).map_or(&[][..], Vec::as_slice),
            done: facts.done.get(&floor.id).map_or(&[][..], Vec::as_slice),
            surveyed_at: surveyed_at(floor)?,
        };
        // What is looked after no more is due no more, whether the floor is gone or all of its site.
        let gone_on = surface::succession::gone_on(floor)?;
        let gone_on = gone_on.into_iter().chain(retired_on).min();
        let Ok(found) = due(&input, past) else {
            tracing::warn!(surface = %floor.id, "nothing can be reckoned to be due");
            continue;
        };
        let found = found
            .into_iter()
            .filter(|due| gone_on.is_none_or(|gone| due.due_on < gone));
        rows.extend(found.map(|due| DueRow {
            surface_id: floor.id,
            site_id: floor.site_id,
            due,
            gone_on,
            told_due_on: None,
        }));
    }
    Ok(rows)
}

/// When a floor was first surveyed: its film may have been seen before it was registered.
pub(in crate::app) fn surveyed_at(floor: &SurfaceRow) -> Result<DateTime<Utc>, Problem> {
    let request = surface::request_of(floor)?;
    let seen = surface::seen_at(&request);
    Ok(seen.map_or(floor.created_at, |seen| seen.min(floor.created_at)))
}

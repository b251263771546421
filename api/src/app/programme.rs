//! Programmes over years for floors of one site: asked, compared, and kept nowhere.

use std::{collections::BTreeMap, sync::Arc};

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use domain::{
    card::RateCard,
    due::{Done, Past, due},
    film::{Entry, Floor, State, state_at},
    id::{SiteId, SurfaceId, TenantId},
    plan::PlanInput,
    programme::{
        Asked, Comparison, NotReckoned, Terms, compare,
        start::{Known, Read},
        wear::Use,
        worth::DiscountRate,
    },
    reading::ReadingKind,
    stock::Stock,
    survey::{Goal, Survey, Traffic, Wish},
};
use infra::{
    row::{RateCardRow, SurfaceRow},
    store::Tx,
};
use tokio::sync::Semaphore;

use super::{
    due::surveyed_at,
    film, learning, product,
    site::{self, Site},
    surface::{self, succession::is_gone},
};
use crate::{
    body::Faults,
    context::Context,
    problem::Problem,
    wire::{
        programme::{Head, ProgrammeRequest, ProgrammesView},
        report::Month,
    },
};

/// The latest readings of a kind that are looked at on one floor.
const MAX_READINGS: u64 = 100;
/// The latest counts of passes of which the mean is taken.
const FOOTFALLS: u64 = 5;
/// How many requests are reckoned at once in a process, so that others find a core.
static RECKONERS: Semaphore = Semaphore::const_new(2);
/// Half of a month of a programme: it is named by its middle.
const HALF_MONTH: TimeDelta = TimeDelta::days(15);

/// Compares the programmes of the floors of a request; floors are reckoned on a thread of their own.
///
/// # Errors
/// `invalid_body` with everything that is wrong with the request; those of the store.
pub(crate) async fn preview(
    ctx: &Arc<Context>,
    tenant: TenantId,
    request: ProgrammeRequest,
) -> Result<ProgrammesView, Problem> {
    let tx = ctx.store.snapshot(tenant).await?;
    let loaded = Facts::load(ctx, &tx, &request).await;
    drop(tx);
    let (facts, on) = (loaded?, Arc::clone(ctx));
    let permit = RECKONERS.acquire().await;
    let permit = permit.map_err(|closed| Problem::internal(&closed))?;
    let made = tokio::task::spawn_blocking(move || {
        let made = work_out(&on, &facts, &request);
        drop(permit);
        made
    });
    made.await.map_err(|error| Problem::internal(&error))?
}

/// All that programmes are made from, as it is at one moment.
struct Facts {
    at: DateTime<Utc>,
    site: Site,
    card_row: RateCardRow,
    card: RateCard,
    terms: Terms,
    /// In the order of the request.
    floors: Vec<(SurfaceRow, Use)>,
    entries: BTreeMap<SurfaceId, Vec<Entry>>,
    done: BTreeMap<SurfaceId, Vec<Done>>,
    readings: BTreeMap<(SurfaceId, ReadingKind), Vec<Read>>,
}

impl Facts {
    async fn load(ctx: &Context, tx: &Tx, request: &ProgrammeRequest) -> Result<Self, Problem> {
        let mut faults = Faults::new();
        let figures = &ctx.knowledge.programme;
        request.check(&figures.gloss, &mut faults);
        let own = product::own(tx).await?;
        let Some(site) = site::named(tx, &request.site_id, own).await? else {
            return Err(site::no_such(faults));
        };
        let at = ctx.clock.now();
        let today = site::day_of(&site.row, at);
        site.is_retired(today, "#/site_id", &mut faults);
        let rows = named(tx, (site.row.id, today), request, &mut faults).await?;
        let rate = DiscountRate::of(request.discount_rate() / 100.0);
        faults.finish()?;
        let ids: Vec<SurfaceId> = rows.iter().map(|row| row.id).collect();
        let (card_row, mut card) = site::card_on(tx, &site.row, today).await?;
        learning::onto(ctx, tx, &site, at, &mut card).await?;
        let mut done: BTreeMap<SurfaceId, Vec<Done>> = BTreeMap::new();
        for (surface, work) in tx.dues().done(&ids).await? {
            done.entry(surface).or_default().push(work);
        }
        let mut readings = BTreeMap::new();
        for &surface in &ids {
            for (kind, limit) in [
                (ReadingKind::GlossGu, MAX_READINGS),
                (ReadingKind::PtvWet, MAX_READINGS),
                (ReadingKind::Footfall, FOOTFALLS),
            ] {
                let rows = tx.readings().latest(surface, kind, limit).await?;
                let read = rows.iter().map(|row| Read {
                    at: row.taken_at,
                    value: domain::quantity::float(row.thousandths) / 1e3,
                });
                readings.insert((surface, kind), read.collect());
            }
        }
        Ok(Self {
            at,
            terms: Terms {
                months: request.months,
                rate: rate.ok_or_else(Problem::not_found)?,
                below_share: request
                    .below_share_pct
                    .map_or(figures.service.below_share, |pct| pct / 100.0),
            },
            entries: film::entries(ctx, tx, &rows).await?,
            floors: rows.into_iter().zip(request.uses()).collect(),
            site,
            card_row,
            card,
            done,
            readings,
        })
    }

    fn read(&self, surface: SurfaceId, kind: ReadingKind) -> &[Read] {
        self.readings
            .get(&(surface, kind))
            .map_or(&[][..], Vec::as_slice)
    }
}

/// The surfaces that a request names, in its order; what is wrong with them goes to `faults`.
async fn named(
    tx: &Tx,
    (site, today): (SiteId, NaiveDate),
    request: &ProgrammeRequest,
    faults: &mut Faults,
) -> Result<Vec<SurfaceRow>, Problem> {
    let ids = request.surface_ids();
    let known: Vec<SurfaceId> = ids.iter().flatten().copied().collect();
    let found = tx.surfaces().get_many(&known).await?;
    let mut by_id: BTreeMap<SurfaceId, SurfaceRow> =
        found.into_iter().map(|row| (row.id, row)).collect();
    let mut rows = Vec::with_capacity(ids.len());
    for (index, id) in ids.iter().enumerate() {
        let place = format!("#/surfaces/{index}/surface_id");
        // Taken out, so that a surface that is named twice is found once.
        let floor = id.and_then(|id| by_id.remove(&id));
        if let Some(row) = floor.filter(|row| row.site_id == site) {
            is_gone(&row, today, &place, faults)?;
            rows.push(row);
        } else {
            let detail = "There is no such surface at this site, or it is named twice.";
            faults.push(place, "reference_not_found", detail);
        }
    }
    Ok(rows)
}

fn work_out(
    ctx: &Context,
    facts: &Facts,
    request: &ProgrammeRequest,
) -> Result<ProgrammesView, Problem> {
    let mut made = Vec::with_capacity(facts.floors.len());
    for (floor, told) in &facts.floors {
        made.push((floor, of_floor(ctx, facts, floor, *told)?));
    }
    let head = Head {
        site: facts.site.row.id,
        currency: facts.site.row.currency,
        at: facts.at,
        first: Month::of(site::day_of(&facts.site.row, facts.at + HALF_MONTH))
            .ok_or_else(Problem::not_found)?,
        base: ctx.knowledge,
        card: (&facts.card_row, &facts.card),
        terms: facts.terms,
    };
    ProgrammesView::new(&head, request, &made)
}

/// Compares the programmes of one floor.
fn of_floor(
    ctx: &Context,
    facts: &Facts,
    floor: &SurfaceRow,
    told: Use,
) -> Result<Result<Comparison, NotReckoned>, Problem> {
    let survey = surface::survey_of(floor)?;
    let entries = facts.entries.get(&floor.id).map_or(&[][..], Vec::as_slice);
    let done = facts.done.get(&floor.id).map_or(&[][..], Vec::as_slice);
    let of = Floor {
        base: ctx.knowledge,
        area: floor.area,
        traffic: survey.traffic,
    };
    let state: State = state_at(of, entries, facts.at);
    let surveyed_at = surveyed_at(floor)?;
    let past = Past {
        entries,
        done,
        surveyed_at,
    };
    let (climate, wish) = (facts.site.climate, Wish::to(Goal::Maintain));
    let survey = Survey {
        film: state.film(),
        coated_at: state.coated_at(),
        traffic: survey.traffic.or(Some(Traffic::Medium)),
        ..survey
    };
    let input = PlanInput {
        survey: &survey,
        wish: &wish,
        climate: &climate,
        card: &facts.card,
        country: &facts.site.country,
        base: ctx.knowledge,
        own_products: &facts.site.own_products,
        stock: Stock::NONE,
        climate_assumed: facts.site.climate_assumed,
        now: facts.at,
        zone: site::zone_of(&facts.site.row),
    };
    let Ok(due) = due(&input, past) else {
        return Ok(Err(NotReckoned::Figure));
    };
    let walked = facts.read(floor.id, ReadingKind::Footfall);
    let n_walked = u32::try_from(walked.len()).map_or(1.0, f64::from);
    let counted = walked.iter().map(|read| read.value).sum::<f64>() / n_walked.max(1.0);
    let told = Use {
        passes_per_day: told.passes_per_day.or((counted > 0.0).then_some(counted)),
        ..told
    };
    Ok(compare(Asked {
        input,
        known: Known {
            now: facts.at,
            area: floor.area,
            surveyed_at,
            state: &state,
            done,
            gloss: facts.read(floor.id, ReadingKind::GlossGu),
            grip: facts.read(floor.id, ReadingKind::PtvWet),
        },
        told,
        due: &due,
        terms: facts.terms,
    }))
}

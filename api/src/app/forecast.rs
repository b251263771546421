//! What the work that falls due will cost, month by month, beside what may be spent.

use std::{
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

use chrono::{DateTime, NaiveDate, Utc};
use domain::{
    card::RateCard,
    due::forecast::{self, Job, MonthSum},
    film::State,
    id::{SiteId, SurfaceId, TenantId},
    knowledge::{KnowledgeBase, Product},
    money::{Currency, Money},
    plan::{PlanInput, Verdict},
    stock::Stock,
    survey::{Goal, Survey, Wish},
};
use infra::{
    row::{BudgetRow, DueRow, RateCardRow, SiteRow, SurfaceRow},
    store::DueFilter,
};

use super::{
    due::reckon,
    film,
    learning::{Estate, LearntByMonth},
    product, site, surface,
};
use crate::{
    body::Fault,
    context::Context,
    problem::{Code, Problem},
    wire::{
        self,
        forecast::{Cost, Forecast, OfSite, Year},
        report::Month,
        site::SiteView,
    },
};

/// How many floors one forecast goes over.
const MAX_SURFACES: usize = 2_000;
/// How many due dates it reads for them.
const MAX_ITEMS: u64 = 20_000;

/// What is asked for.
#[derive(Debug, Clone)]
pub(crate) struct Asked {
    /// Only this site.
    pub(crate) site_id: Option<SiteId>,
    /// Only this process.
    pub(crate) process: Option<String>,
    /// Also routine cleaning that nobody ever reported.
    pub(crate) routine: bool,
    /// The first month.
    pub(crate) from: Month,
    /// The month after the last.
    pub(crate) to: Month,
}

/// Makes a forecast; floors are priced on a thread of their own.
///
/// # Errors
/// `parameter_out_of_range` for more floors than one forecast goes over; `unavailable` while many floors are reckoned;
/// those of the store.
pub(crate) async fn make(
    ctx: &Arc<Context>,
    tenant: TenantId,
    asked: Asked,
) -> Result<Forecast, Problem> {
    reckon(ctx, tenant, asked.site_id).await?;
    let facts = load(ctx, tenant, asked).await?;
    let base = ctx.knowledge;
    let made = tokio::task::spawn_blocking(move || work_out(base, &facts));
    made.await.map_err(|error| Problem::internal(&error))?
}

/// All that a forecast is made from, as it is at one moment.
struct Facts {
    asked: Asked,
    at: DateTime<Utc>,
    items: Vec<DueRow>,
    floors: BTreeMap<SurfaceId, SurfaceRow>,
    states: BTreeMap<SurfaceId, State>,
    sites: Vec<SiteRow>,
    editions: Vec<RateCardRow>,
    own_products: Vec<Product>,
    budgets: Vec<BudgetRow>,
    told: Estate,
    spent: BTreeMap<SiteId, i64>,
}

async fn load(ctx: &Context, tenant: TenantId, asked: Asked) -> Result<Facts, Problem> {
    let (at, first) = (ctx.clock.now(), first_day(asked.from)?);
    let filter = DueFilter {
        site_id: asked.site_id,
        by: first_day(asked.to)?.pred_opt(),
        process: asked.process.clone(),
        routine: asked.routine,
        there_on: Some(first.max(at.date_naive())),
    };
    let tx = ctx.store.snapshot(tenant).await?;
    let page = tx.dues().list(&filter, None, MAX_ITEMS).await?;
    let surfaces: BTreeSet<SurfaceId> = page.items.iter().map(|row| row.surface_id).collect();
    if page.next.is_some() || surfaces.len() > MAX_SURFACES {
        let detail = "More than 2,000 floors have something due: ask for one site after another, or for one process.";
        let fault = Fault::parameter("site_id", "too_many", detail);
        return Err(Problem::with_faults(Code::ParameterOutOfRange, vec![fault]));
    }
    let surfaces: Vec<SurfaceId> = surfaces.into_iter().collect();
    let floors = tx.surfaces().get_many(&surfaces).await?;
    let sites: BTreeSet<SiteId> = floors.iter().map(|floor| floor.site_id).collect();
    let sites: Vec<SiteId> = sites.into_iter().collect();
    let year = asked.from.year();
    let years = (number(&year), number(&asked.to.year()));
    let before = (format!("{year}-01"), asked.from.to_string());
    let spent = tx.dues().spent(&sites, (&before.0, &before.1)).await?;
    Ok(Facts {
        at,
        states: film::states(ctx, &tx, &floors, at).await?,
        sites: tx.sites().get_many(&sites).await?,
        editions: tx.rate_cards().of_sites(&sites).await?,
        own_products: product::own(&tx).await?,
        budgets: tx.budgets().of_sites(&sites, years).await?,
        told: Estate::load(&tx).await?,
        spent: spent.into_iter().collect(),
        floors: floors.into_iter().map(|floor| (floor.id, floor)).collect(),
        items: page.items,
        asked,
    })
}

fn work_out(base: &'static KnowledgeBase, facts: &Facts) -> Result<Forecast, Problem> {
    let months: Vec<Month> = (0..facts.asked.from.until(facts.asked.to))
        .filter_map(|n| facts.asked.from.plus(n))
        .collect();
    let days: Vec<forecast::Month> = months
        .iter()
        .map(|month| Ok((first_day(*month)?, first_day(next(*month)?)?)))
        .collect::<Result<_, Problem>>()?;
    let mut by_site: BTreeMap<SiteId, Vec<DueRow>> = BTreeMap::new();
    for item in &facts.items {
        by_site.entry(item.site_id).or_default().push(item.clone());
    }
    let mut made = Forecast {
        at: facts.at,
        base,
        sites: Vec::new(),
        currencies: BTreeMap::new(),
        unpriced: BTreeMap::new(),
        over: (facts.asked.from, facts.asked.to),
        n_learnt: 0,
        months,
    };
    let mut known = LearntByMonth::default();
    for row in &facts.sites {
        let items = by_site.remove(&row.id).unwrap_or_default();
        let mut sums = vec![MonthSum::default(); days.len()];
        let today = site::day_of(row, facts.at);
        let mut card = site::card_among(&facts.editions, row, today)?;
        let view = wire::site::stored(&row.document)?;
        let not_learnt = view.not_learnt();
        let wanted = (row, not_learnt.as_slice());
        let learnt = facts
            .told
            .onto(base, &mut known, wanted, (facts.at, &mut card));
        made.n_learnt = made.n_learnt.saturating_add(learnt);
        let on = (facts, row, &card, &view);
        price(base, on, &items, (&days, &mut sums), &mut made.unpriced)?;
        let of_currency = made.currencies.entry(row.currency.code());
        let (_, all) =
            of_currency.or_insert_with(|| (row.currency, vec![Cost::default(); days.len()]));
        for (cost, month) in all.iter_mut().zip(&sums) {
            cost.add(month);
        }
        made.sites.push(OfSite {
            years: years(base, facts, row, (&made.months, &sums)),
            months: sums,
            site: row.clone(),
        });
    }
    Ok(made)
}

/// Adds what is due at a site to its months, each process on each floor at the price of the planner.
fn price(
    base: &'static KnowledgeBase,
    (facts, row, card, view): (&Facts, &SiteRow, &RateCard, &SiteView),
    items: &[DueRow],
    (days, sums): (&[forecast::Month], &mut [MonthSum]),
    unpriced: &mut BTreeMap<(String, &'static str), u64>,
) -> Result<(), Problem> {
    let today = site::day_of(row, facts.at);
    let (climate, wish) = (view.climate(), Wish::to(Goal::Maintain));
    let mut items: Vec<&DueRow> = items.iter().collect();
    items.sort_by_key(|item| item.surface_id);
    for of_floor in items.chunk_by(|one, other| one.surface_id == other.surface_id) {
        let known = of_floor.first().and_then(|item| {
            let floor = facts.floors.get(&item.surface_id)?;
            Some((floor, facts.states.get(&item.surface_id)?))
        });
        let (floor, state) = known.ok_or_else(Problem::not_found)?;
        let survey = Survey {
            film: state.film(),
            coated_at: state.coated_at(),
            ..surface::survey_of(floor)?
        };
        let input = PlanInput {
            survey: &survey,
            wish: &wish,
            climate: &climate,
            card,
            country: &row.country,
            base,
            own_products: &facts.own_products,
            stock: Stock::NONE,
            climate_assumed: view.climate_is_assumed(),
            now: facts.at,
            zone: site::zone_of(row),
        };
        for item in of_floor {
            match job(&input, &item.due.process) {
                Ok(job) => {
                    let due = (&item.due, item.gone_on);
                    forecast::add(days, sums, due, &job, today);
                }
                Err(why) => {
                    let n = unpriced.entry((item.due.process.clone(), why)).or_default();
                    *n = n.saturating_add(1);
                }
            }
        }
    }
    Ok(())
}

/// What a process costs on a floor, or why that cannot be said.
fn job(input: &PlanInput<'_>, process: &str) -> Result<Job, &'static str> {
    let process = input.base.process(process).ok_or("unknown")?;
    match forecast::price(input, process) {
        Ok((Verdict::Refused, _)) => Err(Verdict::Refused.word()),
        Ok((_, job)) => Ok(job),
        Err(_floor_or_figure) => Err("unknown"),
    }
}

/// The calendar years of a site, as far as the forecast goes.
fn years(
    base: &KnowledgeBase,
    facts: &Facts,
    row: &SiteRow,
    (months, sums): (&[Month], &[MonthSum]),
) -> Vec<Year> {
    let mut years: Vec<Year> = Vec::new();
    let first = facts.asked.from.year();
    for (month, sum) in months.iter().zip(sums) {
        let year = number(&month.year());
        if years.last().is_none_or(|last| last.number != year) {
            let spent = facts.spent.get(&row.id).copied().unwrap_or(0);
            let is_first = month.year() == first;
            let mut budgets = facts.budgets.iter();
            years.push(Year {
                number: year,
                n_months: 0,
                cost: Cost::default(),
                spent: Money {
                    amount: if is_first { spent } else { 0 },
                    currency: row.currency,
                },
                budget: budgets
                    .find(|budget| budget.site_id == row.id && budget.year == year)
                    .cloned(),
                chance_within: None,
            });
        }
        if let Some(last) = years.last_mut() {
            last.n_months = last.n_months.saturating_add(1);
            last.cost.add(sum);
            if month.to_string().ends_with("-12") {
                last.chance_within = chance(base, last, row.currency);
            }
        }
    }
    years
}

/// How likely the budget of a year is enough for what was spent in it and what falls due until its end.
fn chance(base: &KnowledgeBase, year: &Year, currency: Currency) -> Option<f64> {
    let budget = year.budget.as_ref()?;
    let left = budget.net.amount.saturating_sub(year.spent.amount);
    let right = budget.net.currency == currency;
    let left = domain::quantity::float(left);
    right.then(|| year.cost.sum.chance_within(left, base.spread.shared))
}

fn number(year: &str) -> i64 {
    year.parse().unwrap_or(0)
}

/// The first day of a month.
fn first_day(month: Month) -> Result<NaiveDate, Problem> {
    month.first_day().ok_or_else(Problem::not_found)
}

fn next(month: Month) -> Result<Month, Problem> {
    month.plus(1).ok_or_else(Problem::not_found)
}

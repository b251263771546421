//! A forecast, on the wire.

mod chart;
mod told;

use domain::{estimate::spread::Sum, money::Currency};
use serde::Serialize;
use utoipa::ToSchema;

pub(crate) use chart::chart;
use told::money;
pub(crate) use told::{Cost, Forecast, OfSite, Year};

use super::{
    csv::{self, Cell},
    money::MoneyView,
    number,
    plan::Named,
    time,
};
use crate::problem::Problem;

/// What jobs come to, before tax.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ForecastCost {
    /// How many jobs fall due.
    #[schema(minimum = 0)]
    n_jobs: u64,
    /// On average.
    expected: MoneyView,
    /// No more than this in half of all cases.
    p50: MoneyView,
    /// No more than this in four of five cases.
    p80: MoneyView,
    /// No more than this in nine of ten cases.
    p90: MoneyView,
}

/// A month of a site.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ForecastMonth {
    /// The site.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    site_id: String,
    /// What people call it.
    #[schema(max_length = 200)]
    site_name: String,
    /// The month.
    #[schema(max_length = 7, pattern = "^[0-9]{4}-(0[1-9]|1[0-2])$")]
    month: String,
    /// What falls due in it.
    cost: ForecastCost,
}

/// A year of a site.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ForecastYear {
    /// The site.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    site_id: String,
    /// The year.
    #[schema(minimum = 0, maximum = 9999)]
    year: i64,
    /// How many of its months the forecast covers.
    #[schema(minimum = 1, maximum = 12)]
    n_months: i64,
    /// What falls due in them.
    cost: ForecastCost,
    /// What was spent in its months before them, by completions that count.
    spent: MoneyView,
    /// What may be spent in the year.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    budget: Option<MoneyView>,
    /// How likely that is enough, from 0 to 1; absent without a budget, and where the forecast ends before the year.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 1)]
    chance_within: Option<f64>,
}

/// All sites of a currency over all months.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ForecastTotal {
    /// The currency.
    #[schema(min_length = 3, max_length = 3, pattern = "^[A-Z]{3}$")]
    currency: &'static str,
    /// What falls due.
    cost: ForecastCost,
}

/// What has no price in a forecast.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Unpriced {
    /// The process.
    process: Named,
    /// `refused`: the rules refuse it on these floors as they are; `unknown`: its figures cannot be worked out there.
    #[schema(max_length = 20, pattern = "^[a-z]+$")]
    why: &'static str,
    /// On how many floors.
    #[schema(minimum = 1)]
    n_floors: u64,
}

/// Why a forecast says what it says.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ForecastBasis {
    /// In words.
    #[schema(max_length = 1000)]
    statement: &'static str,
    /// How many figures of its sites were learnt from jobs, each with the doubt that these have left.
    #[schema(minimum = 0)]
    n_learnt: usize,
    /// The σ of the logarithm of what goes with working time, where no job has told.
    labour_sigma: f64,
    /// The σ of the logarithm of what goes with what is used up, where no job has told.
    material_sigma: f64,
    /// How far jobs turn out alike: the correlation of their logarithms.
    shared: f64,
    /// Where these figures come from.
    #[schema(max_length = 500)]
    source: String,
    /// How far they can be trusted.
    #[schema(max_length = 20)]
    grade: &'static str,
}

/// A forecast.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ForecastView {
    /// The first month.
    #[schema(max_length = 7)]
    from: String,
    /// The month after the last.
    #[schema(max_length = 7)]
    to: String,
    /// When it was made.
    #[schema(format = DateTime, max_length = 24)]
    made_at: String,
    /// The edition of the knowledge base.
    #[schema(max_length = 40)]
    knowledge_version: String,
    /// Each site and month, in the order of sites and months.
    #[schema(max_items = 72_000)]
    months: Vec<ForecastMonth>,
    /// Each site and year.
    #[schema(max_items = 8_000)]
    years: Vec<ForecastYear>,
    /// All of it, by currency.
    #[schema(max_items = 200)]
    totals: Vec<ForecastTotal>,
    /// What has no price and is in no sum.
    #[schema(max_items = 200)]
    unpriced: Vec<Unpriced>,
    /// Why the numbers are what they are.
    basis: ForecastBasis,
}

/// What a forecast takes for granted.
const STATEMENT: &str = "Each process that is due on a floor is done on its day, what is overdue today, and again after its \
    interval, by itself. It costs what the planner reckons for it on the floor as it lies there now, at the rates of today, without \
    what is left over, its products as its plan pays them. Each line of it has the doubt that jobs have left, or the usual one. Sums are lognormal by their mean and variance (Fenton-Wilkinson); percentiles are never added. Before tax.";

/// How a sum is told in a currency.
fn cost_of(n_jobs: u64, sum: &Sum, rho: f64, currency: Currency) -> ForecastCost {
    let told = |amount: f64| money(amount, currency).into();
    let found = sum.percentiles(rho);
    ForecastCost {
        n_jobs,
        expected: told(sum.mean()),
        p50: told(found.p50),
        p80: told(found.p80),
        p90: told(found.p90),
    }
}

fn months(forecast: &Forecast) -> impl Iterator<Item = ForecastMonth> {
    let rho = forecast.base.spread.shared;
    forecast.sites.iter().flat_map(move |site| {
        let pairs = forecast.months.iter().zip(&site.months);
        pairs.map(move |(month, sum)| ForecastMonth {
            site_id: site.site.id.to_string(),
            site_name: site.site.name.clone(),
            month: month.to_string(),
            cost: cost_of(sum.n_jobs, &sum.sum, rho, site.site.currency),
        })
    })
}

fn year(forecast: &Forecast, site: &OfSite, year: &Year) -> ForecastYear {
    let rho = forecast.base.spread.shared;
    ForecastYear {
        site_id: site.site.id.to_string(),
        year: year.number,
        n_months: year.n_months,
        cost: cost_of(year.cost.n_jobs, &year.cost.sum, rho, site.site.currency),
        spent: year.spent.into(),
        budget: year.budget.as_ref().map(|budget| budget.net.into()),
        chance_within: year.chance_within.map(number::figure),
    }
}

fn total(forecast: &Forecast, currency: Currency, months: &[Cost]) -> ForecastTotal {
    let mut all = Sum::default();
    for month in months {
        all.add_all(&month.sum);
    }
    let n_jobs = months.iter().map(|month| month.n_jobs).sum();
    ForecastTotal {
        currency: currency.code(),
        cost: cost_of(n_jobs, &all, forecast.base.spread.shared, currency),
    }
}

impl From<&Forecast> for ForecastView {
    fn from(forecast: &Forecast) -> Self {
        let spread = &forecast.base.spread;
        let years = forecast.sites.iter().flat_map(|site| {
            let years = site.years.iter();
            years.map(|one| year(forecast, site, one))
        });
        let totals = forecast.currencies.values();
        let unpriced = forecast.unpriced.iter().map(|((key, why), n)| Unpriced {
            process: Named {
                name: forecast
                    .base
                    .process(key)
                    .map_or_else(|| key.clone(), |process| process.name.clone()),
                key: key.clone(),
            },
            why,
            n_floors: *n,
        });
        Self {
            from: forecast.over.0.to_string(),
            to: forecast.over.1.to_string(),
            made_at: time::write(forecast.at),
            knowledge_version: forecast.base.version.clone(),
            months: months(forecast).collect(),
            years: years.collect(),
            totals: totals
                .map(|(currency, months)| total(forecast, *currency, months))
                .collect(),
            unpriced: unpriced.collect(),
            basis: ForecastBasis {
                statement: STATEMENT,
                n_learnt: forecast.n_learnt,
                labour_sigma: spread.labour,
                material_sigma: spread.material,
                shared: spread.shared,
                source: spread.source.clone(),
                grade: spread.grade.word(),
            },
        }
    }
}

/// The months of a forecast as a table.
///
/// # Errors
/// `internal` if it cannot be written.
pub(crate) fn table(forecast: &Forecast) -> Result<Vec<u8>, Problem> {
    const HEADER: [&str; 9] = [
        "site_id",
        "site_name",
        "month",
        "currency",
        "n_jobs",
        "expected_net",
        "p50_net",
        "p80_net",
        "p90_net",
    ];
    let rows = months(forecast).map(|row| {
        let cost = row.cost;
        let currency = cost.expected.currency.clone();
        let amount = |money: MoneyView| Cell::Number(money.amount);
        vec![
            Cell::Text(row.site_id),
            Cell::Text(row.site_name),
            Cell::Text(row.month),
            Cell::Text(currency),
            Cell::Number(cost.n_jobs.to_string()),
            amount(cost.expected),
            amount(cost.p50),
            amount(cost.p80),
            amount(cost.p90),
        ]
    });
    csv::write(&HEADER, rows).map_err(|error| Problem::internal(&error))
}

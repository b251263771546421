//! A forecast as it is handed to whoever tells it.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use domain::{
    due::forecast::MonthSum,
    estimate::spread::Sum,
    knowledge::KnowledgeBase,
    money::{Currency, Money},
    quantity::whole,
};
use infra::row::{BudgetRow, SiteRow};

use crate::wire::report::Month;

/// What a stretch of time comes to.
#[derive(Debug, Clone, Default)]
pub(crate) struct Cost {
    /// How many jobs fall due.
    pub(crate) n_jobs: u64,
    /// What they cost, in 1/10,000 of the currency's unit.
    pub(crate) sum: Sum,
}

impl Cost {
    /// Adds a month.
    pub(crate) fn add(&mut self, month: &MonthSum) {
        self.n_jobs = self.n_jobs.saturating_add(month.n_jobs);
        self.sum.add_all(&month.sum);
    }
}

/// A site with what its months come to, in their order.
pub(crate) struct OfSite {
    /// The site.
    pub(crate) site: SiteRow,
    /// Its months.
    pub(crate) months: Vec<MonthSum>,
    /// Its years.
    pub(crate) years: Vec<Year>,
}

/// A calendar year of a site.
pub(crate) struct Year {
    /// The year.
    pub(crate) number: i64,
    /// How many of its months the forecast covers.
    pub(crate) n_months: i64,
    /// What falls due in them.
    pub(crate) cost: Cost,
    /// What was spent in its months before those.
    pub(crate) spent: Money,
    /// What may be spent in it.
    pub(crate) budget: Option<BudgetRow>,
    /// How likely that is enough, from 0 to 1; nothing without a budget, or where the forecast ends before the year.
    pub(crate) chance_within: Option<f64>,
}

/// A forecast.
pub(crate) struct Forecast {
    /// The first month and the one after the last.
    pub(crate) over: (Month, Month),
    /// When it was made.
    pub(crate) at: DateTime<Utc>,
    /// What is known.
    pub(crate) base: &'static KnowledgeBase,
    /// How many figures of its sites were learnt from jobs.
    pub(crate) n_learnt: usize,
    /// The months.
    pub(crate) months: Vec<Month>,
    /// The sites, in the order of their registration.
    pub(crate) sites: Vec<OfSite>,
    /// All months of all sites of a currency, in the order of the months.
    pub(crate) currencies: BTreeMap<&'static str, (Currency, Vec<Cost>)>,
    /// How many due dates could not be priced, by process and by what the rules say of it there.
    pub(crate) unpriced: BTreeMap<(String, &'static str), u64>,
}

/// An amount of a sum in a currency.
pub(crate) fn money(amount: f64, currency: Currency) -> Money {
    Money {
        amount: whole(amount).unwrap_or(i64::MAX),
        currency,
    }
}

//! Cost reports on the wire: planned beside actual, as JSON and as a table.

pub(crate) mod chart;
mod month;
mod parquet;
mod table;
mod waterfall;

use domain::{
    money::{Currency, Money},
    quantity::{Area, Labour, Rounding, Volume, divide},
};
use infra::store::{CostRow, CostSums, Dim};
use serde::Serialize;
use utoipa::ToSchema;

use super::{money::MoneyView, number};

pub(crate) use chart::{CONTENT_TYPE as SVG, Chart, MAX_BARS, chart};
pub(crate) use month::Month;
pub(crate) use parquet::{CONTENT_TYPE as PARQUET, parquet};
pub(crate) use table::{Layout, csv};
pub(crate) use waterfall::waterfall;

/// What a report can be grouped by, in the words of the wire.
pub(crate) const DIMS: &[(&str, Dim)] = &[
    ("site", Dim::Site),
    ("storey", Dim::Storey),
    ("material", Dim::Material),
    ("process", Dim::Process),
    ("month", Dim::Month),
    ("quarter", Dim::Quarter),
    ("year", Dim::Year),
    ("surface", Dim::Surface),
    ("stage", Dim::Stage),
    ("product_class", Dim::ProductClass),
    ("contractor", Dim::Contractor),
];

/// A dimension in the words of the wire; empty for one that nobody can ask for.
pub(crate) fn word(dim: Dim) -> &'static str {
    let named = DIMS.iter().find(|(_, named)| *named == dim);
    named.map_or("", |(word, _)| *word)
}

/// What people call the things that a row is grouped by.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct RowNames {
    /// The site.
    pub(crate) site: Option<String>,
    /// The surface.
    pub(crate) surface: Option<String>,
    /// The contractor.
    pub(crate) contractor: Option<String>,
}

/// A cost before tax, and the tax.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct NetAndTax {
    /// Before tax.
    net: MoneyView,
    /// The tax on it.
    tax: MoneyView,
}

impl NetAndTax {
    fn new(net: i64, tax: i64, currency: Currency) -> Self {
        let money = |amount| MoneyView::from(Money { amount, currency });
        Self {
            net: money(net),
            tax: money(tax),
        }
    }
}

/// The sums of one group, or of all groups of one currency. What it was not grouped by is left out; what was planned
/// is null if none of its completions cites a plan.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
#[expect(
    clippy::option_option,
    reason = "left out where it is not grouped by, null where the group has none"
)]
pub(crate) struct CostRowView {
    /// The site.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    site_id: Option<String>,
    /// What people call the site.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 200)]
    site_name: Option<String>,
    /// The storey at the time of the work.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 200)]
    storey: Option<String>,
    /// The material at the time of the work.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 100)]
    material: Option<String>,
    /// The process that was done.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 100)]
    process: Option<String>,
    /// The month in which the work began, in the site's time zone.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 7, pattern = "^[0-9]{4}-[0-9]{2}$")]
    month: Option<String>,
    /// The quarter that the month lies in.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 7, pattern = "^[0-9]{4}-Q[1-4]$")]
    quarter: Option<String>,
    /// The year that the month lies in.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 4, pattern = "^[0-9]{4}$")]
    year: Option<String>,
    /// The surface.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    surface_id: Option<String>,
    /// What people call the surface.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 200)]
    surface_name: Option<String>,
    /// The part of floor care; null for what belongs to none, such as overhead and tax.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, max_length = 20)]
    stage: Option<Option<String>>,
    /// The class of product; null for what is no product.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, max_length = 100)]
    product_class: Option<Option<String>>,
    /// Who did it; null for nobody named, and for what is committed.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, max_length = 40, pattern = "^con_[0-9a-f-]{36}$")]
    contractor_id: Option<Option<String>>,
    /// What people call the contractor.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 200)]
    contractor_name: Option<String>,
    /// The completion, where completions are listed.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 40, pattern = "^cmp_[0-9a-f-]{36}$")]
    completion_id: Option<String>,
    /// Only with `top`: whether this row is the sum of all that are not among the first.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    is_other: Option<bool>,
    /// The currency of the money; two are never added.
    #[schema(min_length = 3, max_length = 3, pattern = "^[A-Z]{3}$")]
    currency: &'static str,
    /// How many completions; by stage or class of product, those that have such a line.
    #[schema(minimum = 0)]
    n_completions: i64,
    /// How many of them cite no plan.
    #[schema(minimum = 0)]
    n_unplanned: i64,
    /// The area that was worked on in m², each completion once; by stage or class of product, that of completions that
    /// have such a line.
    #[schema(minimum = 0)]
    area_m2: f64,
    /// Only with `rework_days`: the area in m² that was prepared or coated again so soon, beyond the whole floor.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    rework_m2: Option<f64>,
    /// Only with `rework_days`: its share of `area_m2`, 0 to 1; 0 where nothing was done.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 1)]
    rework_share: Option<f64>,
    /// What the plans said, for the shares of them that were done.
    planned: Option<NetAndTax>,
    /// What is left to do of accepted plans. It counts in the month in which the plan was accepted, in the site's time
    /// zone, and has no contractor.
    committed: NetAndTax,
    /// What it cost: reported hours and litres at the rate card of the day, or what was charged.
    actual: NetAndTax,
    /// Actual less planned, before tax. Unplanned work is in it.
    variance_net: Option<MoneyView>,
    /// What the variance is made of; the parts add up to it.
    variance_parts: Option<VarianceParts>,
    /// Working hours as planned.
    #[schema(minimum = 0)]
    planned_hours: Option<f64>,
    /// Working hours as reported.
    #[schema(minimum = 0)]
    actual_hours: f64,
    /// Litres as planned.
    #[schema(minimum = 0)]
    planned_l: Option<f64>,
    /// Litres as reported.
    #[schema(minimum = 0)]
    actual_l: f64,
    /// Water in litres that the reported products were made up with, at their own dilution: nobody reports it, and rinsing
    /// is not in it.
    #[schema(minimum = 0)]
    water_l: f64,
    /// Volatile organic compounds in grams in the reported products, by their data sheets.
    #[schema(minimum = 0)]
    voc_g: f64,
    /// Litres of reported products whose sheet does not tell them; `voc_g` holds nothing of these.
    #[schema(minimum = 0)]
    voc_unknown_l: f64,
    /// Actual cost of a m² before tax.
    actual_per_m2: Option<MoneyView>,
    /// The area in m² of the floors that were worked on, each once, as they are registered now; rows that share a floor
    /// each have it. Null where the row is the rest.
    floor_m2: Option<f64>,
    /// Actual cost before tax of a m² of these floors in a year: over the months of the row, a month being a twelfth.
    actual_per_m2_year: Option<MoneyView>,
}

/// What a variance is made of, before tax.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct VarianceParts {
    /// Rates, pack sizes and charges: what is neither of the others.
    price: MoneyView,
    /// Litres that were used beyond the plan, or saved, at the planned price of a litre.
    quantity: MoneyView,
    /// Hours beyond the plan, or saved, at the planned rate; rests are planned hours.
    productivity: MoneyView,
    /// Contingency, overhead and margin by the rate card, less those that were planned.
    overheads: MoneyView,
    /// Work without a plan, or beyond what was left of it: all that it cost.
    unplanned: MoneyView,
}

impl VarianceParts {
    fn new(sums: &CostSums, money: impl Fn(i64) -> MoneyView) -> Self {
        Self {
            price: money(sums.price_net()),
            quantity: money(sums.quantity_net),
            productivity: money(sums.productivity_net),
            overheads: money(sums.overheads_net),
            unplanned: money(sums.unplanned_net),
        }
    }
}

/// How a row is shown: what it is grouped by, over how many months, and whether it is the sum of the rest.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Shown<'a> {
    /// What the report is grouped by.
    pub(crate) dims: &'a [Dim],
    /// Over how many months the row goes.
    pub(crate) months: i32,
    /// Whether the row is the sum of the rest, where only the first are shown.
    pub(crate) is_other: Option<bool>,
    /// Whether what was done again is told.
    pub(crate) has_rework: bool,
}

impl CostRowView {
    /// The sums as they are shown.
    pub(crate) fn new(row: &CostRow, shown: Shown<'_>, names: RowNames) -> Self {
        let money = |amount| {
            let currency = row.currency;
            MoneyView::from(Money { amount, currency })
        };
        let (key, sums) = (&row.key, &row.sums);
        let grouped = |dim| shown.dims.contains(&dim) && shown.is_other != Some(true);
        let planned = sums.n_unplanned < sums.n_completions;
        let hours = |seconds| number::hours(Labour::from_seconds(seconds));
        let litres = |ml| number::litres(Volume::from_ml(ml));
        let floor = Area::from_mm2(row.floor_mm2);
        let has_floor = shown.is_other != Some(true);
        let by_year = yearly(sums.actual_net, floor, shown.months).filter(|_| has_floor);
        Self {
            site_id: key.site_id.map(|id| id.to_string()),
            site_name: names.site,
            storey: key.storey.clone(),
            material: key.material.clone(),
            process: key.process.clone(),
            month: key.month.clone(),
            quarter: key.quarter.clone(),
            year: key.year.clone(),
            surface_id: key.surface_id.map(|id| id.to_string()),
            surface_name: names.surface,
            stage: grouped(Dim::Stage).then(|| key.stage.clone()),
            product_class: grouped(Dim::ProductClass).then(|| key.product_class.clone()),
            contractor_id: grouped(Dim::Contractor)
                .then(|| key.contractor_id.map(|id| id.to_string())),
            contractor_name: names.contractor,
            completion_id: key.completion_id.map(|id| id.to_string()),
            is_other: shown.is_other,
            currency: row.currency.code(),
            n_completions: sums.n_completions,
            n_unplanned: sums.n_unplanned,
            area_m2: number::square_metres(Area::from_mm2(sums.area_mm2)),
            rework_m2: shown
                .has_rework
                .then(|| number::square_metres(Area::from_mm2(row.rework_mm2))),
            rework_share: shown
                .has_rework
                .then(|| share(row.rework_mm2, sums.area_mm2)),
            planned: planned
                .then(|| NetAndTax::new(sums.planned_net, sums.planned_tax, row.currency)),
            committed: NetAndTax::new(row.committed_net, row.committed_tax, row.currency),
            actual: NetAndTax::new(sums.actual_net, sums.actual_tax, row.currency),
            variance_net: planned.then(|| money(sums.variance_net())),
            variance_parts: planned.then(|| VarianceParts::new(sums, money)),
            planned_hours: planned.then(|| hours(sums.planned_seconds)),
            actual_hours: hours(sums.actual_seconds),
            planned_l: planned.then(|| litres(sums.planned_ml)),
            actual_l: litres(sums.actual_ml),
            water_l: litres(sums.water_ml),
            voc_g: number::grams(sums.voc_mg),
            voc_unknown_l: litres(sums.voc_unknown_ml),
            actual_per_m2: per_m2(sums.actual_net, Area::from_mm2(sums.area_mm2)).map(money),
            floor_m2: has_floor.then(|| number::square_metres(floor)),
            actual_per_m2_year: by_year.map(money),
        }
    }
}

/// A share with four digits; zero of nothing.
fn share(part: i64, whole: i64) -> f64 {
    let parts = i128::from(part) * 10_000;
    let share = divide(parts, i128::from(whole), Rounding::HalfEven);
    domain::quantity::float(share.unwrap_or(0)) / 1e4
}

/// An amount by area and year, for one that fell due in so many months; none without area.
fn yearly(amount: i64, area: Area, months: i32) -> Option<i64> {
    let per = i128::from(amount) * 12_000_000;
    let by = i128::from(area.mm2()) * i128::from(months);
    divide(per, by, Rounding::HalfAwayFromZero)
}

/// An amount by area; none without area.
fn per_m2(amount: i64, area: Area) -> Option<i64> {
    let per = i128::from(amount) * 1_000_000;
    divide(per, i128::from(area.mm2()), Rounding::HalfAwayFromZero)
}

/// Costs of the months from `from` up to, not including, `to`.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct CostReportView {
    /// The first month.
    #[schema(max_length = 7, pattern = "^[0-9]{4}-[0-9]{2}$")]
    from: String,
    /// The month after the last.
    #[schema(max_length = 7, pattern = "^[0-9]{4}-[0-9]{2}$")]
    to: String,
    /// What the rows are grouped by.
    #[schema(max_items = 11)]
    group_by: Vec<&'static str>,
    /// The groups, in the order of what they are grouped by.
    #[schema(max_items = 10_000)]
    rows: Vec<CostRowView>,
    /// The sums of the rows, one for each currency.
    #[schema(max_items = 200)]
    totals: Vec<CostRowView>,
}

impl CostReportView {
    /// The report as it is sent.
    pub(crate) fn new(
        (from, to): (Month, Month),
        group_by: &[Dim],
        rows: Vec<CostRowView>,
        totals: Vec<CostRowView>,
    ) -> Self {
        Self {
            from: from.to_string(),
            to: to.to_string(),
            group_by: group_by.iter().map(|dim| word(*dim)).collect(),
            rows,
            totals,
        }
    }
}

/// A page of the completions behind a report.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ReportedCompletionPage {
    /// What each completion adds to the sums, in the order of recording. Nothing is committed here: that is of plans.
    #[schema(max_items = 200)]
    items: Vec<CostRowView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}

#[cfg(test)]
mod tests;

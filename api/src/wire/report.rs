//! Cost reports on the wire: planned beside actual, as JSON and as a table.

mod month;
mod table;

use domain::{
    money::{Currency, Money},
    quantity::{Area, Labour, Rounding, Volume, divide},
};
use infra::store::{CostRow, Dim};
use serde::Serialize;
use utoipa::ToSchema;

use super::{money::MoneyView, number};

pub(crate) use month::Month;
pub(crate) use table::csv;

/// What a report can be grouped by, in the words of the wire.
pub(crate) const DIMS: &[(&str, Dim)] = &[
    ("site", Dim::Site),
    ("storey", Dim::Storey),
    ("material", Dim::Material),
    ("process", Dim::Process),
    ("month", Dim::Month),
    ("surface", Dim::Surface),
    ("stage", Dim::Stage),
    ("product_class", Dim::ProductClass),
    ("contractor", Dim::Contractor),
];

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
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
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
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
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
    /// What the plans said, for the shares of them that were done.
    planned: Option<NetAndTax>,
    /// What is left to do of accepted plans. It counts in the month in which the plan was accepted, in the site's time
    /// zone, and has no contractor.
    committed: NetAndTax,
    /// What it cost: reported hours and litres at the rate card of the day, or what was charged.
    actual: NetAndTax,
    /// Actual less planned, before tax. Unplanned work is in it.
    variance_net: Option<MoneyView>,
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
    /// Actual cost of a m² before tax.
    actual_per_m2: Option<MoneyView>,
}

impl CostRowView {
    /// The sums as they are shown, grouped by `dims`.
    pub(crate) fn new(row: &CostRow, dims: &[Dim], names: RowNames) -> Self {
        let money = |amount| {
            let currency = row.currency;
            MoneyView::from(Money { amount, currency })
        };
        let planned = row.n_unplanned < row.n_completions;
        let hours = |seconds| number::hours(Labour::from_seconds(seconds));
        let litres = |ml| number::litres(Volume::from_ml(ml));
        Self {
            site_id: row.site_id.map(|id| id.to_string()),
            site_name: names.site,
            storey: row.storey.clone(),
            material: row.material.clone(),
            process: row.process.clone(),
            month: row.month.clone(),
            surface_id: row.surface_id.map(|id| id.to_string()),
            surface_name: names.surface,
            stage: dims.contains(&Dim::Stage).then(|| row.stage.clone()),
            product_class: dims
                .contains(&Dim::ProductClass)
                .then(|| row.product_class.clone()),
            contractor_id: dims
                .contains(&Dim::Contractor)
                .then(|| row.contractor_id.map(|id| id.to_string())),
            contractor_name: names.contractor,
            currency: row.currency.code(),
            n_completions: row.n_completions,
            n_unplanned: row.n_unplanned,
            area_m2: number::square_metres(row.area),
            planned: planned
                .then(|| NetAndTax::new(row.planned_net, row.planned_tax, row.currency)),
            committed: NetAndTax::new(row.committed_net, row.committed_tax, row.currency),
            actual: NetAndTax::new(row.actual_net, row.actual_tax, row.currency),
            variance_net: planned.then(|| money(row.actual_net.saturating_sub(row.planned_net))),
            planned_hours: planned.then(|| hours(row.planned_seconds)),
            actual_hours: hours(row.actual_seconds),
            planned_l: planned.then(|| litres(row.planned_ml)),
            actual_l: litres(row.actual_ml),
            actual_per_m2: per_m2(row.actual_net, row.area).map(money),
        }
    }
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
    #[schema(max_items = 9)]
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
        totals: &[CostRow],
    ) -> Self {
        let word = |dim: &Dim| DIMS.iter().find(|(_, named)| named == dim);
        Self {
            from: from.to_string(),
            to: to.to_string(),
            group_by: group_by
                .iter()
                .filter_map(|dim| word(dim).map(|(word, _)| *word))
                .collect(),
            rows,
            totals: totals
                .iter()
                .map(|total| CostRowView::new(total, &[], RowNames::default()))
                .collect(),
        }
    }
}

#[cfg(test)]
mod tests;

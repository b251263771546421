//! Completions and cost reports as the demonstration reads them.

use serde::Deserialize;

use super::Money;

/// A report of work done as it was kept.
#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Completion {
    pub(in crate::demo) status: String,
    pub(in crate::demo) unplanned: bool,
    pub(in crate::demo) month: String,
    pub(in crate::demo) planned_share: f64,
    #[serde(default)]
    pub(in crate::demo) charged: Option<Money>,
    pub(in crate::demo) deviations: Vec<Deviation>,
    pub(in crate::demo) money: Sums,
    pub(in crate::demo) lines: Vec<CompletionLine>,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Deviation {
    pub(in crate::demo) code: String,
    pub(in crate::demo) statement: String,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Sums {
    pub(in crate::demo) planned_net: Option<Money>,
    pub(in crate::demo) actual_net: Money,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct CompletionLine {
    pub(in crate::demo) kind: String,
    pub(in crate::demo) stage: Option<String>,
    pub(in crate::demo) product_class: Option<String>,
    pub(in crate::demo) planned_hours: Option<f64>,
    pub(in crate::demo) actual_hours: f64,
    pub(in crate::demo) planned_l: Option<f64>,
    pub(in crate::demo) actual_l: f64,
    pub(in crate::demo) planned: Option<Money>,
    pub(in crate::demo) actual: Money,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct CostReport {
    pub(in crate::demo) rows: Vec<CostRow>,
    pub(in crate::demo) totals: Vec<CostRow>,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct CostRow {
    #[serde(default)]
    pub(in crate::demo) site_name: Option<String>,
    #[serde(default)]
    pub(in crate::demo) process: Option<String>,
    #[serde(default)]
    pub(in crate::demo) month: Option<String>,
    pub(in crate::demo) currency: String,
    pub(in crate::demo) n_completions: i64,
    pub(in crate::demo) n_unplanned: i64,
    pub(in crate::demo) area_m2: f64,
    pub(in crate::demo) planned: Option<NetAndTax>,
    pub(in crate::demo) actual: NetAndTax,
    pub(in crate::demo) variance_net: Option<Money>,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct NetAndTax {
    pub(in crate::demo) net: Money,
}

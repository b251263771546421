//! The lines of a completion and their sums, planned beside actual.

use domain::{
    money::{Currency, Money},
    quantity::{Labour, Volume},
};
use infra::row::CompletionLineRow;
use serde::Serialize;
use utoipa::ToSchema;

use crate::wire::{money::MoneyView, number};

/// The sums of a completion. What was planned is null without a plan.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct CompletionMoney {
    /// As planned for this share of the plan, before tax.
    planned_net: Option<MoneyView>,
    /// What the rate card of the day gives for what was reported, before tax.
    computed_net: MoneyView,
    /// What counts, before tax: what was charged, else the computed amount.
    actual_net: MoneyView,
    /// Tax as planned.
    planned_tax: Option<MoneyView>,
    /// The tax that counts.
    actual_tax: MoneyView,
}

/// One line of a completion, planned beside actual. What was planned is null without a plan.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct CompletionLine {
    /// What it pays for: a kind of a plan's line, or `charged`.
    #[schema(max_length = 20, pattern = "^[a-z]+$")]
    kind: String,
    /// The part of floor care, where it belongs to one.
    #[schema(max_length = 20)]
    stage: Option<String>,
    /// The class of product, where it is for one.
    #[schema(max_length = 100)]
    product_class: Option<String>,
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
    /// Money as planned.
    planned: Option<MoneyView>,
    /// Reported hours and litres at the rate card.
    computed: MoneyView,
    /// What counts.
    actual: MoneyView,
}

impl CompletionMoney {
    /// The sums of lines.
    pub(super) fn new(planned: bool, currency: Currency, lines: &[CompletionLineRow]) -> Self {
        let sum = |tax: bool, amount: fn(&CompletionLineRow) -> i64| {
            let of_kind = lines.iter().filter(|line| (line.kind == "tax") == tax);
            let amount = of_kind.fold(0_i64, |sum, line| sum.saturating_add(amount(line)));
            MoneyView::from(Money { amount, currency })
        };
        Self {
            planned_net: planned.then(|| sum(false, |line| line.planned_amount)),
            computed_net: sum(false, |line| line.computed_amount),
            actual_net: sum(false, |line| line.actual_amount),
            planned_tax: planned.then(|| sum(true, |line| line.planned_amount)),
            actual_tax: sum(true, |line| line.actual_amount),
        }
    }
}

impl CompletionLine {
    /// A line as it is shown.
    pub(super) fn new(planned: bool, line: &CompletionLineRow) -> Self {
        let money = |amount| {
            let currency = line.currency;
            MoneyView::from(Money { amount, currency })
        };
        let hours = |seconds| number::hours(Labour::from_seconds(seconds));
        let litres = |ml| number::litres(Volume::from_ml(ml));
        Self {
            kind: line.kind.clone(),
            stage: line.stage.clone(),
            product_class: line.product_class.clone(),
            planned_hours: planned.then(|| hours(line.planned_seconds)),
            actual_hours: hours(line.actual_seconds),
            planned_l: planned.then(|| litres(line.planned_ml)),
            actual_l: litres(line.actual_ml),
            planned: planned.then(|| money(line.planned_amount)),
            computed: money(line.computed_amount),
            actual: money(line.actual_amount),
        }
    }
}

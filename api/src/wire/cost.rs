//! Cost sheets on the wire.

use domain::{
    estimate::cost::{CostLine, CostSheet},
    plan::Stage,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::money::MoneyView;

/// What work costs. Every total is the sum of the lines shown.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct CostView {
    /// The lines, tax last.
    #[schema(max_items = 100)]
    lines: Vec<CostLineView>,
    /// Labour to waste.
    direct: MoneyView,
    /// All but tax.
    net: MoneyView,
    /// Tax.
    tax: MoneyView,
    /// All of it.
    gross: MoneyView,
}

/// One line of a cost sheet.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct CostLineView {
    /// What it pays for: labour, allowance, product, consumable, machine, waste, contingency, overhead, margin, tax.
    #[schema(max_length = 20)]
    kind: &'static str,
    /// In words.
    #[schema(max_length = 200)]
    what: String,
    /// prepare, protect or maintain, where it belongs to one.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 10)]
    stage: Option<&'static str>,
    /// The class of product, for product lines.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 60)]
    product_class: Option<String>,
    /// Rounded to the minor unit.
    amount: MoneyView,
    /// How it is worked out.
    #[schema(max_length = 500)]
    formula: String,
}

impl From<&CostLine> for CostLineView {
    fn from(line: &CostLine) -> Self {
        Self {
            kind: line.kind.word(),
            what: line.what.clone(),
            stage: line.stage.map(Stage::word),
            product_class: line.product_class.clone(),
            amount: line.amount.into(),
            formula: line.formula.clone(),
        }
    }
}

impl From<&CostSheet> for CostView {
    fn from(sheet: &CostSheet) -> Self {
        Self {
            lines: sheet.lines.iter().map(Into::into).collect(),
            direct: sheet.direct.into(),
            net: sheet.net.into(),
            tax: sheet.tax.into(),
            gross: sheet.gross.into(),
        }
    }
}

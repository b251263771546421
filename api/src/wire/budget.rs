//! What may be spent at sites, on the wire.

use infra::row::BudgetRow;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    money::{MoneyRequest, MoneyView},
    patch::patch_of,
    time,
};

/// What may be spent on the floors of a site in a year.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"year": 2027, "net": {"amount": "48000.00", "currency": "GBP"}, "note": "agreed in October"}))]
pub(crate) struct BudgetRequest {
    /// The calendar year. It cannot be changed.
    #[schema(minimum = 2000, maximum = 2099)]
    pub(crate) year: u16,
    /// How much, before tax, in the currency of the site.
    pub(crate) net: MoneyRequest,
    /// What is to be known of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_length = 1, max_length = 500, pattern = r"\S")]
    pub(crate) note: Option<String>,
}

patch_of! {
    /// A change of a budget.
    BudgetPatchRequest, BudgetRequest, {"net": {"amount": "52000.00", "currency": "GBP"}}
}

/// What may be spent on the floors of a site in a year.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BudgetView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^bdg_[0-9a-f-]{36}$")]
    id: String,
    /// Grows by one with each change, from 1.
    #[schema(minimum = 1)]
    version: i64,
    /// The site.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    site_id: String,
    /// The calendar year.
    #[schema(minimum = 2000, maximum = 2099)]
    year: u16,
    /// How much, before tax.
    net: MoneyView,
    /// What is to be known of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 500)]
    note: Option<String>,
    /// When it was set.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
    /// When it was last changed.
    #[schema(format = DateTime, max_length = 24)]
    updated_at: String,
}

impl BudgetView {
    /// A budget and what was said of it.
    pub(crate) fn new(row: &BudgetRow, said: &BudgetRequest) -> Self {
        Self {
            id: row.id.to_string(),
            version: row.version,
            site_id: row.site_id.to_string(),
            year: said.year,
            net: row.net.into(),
            note: said.note.clone(),
            created_at: time::write(row.created_at),
            updated_at: time::write(row.updated_at),
        }
    }
}

/// A page of budgets.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BudgetPage {
    /// The budgets, in the order in which they were set.
    #[schema(max_items = 200)]
    items: Vec<BudgetView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}

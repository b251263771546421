//! What a plan or an estimate counts on of what is left over. It reads only: nothing is reserved or taken.

use domain::stock::{NotCounted, StockUse, Taken};
use serde::Serialize;
use utoipa::ToSchema;

use crate::wire::number;

/// What of a product is left over at the site, as far as this work goes. It is read only: nothing is reserved or taken.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct StockUseView {
    /// What of it is used, in L: so much less is bought.
    #[schema(minimum = 0)]
    taken_l: f64,
    /// What is used, in the order in which it is used up.
    #[schema(max_items = 500)]
    taken: Vec<StockTakenView>,
    /// What is not counted.
    #[schema(max_items = 500)]
    not_counted: Vec<StockNotCountedView>,
}

/// What is used of something that is left over.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct StockTakenView {
    /// Of what.
    #[schema(max_length = 40, pattern = "^stk_[0-9a-f-]{36}$")]
    stock_item_id: String,
    /// The maker's number of its batch.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 100)]
    batch: Option<String>,
    /// The last day on which it is good; absent where nobody said.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = Date, max_length = 10)]
    good_until: Option<String>,
    /// How much of it is used, in L.
    #[schema(minimum = 0)]
    volume_l: f64,
    /// What then is left of it, in L.
    #[schema(minimum = 0)]
    left_l: f64,
}

/// Something that is left over and not counted.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct StockNotCountedView {
    /// What.
    #[schema(max_length = 40, pattern = "^stk_[0-9a-f-]{36}$")]
    stock_item_id: String,
    /// The maker's number of its batch.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 100)]
    batch: Option<String>,
    /// What is left of it, in L.
    #[schema(minimum = 0)]
    left_l: f64,
    /// Why: `expired` (its date is before the planned day) or `open_too_long` (an open pack keeps no longer).
    #[schema(max_length = 20, pattern = "^[a-z_]+$")]
    reason: &'static str,
    /// The last day on which it was good.
    #[schema(format = Date, max_length = 10)]
    good_until: String,
}

impl StockUseView {
    /// What is to be told; nothing where nothing of the product is left over.
    pub(crate) fn of(stock: &StockUse) -> Option<Self> {
        let any = !stock.taken.is_empty() || !stock.not_counted.is_empty();
        any.then(|| Self {
            taken_l: number::litres(stock.total()),
            taken: stock.taken.iter().map(Into::into).collect(),
            not_counted: stock.not_counted.iter().map(Into::into).collect(),
        })
    }
}

impl From<&Taken> for StockTakenView {
    fn from(taken: &Taken) -> Self {
        Self {
            stock_item_id: taken.item.to_string(),
            batch: taken.batch.clone(),
            good_until: taken.good_until.map(|day| day.to_string()),
            volume_l: number::litres(taken.volume),
            left_l: number::litres(taken.left),
        }
    }
}

impl From<&NotCounted> for StockNotCountedView {
    fn from(item: &NotCounted) -> Self {
        Self {
            stock_item_id: item.item.to_string(),
            batch: item.batch.clone(),
            left_l: number::litres(item.left),
            reason: item.reason.word(),
            good_until: item.good_until.to_string(),
        }
    }
}

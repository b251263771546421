//! A wait of a plan on the wire, and what would make it shorter.

use domain::plan::{Shortening, Wait};
use serde::Serialize;
use utoipa::ToSchema;

/// A wait.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct WaitView {
    /// Its key.
    #[schema(max_length = 60)]
    key: String,
    /// From what to what.
    #[schema(max_length = 200)]
    name: String,
    /// Minutes by the product's label, where it says any; never less unless given.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    label_min: Option<i64>,
    /// Minutes that are usual in the trade, where no label says any or fewer than are ever safe; never less unless given.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    usual_min: Option<i64>,
    /// Minutes that the floor's maker asks for; never less unless given.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    maker_min: Option<i64>,
    /// Minutes in half of the cases.
    p50_min: i64,
    /// Minutes in four cases of five, never below label, maker or what is usual.
    p80_min: i64,
    /// Minutes that the plan uses: `p80_min`, or given.
    used_min: i64,
    /// What makes it as long as it is: label, maker, usual, drying, curing or caller.
    #[schema(max_length = 10)]
    ruled_by: &'static str,
    /// Where the minutes come from, in words.
    #[schema(max_length = 500)]
    cause: String,
    /// What would make it shorter, by the same model; shortest first. Empty where nothing would, because label, maker or
    /// what is usual rules it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 5)]
    shorten: Vec<ShorteningView>,
    /// Where the reason stands.
    #[schema(max_length = 100)]
    basis: String,
}

impl From<&Wait> for WaitView {
    fn from(wait: &Wait) -> Self {
        Self {
            key: wait.key.clone(),
            name: wait.name.clone(),
            label_min: wait.label_min,
            usual_min: wait.usual_min,
            maker_min: wait.maker_min,
            p50_min: wait.p50_min,
            p80_min: wait.p80_min,
            used_min: wait.used_min,
            ruled_by: wait.ruled_by.word(),
            cause: wait.cause.clone(),
            shorten: wait.shorten.iter().map(Into::into).collect(),
            basis: wait.basis.clone(),
        }
    }
}

/// A measure that makes a wait shorter.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[schema(as = Shortening)]
pub(crate) struct ShorteningView {
    /// fan, heat, dehumidify, thinner_coat or ventilate.
    #[schema(max_length = 20)]
    measure: &'static str,
    /// How much: the air speed, the coverage or the air changes to reach; by how much warmer or drier.
    #[schema(minimum = 0)]
    amount: f64,
    /// In what: m/s, K, % RH, m²/L, 1/h.
    #[schema(max_length = 10)]
    unit: String,
    /// How it is done, and what to mind.
    #[schema(max_length = 500)]
    how: String,
    /// Minutes in four cases of five that it leads to.
    #[schema(minimum = 0)]
    p80_min: i64,
    /// Minutes by which that is less.
    #[schema(minimum = 1)]
    saves_min: i64,
    /// What makes the wait as long as it then is: label, maker, usual, drying or curing.
    #[schema(max_length = 10)]
    ruled_by: &'static str,
    /// Where the reason of the amount stands.
    #[schema(max_length = 100)]
    basis: String,
}

impl From<&Shortening> for ShorteningView {
    fn from(one: &Shortening) -> Self {
        Self {
            measure: one.measure.word(),
            // Differences and quotients carry the last bits of a double, which say nothing.
            amount: (one.amount * 100.0).round() / 100.0,
            unit: one.unit.clone(),
            how: one.how.clone(),
            p80_min: one.p80_min,
            saves_min: one.saves_min,
            ruled_by: one.ruled_by.word(),
            basis: one.basis.clone(),
        }
    }
}

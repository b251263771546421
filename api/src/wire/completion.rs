//! Completions on the wire: what a contractor reports, and what is kept of it beside the plan.

mod amend;
mod line;
mod view;

use chrono::{DateTime, NaiveDate, Utc};
use domain::plan;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    external::External,
    money::{MoneyRequest, MoneyView},
};

pub(crate) use amend::{AcknowledgeRequest, Amendment, amendments, as_it_stands, deviations_of};
pub(crate) use view::{CompletionPage, CompletionView, PricedByView, laid};

/// The three parts of floor care.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum StageWord {
    /// Before anything is laid.
    Prepare,
    /// Laying what takes the wear.
    Protect,
    /// Keeping it.
    Maintain,
}

impl From<StageWord> for plan::Stage {
    fn from(word: StageWord) -> Self {
        match word {
            StageWord::Prepare => Self::Prepare,
            StageWord::Protect => Self::Protect,
            StageWord::Maintain => Self::Maintain,
        }
    }
}

impl From<plan::Stage> for StageWord {
    fn from(stage: plan::Stage) -> Self {
        match stage {
            plan::Stage::Prepare => Self::Prepare,
            plan::Stage::Protect => Self::Protect,
            plan::Stage::Maintain => Self::Maintain,
        }
    }
}

/// Hours of all operatives in one part of the work.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct WorkedHours {
    /// The part of floor care.
    pub(crate) stage: StageWord,
    /// Working hours of all operatives together.
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) hours: f64,
}

/// Product that was used.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct UsedProduct {
    /// The key of the product, of the knowledge base or of your own.
    #[schema(min_length = 1, max_length = 100, pattern = "^[a-z0-9_]+$")]
    pub(crate) product: String,
    /// Undiluted product in litres.
    #[schema(minimum = 0, maximum = 100_000)]
    pub(crate) volume_l: f64,
    /// The part of floor care; if left out, the one in which the plan or the process uses such a product.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) stage: Option<StageWord>,
    /// The batch that is printed on the can.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_length = 1, max_length = 100, pattern = r"\S")]
    pub(crate) batch: Option<String>,
    /// The last day on which it may be used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = String, format = Date, nullable = false, max_length = 10)]
    pub(crate) expires_on: Option<NaiveDate>,
}

/// A film that was found dry, by touch or by reading: when it was, not when the wait was over.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct DriedFilm {
    /// The key of the wait for it, as the plan's step has it, such as `polish_to_next` or `rinse_to_coat`.
    #[schema(min_length = 1, max_length = 60, pattern = "^[a-z0-9_]+$")]
    pub(crate) wait: String,
    /// Minutes from the end of laying or rinsing until it was dry.
    #[schema(minimum = 1, maximum = 20_160)]
    pub(crate) after_min: i64,
}

/// Where a photograph or a paper about the work is; kept elsewhere, and known by its hash.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Evidence {
    /// Its address; nobody here reads it.
    #[schema(min_length = 9, max_length = 2000, pattern = r"^https://[^\s]+$")]
    pub(crate) url: String,
    /// SHA-256 of what is there, in lower-case hexadecimal.
    #[schema(min_length = 64, max_length = 64, pattern = "^[0-9a-f]{64}$")]
    pub(crate) sha256: String,
}

/// A line of the contractor's invoice.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct InvoiceLine {
    /// What it is for.
    #[schema(min_length = 1, max_length = 200, pattern = r"\S")]
    pub(crate) text: String,
    /// Its amount before tax, in the site's currency.
    pub(crate) net: MoneyRequest,
}

/// A line of the contractor's invoice, as it is kept.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct InvoiceLineView {
    /// What it is for.
    #[schema(max_length = 200)]
    pub(crate) text: String,
    /// Its amount before tax.
    pub(crate) net: MoneyView,
}

/// Work that was done. It says at least one of hours, products and a charge.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "surface_id": "srf_01890a5d-ac96-774b-bcce-b302099a8057",
    "process": "machine_strip_and_refinish",
    "started_at": "2026-03-01T20:00:00Z",
    "finished_at": "2026-03-02T04:30:00Z",
    "area_m2": 120.0,
    "labour": [{"stage": "prepare", "hours": 6.5}, {"stage": "protect", "hours": 4.0}],
    "products": [
        {"product": "stripper_alkaline", "volume_l": 8.0},
        {"product": "polish_emulsion", "volume_l": 11.5, "stage": "protect"}
    ],
    "polish_coats": 4,
    "surface_ph": 7.4,
    "dried": [{"wait": "polish_to_next", "after_min": 50}],
    "operative_ref": "crew-7",
    "external": {"system": "crew-app", "id": "88213"}
}))]
pub(crate) struct CompletionRequest {
    /// The surface that was worked on.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    pub(crate) surface_id: String,
    /// The plan that the work followed; it must be for this surface and hold work. Without one the work is unplanned.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 40, pattern = "^pln_[0-9a-f-]{36}$")]
    pub(crate) plan_id: Option<String>,
    /// The key of the process; required without a plan, and the plan's own if both are given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(
        nullable = false,
        min_length = 1,
        max_length = 100,
        pattern = "^[a-z0-9_]+$"
    )]
    pub(crate) process: Option<String>,
    /// Who did it. Left out, it is nobody's work in reports; a contractor's signed event says it by itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 40, pattern = "^con_[0-9a-f-]{36}$")]
    pub(crate) contractor_id: Option<String>,
    /// When the work began. The rate card and the month of the work are those of this moment at the site.
    #[schema(value_type = String, format = DateTime, max_length = 40)]
    pub(crate) started_at: DateTime<Utc>,
    /// When it ended: after it began, within 14 days, at most 24 hours from now.
    #[schema(value_type = String, format = DateTime, max_length = 40)]
    pub(crate) finished_at: DateTime<Utc>,
    /// The area that was worked on in m²; the whole surface if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, exclusive_minimum = 0, maximum = 10_000_000)]
    pub(crate) area_m2: Option<f64>,
    /// Working time by part of the work.
    #[serde(default)]
    #[schema(max_items = 20)]
    pub(crate) labour: Vec<WorkedHours>,
    /// Products that were used.
    #[serde(default)]
    #[schema(max_items = 50)]
    pub(crate) products: Vec<UsedProduct>,
    /// Coats of seal that were laid.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 50)]
    pub(crate) seal_coats: Option<i64>,
    /// Coats of polish that were laid.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 50)]
    pub(crate) polish_coats: Option<i64>,
    /// pH of the wet floor after its last rinse.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 14)]
    pub(crate) surface_ph: Option<f64>,
    /// How long films took until they were dry, as far as somebody looked: later waits there are reckoned by it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 20)]
    pub(crate) dried: Vec<DriedFilm>,
    /// What the contractor charges for all of it before tax, in the site's currency; it counts in place of what the
    /// rate card gives.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) charged: Option<MoneyRequest>,
    /// What stands on the contractor's invoice for it. Without `charged`, their sum is what is charged.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 100)]
    pub(crate) invoice_lines: Vec<InvoiceLine>,
    /// Where photographs and papers are.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub(crate) evidence: Vec<Evidence>,
    /// The contractor's own reference for who did it; not the name of a person.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_length = 1, max_length = 100, pattern = r"\S")]
    pub(crate) operative_ref: Option<String>,
    /// What else is to be known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_length = 1, max_length = 2000)]
    pub(crate) note: Option<String>,
    /// Its name in another system.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) external: Option<External>,
}

//! What the demonstration reads of the answers: a client's own types, made from the description of the API.
//!
//! A member that is missing or of another type makes the answer unreadable, which ends the demonstration.

mod plan;
mod record;
mod schedule;

pub(super) use plan::{
    Acceptance, Answer, Basis, Candidate, Caution, Finding, Hold, Night, Plan, Question, Step,
    TimeLine, Wait, WindowFit, Work,
};
pub(super) use record::{Completion, CompletionLine, CostReport, CostRow};
pub(super) use schedule::{Choice, Outcome, Reopening, Schedule};

use serde::{Deserialize, Serialize};

/// An amount of money.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Money {
    pub(super) amount: String,
    pub(super) currency: String,
}

/// A key and its name.
#[derive(Debug, Deserialize)]
pub(super) struct Named {
    pub(super) key: String,
    pub(super) name: String,
}

/// What was made, by its id.
#[derive(Debug, Deserialize)]
pub(super) struct Made {
    pub(super) id: String,
}

/// A page of a list.
#[derive(Debug, Deserialize)]
pub(super) struct Page<T> {
    pub(super) items: Vec<T>,
    pub(super) next_cursor: Option<String>,
}

/// A rule by which plans are judged.
#[derive(Debug, Deserialize)]
pub(super) struct Rule {
    pub(super) key: String,
    pub(super) severity: String,
}

#[derive(Debug, Deserialize)]
pub(super) struct Site {
    pub(super) id: String,
    pub(super) name: String,
    pub(super) country: String,
    pub(super) time_zone: String,
    pub(super) rate_card: RateCard,
}

#[derive(Debug, Deserialize)]
pub(super) struct RateCard {
    pub(super) labour_per_h: Money,
}

#[derive(Debug, Deserialize)]
pub(super) struct Surface {
    pub(super) id: String,
    pub(super) version: i64,
    pub(super) name: String,
    pub(super) storey: String,
    pub(super) material: String,
    pub(super) area_m2: f64,
    pub(super) findings: Vec<Noticed>,
}

/// What the service noticed about a surface.
#[derive(Debug, Deserialize)]
pub(super) struct Noticed {
    pub(super) statement: String,
}

/// What became of a batch of surfaces.
#[derive(Debug, Deserialize)]
pub(super) struct Batch {
    pub(super) items: Vec<BatchItem>,
}

#[derive(Debug, Deserialize)]
pub(super) struct BatchItem {
    pub(super) outcome: String,
    #[serde(default)]
    pub(super) surface_id: Option<String>,
}

#[derive(Debug, Deserialize)]
pub(super) struct Estimate {
    pub(super) n_surfaces: i64,
    pub(super) area_m2: f64,
    pub(super) verdicts: Vec<VerdictCount>,
    pub(super) surfaces: Vec<SurfaceAnswer>,
    pub(super) n_shifts: i64,
    pub(super) paid_h: f64,
    pub(super) products: Vec<ProductLine>,
    pub(super) water: Water,
    pub(super) pads: Vec<Pad>,
    pub(super) cost: Cost,
    pub(super) apart_net: Money,
}

#[derive(Debug, Deserialize)]
pub(super) struct VerdictCount {
    pub(super) verdict: String,
    pub(super) n_surfaces: i64,
    pub(super) area_m2: f64,
}

/// The answer for one surface of an estimate.
#[derive(Debug, Deserialize)]
pub(super) struct SurfaceAnswer {
    pub(super) surface_id: String,
    pub(super) verdict: String,
    pub(super) process: String,
    pub(super) asks: Vec<String>,
    #[serde(default)]
    pub(super) net: Option<Money>,
}

/// Labour of one activity.
#[derive(Debug, Deserialize)]
pub(super) struct LabourLine {
    pub(super) activity: Named,
    pub(super) stage: String,
    pub(super) quantity: f64,
    pub(super) unit: String,
    pub(super) times: i64,
    pub(super) per_h: f64,
    pub(super) hours: f64,
}

/// What is needed of a product and how it is bought.
#[derive(Debug, Deserialize)]
pub(super) struct ProductLine {
    pub(super) product: Named,
    pub(super) class: String,
    pub(super) working_l: f64,
    pub(super) need_l: f64,
    pub(super) loss_l: f64,
    pub(super) total_l: f64,
    pub(super) packs: Vec<Pack>,
    pub(super) price: Money,
    pub(super) basis: String,
}

#[derive(Debug, Deserialize)]
pub(super) struct Pack {
    pub(super) size_l: f64,
    pub(super) count: i64,
}

#[derive(Debug, Deserialize)]
pub(super) struct Water {
    #[serde(rename = "clean_l")]
    pub(super) clean: f64,
    #[serde(rename = "dilution_l")]
    pub(super) dilution: f64,
    #[serde(rename = "slurry_l")]
    pub(super) slurry: f64,
}

#[derive(Debug, Deserialize)]
pub(super) struct Pad {
    pub(super) pad: String,
    pub(super) count: i64,
}

#[derive(Debug, Deserialize)]
pub(super) struct Cost {
    pub(super) lines: Vec<CostLine>,
    pub(super) net: Money,
    pub(super) gross: Money,
}

#[derive(Debug, Deserialize)]
pub(super) struct CostLine {
    pub(super) kind: String,
    pub(super) what: String,
    #[serde(default)]
    pub(super) stage: Option<String>,
    pub(super) amount: Money,
    pub(super) formula: String,
}

//! Plans as the demonstration reads them.

use serde::Deserialize;

use super::{Cost, LabourLine, Money, Named, Pad, ProductLine, Water};

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Plan {
    pub(in crate::demo) id: String,
    pub(in crate::demo) verdict: String,
    pub(in crate::demo) summary: String,
    pub(in crate::demo) process: Named,
    pub(in crate::demo) findings: Vec<Finding>,
    pub(in crate::demo) questions: Vec<Question>,
    pub(in crate::demo) open_questions: Vec<Question>,
    pub(in crate::demo) meanwhile: Vec<String>,
    pub(in crate::demo) instead: Vec<String>,
    pub(in crate::demo) candidates: Vec<Candidate>,
    pub(in crate::demo) cautions: Vec<Caution>,
    #[serde(default)]
    pub(in crate::demo) window: Option<WindowFit>,
    #[serde(default)]
    pub(in crate::demo) work: Option<Work>,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Finding {
    pub(in crate::demo) rule: String,
    pub(in crate::demo) severity: String,
    pub(in crate::demo) statement: String,
    pub(in crate::demo) reason: String,
    pub(in crate::demo) clears: String,
    pub(in crate::demo) source: String,
    pub(in crate::demo) grade: String,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Question {
    pub(in crate::demo) fact: String,
    pub(in crate::demo) ask: String,
    pub(in crate::demo) how_to_find_out: String,
    pub(in crate::demo) leads_to: String,
    pub(in crate::demo) answers: Vec<Answer>,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Answer {
    #[serde(default)]
    pub(in crate::demo) is: Vec<String>,
    pub(in crate::demo) at_least: Option<f64>,
    pub(in crate::demo) more_than: Option<f64>,
    pub(in crate::demo) at_most: Option<f64>,
    pub(in crate::demo) less_than: Option<f64>,
    pub(in crate::demo) verdict: String,
    pub(in crate::demo) process: Named,
    pub(in crate::demo) then_asks: Vec<String>,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Candidate {
    pub(in crate::demo) process: Named,
    pub(in crate::demo) verdict: String,
    pub(in crate::demo) suits: Option<bool>,
    pub(in crate::demo) why: String,
    pub(in crate::demo) rules: Vec<String>,
    #[serde(default)]
    pub(in crate::demo) labour_h: Option<f64>,
    #[serde(default)]
    pub(in crate::demo) elapsed_min: Option<i64>,
    #[serde(default)]
    pub(in crate::demo) net: Option<Money>,
    #[serde(default)]
    pub(in crate::demo) net_per_year: Option<Money>,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Work {
    pub(in crate::demo) steps: Vec<Step>,
    pub(in crate::demo) labour: Vec<LabourLine>,
    pub(in crate::demo) products: Vec<ProductLine>,
    pub(in crate::demo) water: Water,
    pub(in crate::demo) pads: Vec<Pad>,
    pub(in crate::demo) time_line: TimeLine,
    pub(in crate::demo) cost: Cost,
    pub(in crate::demo) acceptance: Acceptance,
    pub(in crate::demo) basis: Vec<Basis>,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Acceptance {
    pub(in crate::demo) checks: Vec<Check>,
    pub(in crate::demo) inspection: Option<Inspection>,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Check {
    pub(in crate::demo) reading: String,
    pub(in crate::demo) statement: String,
    pub(in crate::demo) if_fails: String,
    pub(in crate::demo) points: i64,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Inspection {
    pub(in crate::demo) cell_m2: f64,
    pub(in crate::demo) n_cells: i64,
    pub(in crate::demo) sample: i64,
    pub(in crate::demo) accept: i64,
    pub(in crate::demo) bad_share_pct: f64,
    pub(in crate::demo) passes_all_the_same_pct: Option<f64>,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Step {
    pub(in crate::demo) number: i64,
    pub(in crate::demo) stage: String,
    pub(in crate::demo) action: String,
    #[serde(default)]
    pub(in crate::demo) tool: Option<String>,
    #[serde(default)]
    pub(in crate::demo) pad: Option<String>,
    #[serde(default)]
    pub(in crate::demo) product: Option<StepProduct>,
    #[serde(default)]
    pub(in crate::demo) water_l: Option<f64>,
    #[serde(default)]
    pub(in crate::demo) dwell: Option<Dwell>,
    #[serde(default)]
    pub(in crate::demo) coat: Option<Coat>,
    pub(in crate::demo) labour_h: f64,
    #[serde(default)]
    pub(in crate::demo) wait: Option<Wait>,
    #[serde(default)]
    pub(in crate::demo) hold: Option<Hold>,
    #[serde(default)]
    pub(in crate::demo) if_fails: Option<String>,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct StepProduct {
    pub(in crate::demo) class: String,
    pub(in crate::demo) name: String,
    pub(in crate::demo) dilution: String,
    #[serde(default)]
    pub(in crate::demo) working_l: Option<f64>,
    #[serde(default)]
    pub(in crate::demo) concentrate_l: Option<f64>,
    #[serde(default)]
    pub(in crate::demo) concentrate_ml_per_10_l_water: Option<f64>,
    pub(in crate::demo) ppe: Vec<String>,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Dwell {
    pub(in crate::demo) least_min: i64,
    pub(in crate::demo) typical_min: i64,
    pub(in crate::demo) most_min: i64,
    #[serde(default)]
    pub(in crate::demo) dries_after_min: Option<i64>,
    pub(in crate::demo) note: String,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Coat {
    pub(in crate::demo) number: i64,
    pub(in crate::demo) of: i64,
    pub(in crate::demo) direction: String,
    pub(in crate::demo) edge_gap_mm: i64,
    pub(in crate::demo) area_m2: f64,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Wait {
    pub(in crate::demo) name: String,
    #[serde(default)]
    pub(in crate::demo) label_min: Option<i64>,
    #[serde(default)]
    pub(in crate::demo) usual_min: Option<i64>,
    pub(in crate::demo) p50_min: i64,
    pub(in crate::demo) used_min: i64,
    pub(in crate::demo) cause: String,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Hold {
    pub(in crate::demo) at: String,
    pub(in crate::demo) reading: String,
    #[serde(default)]
    pub(in crate::demo) unit: Option<String>,
    pub(in crate::demo) statement: String,
    pub(in crate::demo) if_fails: String,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct TimeLine {
    pub(in crate::demo) crew_size: u16,
    pub(in crate::demo) crew_h: f64,
    pub(in crate::demo) elapsed_min: i64,
    pub(in crate::demo) events: Vec<Event>,
    pub(in crate::demo) longest_block_min: i64,
    #[serde(default)]
    pub(in crate::demo) window_min: Option<i64>,
    pub(in crate::demo) nights: Vec<Night>,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Event {
    pub(in crate::demo) what: String,
    pub(in crate::demo) p50_min: i64,
    pub(in crate::demo) used_min: i64,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Night {
    pub(in crate::demo) number: i64,
    pub(in crate::demo) work: Vec<String>,
    pub(in crate::demo) work_min: i64,
    pub(in crate::demo) open_after_min: i64,
    pub(in crate::demo) leaves: String,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct WindowFit {
    pub(in crate::demo) window_min: i64,
    pub(in crate::demo) elapsed_min: i64,
    pub(in crate::demo) fits: bool,
    pub(in crate::demo) ways: Vec<Way>,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Way {
    pub(in crate::demo) kind: String,
    pub(in crate::demo) process: Named,
    #[serde(default)]
    pub(in crate::demo) machine: Option<String>,
    pub(in crate::demo) crew_size: i64,
    pub(in crate::demo) window_min: i64,
    pub(in crate::demo) elapsed_min: i64,
    pub(in crate::demo) n_nights: Option<i64>,
    pub(in crate::demo) net_change: Money,
    pub(in crate::demo) fits: bool,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Caution {
    pub(in crate::demo) text: String,
    pub(in crate::demo) source: String,
    pub(in crate::demo) grade: String,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Basis {
    pub(in crate::demo) id: String,
    pub(in crate::demo) what: String,
    pub(in crate::demo) formula: String,
    pub(in crate::demo) inputs: Vec<Input>,
    pub(in crate::demo) result: f64,
    pub(in crate::demo) unit: String,
    pub(in crate::demo) rounding: String,
    pub(in crate::demo) source: String,
    pub(in crate::demo) grade: String,
}

#[derive(Debug, Deserialize)]
pub(in crate::demo) struct Input {
    pub(in crate::demo) name: String,
    pub(in crate::demo) value: f64,
    pub(in crate::demo) unit: String,
}

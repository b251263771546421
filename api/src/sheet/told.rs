//! What a sheet reads of a kept plan. Members that it does not show are passed over.

use serde::Deserialize;

/// A plan.
#[derive(Debug, Deserialize)]
pub(crate) struct Told {
    pub(super) id: String,
    pub(super) version: i64,
    pub(super) status: String,
    pub(super) verdict: String,
    pub(super) summary: String,
    pub(super) knowledge_version: String,
    pub(super) process: Option<Named>,
    #[serde(default)]
    pub(super) findings: Vec<Finding>,
    #[serde(default)]
    pub(super) questions: Vec<Question>,
    #[serde(default)]
    pub(super) cautions: Vec<Caution>,
    #[serde(default)]
    pub(super) instead: Vec<String>,
    #[serde(default)]
    pub(super) meanwhile: Vec<String>,
    pub(super) referral: Option<Referral>,
    #[serde(default)]
    candidates: Vec<Candidate>,
    pub(super) work: Option<Work>,
}

impl Told {
    /// What people call a process that was considered; its key for any other.
    pub(super) fn name_of<'a>(&'a self, key: &'a str) -> &'a str {
        let considered = self.candidates.iter().map(|candidate| &candidate.process);
        let mut named = considered.filter(|process| process.key == key);
        named.next().map_or(key, |process| &process.name)
    }
}

/// What a drawing needs of a floor.
#[derive(Debug, Deserialize)]
pub(crate) struct ToldFloor {
    pub(super) outline: Option<Vec<Vec<[f64; 2]>>>,
    #[serde(default)]
    pub(super) doors: Vec<Door>,
}

#[derive(Debug, Deserialize)]
pub(super) struct Door {
    pub(super) at: [f64; 2],
}

#[derive(Debug, Deserialize)]
pub(super) struct Named {
    pub(super) name: String,
}

#[derive(Debug, Deserialize)]
struct Candidate {
    process: Keyed,
}

#[derive(Debug, Deserialize)]
struct Keyed {
    key: String,
    name: String,
}

#[derive(Debug, Deserialize)]
pub(super) struct Referral {
    pub(super) trade: String,
    #[serde(default)]
    pub(super) hand_over: Vec<String>,
}

#[derive(Debug, Deserialize)]
pub(super) struct Finding {
    pub(super) severity: String,
    pub(super) statement: String,
    pub(super) reason: String,
    pub(super) clears: String,
}

#[derive(Debug, Deserialize)]
pub(super) struct Question {
    pub(super) ask: String,
    pub(super) how_to_find_out: String,
}

#[derive(Debug, Deserialize)]
pub(super) struct Caution {
    pub(super) text: String,
}

#[derive(Debug, Deserialize)]
pub(super) struct Work {
    #[serde(default)]
    pub(super) steps: Vec<Step>,
    #[serde(default)]
    pub(super) products: Vec<ProductLine>,
    #[serde(default)]
    pub(super) pads: Vec<Pad>,
    pub(super) water: Water,
    pub(super) time_line: TimeLine,
    #[serde(default)]
    pub(super) layouts: Vec<Layout>,
    pub(super) shape: Option<Shape>,
    pub(super) acceptance: Acceptance,
}

#[derive(Debug, Deserialize)]
pub(super) struct Step {
    pub(super) number: i64,
    pub(super) action: String,
    pub(super) tool: Option<String>,
    pub(super) pad: Option<String>,
    pub(super) product: Option<StepProduct>,
    pub(super) water_l: Option<f64>,
    pub(super) dwell: Option<Dwell>,
    pub(super) coat: Option<Coat>,
    pub(super) labour_h: f64,
    pub(super) wait: Option<Wait>,
    pub(super) hold: Option<Hold>,
    pub(super) if_fails: Option<String>,
}

#[derive(Debug, Deserialize)]
pub(super) struct StepProduct {
    pub(super) name: String,
    pub(super) dilution: String,
    pub(super) working_l: Option<f64>,
    pub(super) concentrate_l: Option<f64>,
    pub(super) concentrate_ml_per_10_l_water: Option<f64>,
    #[serde(default)]
    pub(super) ppe: Vec<String>,
}

#[derive(Debug, Deserialize)]
pub(super) struct Dwell {
    pub(super) least_min: i64,
    pub(super) most_min: i64,
    pub(super) note: String,
}

#[derive(Debug, Deserialize)]
pub(super) struct Coat {
    pub(super) number: i64,
    pub(super) of: i64,
    pub(super) direction: String,
    pub(super) edge_gap_mm: f64,
    pub(super) area_m2: f64,
}

#[derive(Debug, Deserialize)]
pub(super) struct Wait {
    pub(super) name: String,
    pub(super) p50_min: i64,
    pub(super) used_min: i64,
}

#[derive(Debug, Deserialize)]
pub(super) struct Hold {
    pub(super) at: String,
    pub(super) reading: String,
    pub(super) unit: Option<String>,
    pub(super) least: Option<f64>,
    pub(super) most: Option<f64>,
    pub(super) statement: String,
    pub(super) if_fails: String,
}

#[derive(Debug, Deserialize)]
pub(super) struct ProductLine {
    pub(super) product: Named,
    pub(super) total_l: f64,
    #[serde(default)]
    pub(super) packs: Vec<Pack>,
}

#[derive(Debug, Deserialize)]
pub(super) struct Pack {
    pub(super) size_l: f64,
    pub(super) count: i64,
}

#[derive(Debug, Deserialize)]
pub(super) struct Pad {
    pub(super) pad: String,
    pub(super) count: f64,
}

#[derive(Debug, Deserialize)]
#[expect(clippy::struct_field_names, reason = "the words of the wire")]
pub(super) struct Water {
    pub(super) clean_l: f64,
    pub(super) dilution_l: f64,
    pub(super) slurry_l: f64,
}

#[derive(Debug, Deserialize)]
pub(super) struct TimeLine {
    pub(super) crew_size: i64,
    #[serde(default)]
    pub(super) events: Vec<Event>,
    #[serde(default)]
    pub(super) nights: Vec<Night>,
}

#[derive(Debug, Deserialize)]
pub(super) struct Event {
    pub(super) key: String,
    pub(super) what: String,
    pub(super) used_min: i64,
}

#[derive(Debug, Deserialize)]
pub(super) struct Night {
    pub(super) number: i64,
    pub(super) work: Vec<String>,
    pub(super) work_min: i64,
    pub(super) open_after_min: i64,
    pub(super) leaves: String,
}

#[derive(Debug, Deserialize)]
pub(super) struct Layout {
    pub(super) treats: Vec<String>,
    pub(super) n_bays: i64,
    pub(super) largest_bay_m2: Option<f64>,
    pub(super) direction: Option<String>,
    #[serde(default)]
    pub(super) bays: Vec<Bay>,
}

#[derive(Debug, Deserialize)]
pub(super) struct Bay {
    pub(super) number: i64,
    pub(super) drawn: Option<DrawnBay>,
}

#[derive(Debug, Deserialize)]
pub(super) struct DrawnBay {
    pub(super) rings: Vec<Vec<[f64; 2]>>,
    pub(super) strokes: Option<Direction>,
}

#[derive(Debug, Clone, Copy, Deserialize)]
pub(super) struct Direction {
    pub(super) x: f64,
    pub(super) y: f64,
}

#[derive(Debug, Deserialize)]
pub(super) struct Shape {
    pub(super) exit: [f64; 2],
}

#[derive(Debug, Deserialize)]
pub(super) struct Acceptance {
    #[serde(default)]
    pub(super) checks: Vec<Check>,
    pub(super) inspection: Option<Inspection>,
    #[serde(default)]
    pub(super) defects: Vec<Defect>,
}

#[derive(Debug, Deserialize)]
pub(super) struct Check {
    pub(super) reading: String,
    pub(super) unit: Option<String>,
    pub(super) least: Option<f64>,
    pub(super) most: Option<f64>,
    pub(super) statement: String,
    pub(super) if_fails: String,
}

#[derive(Debug, Deserialize)]
pub(super) struct Inspection {
    pub(super) cell_m2: f64,
    pub(super) n_cells: i64,
    pub(super) sample: i64,
    pub(super) accept: i64,
}

#[derive(Debug, Deserialize)]
pub(super) struct Defect {
    pub(super) what: String,
    pub(super) causes: Vec<String>,
    pub(super) remedy: String,
}

//! One step of a plan on the wire.

use domain::{
    estimate::labour::LabourLine,
    knowledge::HoldPoint,
    plan::{Coat, Dwell, PlannedStep, StepProduct},
    quantity::{Labour, Volume},
};
use serde::Serialize;
use utoipa::ToSchema;

use super::{number, wait::WaitView};

/// One step.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct StepView {
    /// Its number, from 1.
    #[schema(minimum = 1)]
    number: usize,
    /// Its name within the process.
    #[schema(max_length = 60)]
    key: String,
    /// prepare, protect or maintain.
    #[schema(max_length = 10)]
    stage: &'static str,
    /// What is done.
    #[schema(max_length = 2000)]
    action: String,
    /// With what.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 200)]
    tool: Option<String>,
    /// The machine that it keeps busy, by its key.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 60)]
    machine: Option<String>,
    /// The pad's colour.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 20)]
    pad: Option<String>,
    /// What is used.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    product: Option<StepProductView>,
    /// Clean water in L.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    water_l: Option<f64>,
    /// How long the product works before it is scrubbed.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    dwell: Option<DwellView>,
    /// Which coat it is and where it stops.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    coat: Option<CoatView>,
    /// Working time of all operatives in hours; its share of the activity's line.
    #[schema(minimum = 0)]
    labour_h: f64,
    /// The wait after it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    wait: Option<WaitView>,
    /// The reading that must be met before the step begins or before the work goes on, as it says.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    hold: Option<HoldView>,
    /// What to do if it fails.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 2000)]
    if_fails: Option<String>,
}

impl StepView {
    /// A step, and the labour of its plan: that of its activity tells the machine.
    pub(crate) fn new(step: &PlannedStep, labour: &[LabourLine]) -> Self {
        let activity = step.activity.as_ref();
        let mut lines = labour.iter();
        let line = activity.and_then(|activity| lines.find(|line| line.activity == *activity));
        let machine = line.filter(|_line| step.labour > Labour::ZERO);
        Self {
            machine: machine.and_then(|line| line.machine.clone()),
            number: step.number,
            key: step.key.clone(),
            stage: step.stage.word(),
            action: step.action.clone(),
            tool: step.tool.clone(),
            pad: step.pad.clone(),
            product: step.product.as_ref().map(Into::into),
            water_l: (step.water > Volume::ZERO).then(|| number::litres(step.water)),
            dwell: step.dwell.as_ref().map(Into::into),
            coat: step.coat.as_ref().map(Into::into),
            labour_h: number::hours(step.labour),
            wait: step.wait.as_ref().map(Into::into),
            hold: step.hold.as_ref().map(Into::into),
            if_fails: step.if_fails.clone(),
        }
    }
}

/// What a step uses of a product.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct StepProductView {
    /// The product's key.
    #[schema(max_length = 60)]
    key: String,
    /// Its class.
    #[schema(max_length = 60)]
    class: String,
    /// The version of the tenant's own product whose figures count; absent for one of the knowledge base.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1)]
    product_version: Option<i64>,
    /// Its name.
    #[schema(max_length = 200)]
    name: String,
    /// How it is diluted, such as `1:4` (one part of concentrate to four of water) or `undiluted`.
    #[schema(max_length = 20)]
    dilution: String,
    /// Working solution in L; absent where it comes out of another step's quantity.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    working_l: Option<f64>,
    /// Undiluted product in it, in L.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    concentrate_l: Option<f64>,
    /// Undiluted product for ten litres of water, in mL: one bucket.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    concentrate_ml_per_10_l_water: Option<f64>,
    /// What the crew wears.
    #[schema(max_items = 20)]
    ppe: Vec<String>,
}

impl From<&StepProduct> for StepProductView {
    fn from(product: &StepProduct) -> Self {
        let diluted = product.dilution > 0.0;
        Self {
            key: product.key.clone(),
            class: product.class.clone(),
            product_version: product.version,
            name: product.name.clone(),
            dilution: if diluted {
                format!("1:{}", product.dilution)
            } else {
                "undiluted".to_owned()
            },
            working_l: product.working.map(number::litres),
            concentrate_l: product.concentrate.map(number::litres),
            concentrate_ml_per_10_l_water: diluted.then(|| (10_000.0 / product.dilution).round()),
            ppe: product.ppe.clone(),
        }
    }
}

/// How long a product works.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct DwellView {
    /// At least, in minutes.
    least_min: i64,
    /// Usually, in minutes.
    typical_min: i64,
    /// At most, in minutes: then it is wetted again.
    most_min: i64,
    /// After how many minutes the solution would dry in this air.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    dries_after_min: Option<i64>,
    /// What to watch.
    #[schema(max_length = 2000)]
    note: String,
}

impl From<&Dwell> for DwellView {
    fn from(dwell: &Dwell) -> Self {
        Self {
            least_min: dwell.least_min,
            typical_min: dwell.typical_min,
            most_min: dwell.most_min,
            dries_after_min: dwell.dries_after_min,
            note: dwell.note.clone(),
        }
    }
}

/// Which coat a step lays.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct CoatView {
    /// Its number, from 1.
    #[schema(minimum = 1)]
    number: i64,
    /// How many of its kind are laid.
    #[schema(minimum = 1)]
    of: i64,
    /// `along`, or `across`: at a right angle to the coat before.
    #[schema(max_length = 10)]
    direction: &'static str,
    /// How far it stops short of the skirting, in mm; 0 goes right up to it.
    #[schema(minimum = 0)]
    edge_gap_mm: i64,
    /// The area that it covers, in m².
    #[schema(minimum = 0)]
    area_m2: f64,
}

impl From<&Coat> for CoatView {
    fn from(coat: &Coat) -> Self {
        Self {
            number: coat.number,
            of: coat.of,
            direction: coat.direction.word(),
            edge_gap_mm: coat.gap.mm(),
            area_m2: number::square_metres(coat.area),
        }
    }
}

/// A reading that must be met.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct HoldView {
    /// Its key.
    #[schema(max_length = 60)]
    key: String,
    /// When it must be met: `before` the step begins, or `after` it and before the work goes on.
    #[schema(max_length = 10, pattern = "^(before|after)$")]
    at: &'static str,
    /// What is read.
    #[schema(max_length = 200)]
    reading: String,
    /// In what.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 20)]
    unit: Option<String>,
    /// The lowest value that passes.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    least: Option<f64>,
    /// The highest value that passes.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    most: Option<f64>,
    /// The condition in words.
    #[schema(max_length = 2000)]
    statement: String,
    /// What to do if it is not met.
    #[schema(max_length = 2000)]
    if_fails: String,
    /// Where it comes from.
    #[schema(max_length = 500)]
    source: String,
    /// How far it can be trusted.
    #[schema(max_length = 20)]
    grade: &'static str,
}

impl From<&HoldPoint> for HoldView {
    fn from(hold: &HoldPoint) -> Self {
        Self {
            key: hold.key.clone(),
            at: if hold.before { "before" } else { "after" },
            reading: hold.reading.clone(),
            unit: hold.unit.clone(),
            least: hold.least,
            most: hold.most,
            statement: hold.statement.clone(),
            if_fails: hold.if_fails.clone(),
            source: hold.source.clone(),
            grade: hold.grade.word(),
        }
    }
}

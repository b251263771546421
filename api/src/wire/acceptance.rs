//! When a floor may be handed over, on the wire.

use domain::{
    knowledge::Defect,
    plan::{Acceptance, Check, Inspection},
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::wire::number;

/// When the floor may be handed over.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct AcceptanceView {
    /// What is read at the end, beside the hold points of the steps.
    #[schema(max_items = 50)]
    checks: Vec<CheckView>,
    /// How much of the floor is looked at.
    inspection: Option<InspectionView>,
    /// What can go wrong in this work, why, and what helps.
    #[schema(max_items = 50)]
    defects: Vec<DefectView>,
}

impl From<&Acceptance> for AcceptanceView {
    fn from(acceptance: &Acceptance) -> Self {
        Self {
            checks: acceptance.checks.iter().map(Into::into).collect(),
            inspection: acceptance.inspection.as_ref().map(Into::into),
            defects: acceptance.defects.iter().map(Into::into).collect(),
        }
    }
}

/// A reading or a look before the floor is handed over.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct CheckView {
    /// The word that names it.
    #[schema(max_length = 60)]
    key: String,
    /// What is read.
    #[schema(max_length = 500)]
    reading: String,
    /// In what.
    #[schema(max_length = 20)]
    unit: Option<String>,
    /// The lowest value that passes.
    least: Option<f64>,
    /// The highest value that passes.
    most: Option<f64>,
    /// The condition in words.
    #[schema(max_length = 2000)]
    statement: String,
    /// What to do if it is not met.
    #[schema(max_length = 2000)]
    if_fails: String,
    /// At how many places.
    #[schema(minimum = 1)]
    points: u64,
    /// Where the check comes from.
    #[schema(max_length = 500)]
    source: String,
    /// How far it can be trusted: published, as_quoted, common_practice or from_memory.
    #[schema(max_length = 20)]
    grade: &'static str,
}

impl From<&Check> for CheckView {
    fn from(check: &Check) -> Self {
        let row = &check.row;
        Self {
            key: row.key.clone(),
            reading: row.reading.clone(),
            unit: row.unit.clone(),
            least: row.least,
            most: row.most,
            statement: row.statement.clone(),
            if_fails: row.if_fails.clone(),
            points: check.points,
            source: row.source.clone(),
            grade: row.grade.word(),
        }
    }
}

/// How much of the floor is looked at, and what that leaves open.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct InspectionView {
    /// The unit that passes or fails, in m².
    #[schema(minimum = 0)]
    cell_m2: f64,
    /// How many the floor has.
    #[schema(minimum = 1)]
    n_cells: u64,
    /// How many are looked at, picked at random, entrances among them.
    #[schema(minimum = 1)]
    sample: u64,
    /// The floor passes with up to so many failed units among them.
    #[schema(minimum = 0)]
    accept: u64,
    /// The acceptance quality limit in percent; null where all units are looked at.
    limit_pct: Option<f64>,
    /// A share of failing units, in percent.
    #[schema(minimum = 0, maximum = 100)]
    bad_share_pct: f64,
    /// The chance that a floor with that share failing passes all the same, in percent; null where all are looked at.
    #[schema(minimum = 0, maximum = 100)]
    passes_all_the_same_pct: Option<f64>,
    /// Where the sampling plan comes from.
    #[schema(max_length = 500)]
    source: String,
    /// How far it can be trusted: published, as_quoted, common_practice or from_memory.
    #[schema(max_length = 20)]
    grade: &'static str,
}

impl From<&Inspection> for InspectionView {
    fn from(inspection: &Inspection) -> Self {
        Self {
            cell_m2: number::square_metres(inspection.cell),
            n_cells: inspection.n_cells,
            sample: inspection.sample,
            accept: inspection.accept,
            limit_pct: inspection.limit_pct,
            bad_share_pct: inspection.bad_share_pct,
            passes_all_the_same_pct: inspection
                .passes_all_the_same
                .map(|chance| number::figure(chance * 100.0)),
            source: inspection.source.clone(),
            grade: inspection.grade.word(),
        }
    }
}

/// A defect that this work can leave.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct DefectView {
    /// The word that names it.
    #[schema(max_length = 60)]
    key: String,
    /// What is seen.
    #[schema(max_length = 500)]
    what: String,
    /// What it comes from, likeliest first.
    #[schema(max_items = 20)]
    causes: Vec<String>,
    /// What to do.
    #[schema(max_length = 2000)]
    remedy: String,
    /// Where this comes from.
    #[schema(max_length = 500)]
    source: String,
    /// How far it can be trusted: published, as_quoted, common_practice or from_memory.
    #[schema(max_length = 20)]
    grade: &'static str,
}

impl From<&Defect> for DefectView {
    fn from(defect: &Defect) -> Self {
        Self {
            key: defect.key.clone(),
            what: defect.what.clone(),
            causes: defect.causes.clone(),
            remedy: defect.remedy.clone(),
            source: defect.source.clone(),
            grade: defect.grade.word(),
        }
    }
}

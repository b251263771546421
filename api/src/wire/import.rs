//! Files that are handed over with buildings, on the wire: where an import stands, and what becomes of each space.

mod progress;

use domain::handover::{
    Counts, Decided, ExternalName, FoundSpace, Handover, Member, Registered, Remark, Why,
};
use infra::row::{ImportRow, JobStatus};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

pub(crate) use progress::ImportProgress;

use super::{estimate_job::JobProblem, external::External, time};
use crate::problem::Problem;

/// A file that was handed over with a building, and what becomes of it.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ImportView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^imp_[0-9a-f-]{36}$")]
    id: String,
    /// Grows by one with each change, from 1.
    #[schema(minimum = 1)]
    version: i64,
    /// The site whose spaces it tells of.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    site_id: String,
    /// Where it stands.
    #[schema(max_length = 10)]
    status: &'static str,
    /// Its format.
    #[schema(max_length = 10)]
    format: String,
    /// How long the file is, in bytes.
    #[schema(minimum = 0)]
    bytes: i64,
    /// Whether it only says what would become of the spaces. `false` once it is applied.
    dry_run: bool,
    /// How far it is.
    progress: ImportProgress,
    /// When it was sent.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
    /// When work on it began.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = DateTime, max_length = 24)]
    started_at: Option<String>,
    /// When it came to its end; a week later it is forgotten, and what it registered stays.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = DateTime, max_length = 24)]
    finished_at: Option<String>,
    /// What became of it, once it has succeeded.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    result: Option<ImportSummary>,
    /// Why it failed.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    problem: Option<JobProblem>,
}

impl ImportView {
    /// An import as it stands.
    ///
    /// # Errors
    /// `internal` for a text that is not what was written.
    pub(crate) fn new(row: &ImportRow) -> Result<Self, Problem> {
        let has = |status| row.status == status;
        let result = row.summary.as_deref().filter(|_| has(JobStatus::Succeeded));
        let problem = row.problem.as_deref().filter(|_| has(JobStatus::Failed));
        Ok(Self {
            id: row.id.to_string(),
            version: row.version,
            site_id: row.site_id.to_string(),
            status: row.status.as_str(),
            format: row.format.clone(),
            bytes: row.n_bytes,
            dry_run: !row.applies,
            progress: ImportProgress::new(row),
            created_at: time::write(row.created_at),
            started_at: row.started_at.map(time::write),
            finished_at: row.finished_at.map(time::write),
            result: result.map(super::stored).transpose()?,
            problem: problem.map(super::stored).transpose()?,
        })
    }
}

/// A page of imports.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ImportPage {
    /// The imports, oldest first.
    #[schema(max_items = 200)]
    items: Vec<ImportView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}

/// What became of a file as a whole.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub(crate) struct ImportSummary {
    /// The building, as the file calls it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 2000)]
    pub(crate) facility: Option<String>,
    /// Its storeys, in the order of the file.
    #[schema(max_items = 1000)]
    pub(crate) storeys: Vec<String>,
    /// How many spaces had which outcome.
    pub(crate) counts: ImportCounts,
    /// What was noticed that concerns no single space; the first hundred.
    #[schema(max_items = 100)]
    pub(crate) remarks: Vec<ImportRemark>,
}

/// Spaces by outcome: each has exactly one, and `total` is their sum.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub(crate) struct ImportCounts {
    /// All spaces of the file.
    #[schema(minimum = 0)]
    pub(crate) total: usize,
    /// Registered.
    #[schema(minimum = 0)]
    pub(crate) created: usize,
    /// Changed.
    #[schema(minimum = 0)]
    pub(crate) updated: usize,
    /// As they were.
    #[schema(minimum = 0)]
    pub(crate) unchanged: usize,
    /// Not hard floors.
    #[schema(minimum = 0)]
    pub(crate) out_of_scope: usize,
    /// Waiting for somebody.
    #[schema(minimum = 0)]
    pub(crate) needs_attention: usize,
}

impl From<Counts> for ImportCounts {
    fn from(counts: Counts) -> Self {
        Self {
            total: counts.total,
            created: counts.created,
            updated: counts.updated,
            unchanged: counts.unchanged,
            out_of_scope: counts.out_of_scope,
            needs_attention: counts.needs_attention,
        }
    }
}

/// Something that was noticed, and where.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub(crate) struct ImportRemark {
    /// What it is about.
    #[schema(max_length = 40)]
    pub(crate) code: String,
    /// What was found, in words.
    #[schema(max_length = 2000)]
    pub(crate) detail: String,
    /// Where in the file: a sheet and row, a line, an entity or a feature.
    #[schema(max_length = 200)]
    pub(crate) place: String,
}

impl From<&Remark> for ImportRemark {
    fn from(remark: &Remark) -> Self {
        Self {
            code: remark.concern.word().to_owned(),
            detail: cut(&remark.detail),
            place: remark.place.to_string(),
        }
    }
}

impl From<&Why> for ImportRemark {
    fn from(why: &Why) -> Self {
        Self {
            code: why.code.to_owned(),
            detail: cut(&why.detail),
            place: why.place.to_string(),
        }
    }
}

/// A text that quotes a file, no longer than the description allows.
fn cut(text: &str) -> String {
    cut_to(text, 2_000)
}

fn cut_to(text: &str, n_characters: usize) -> String {
    text.chars().take(n_characters).collect()
}

impl ImportSummary {
    /// What became of a file.
    pub(crate) fn new(found: &Handover, counts: Counts) -> Self {
        let storeys = found.storeys.iter().take(1_000);
        Self {
            facility: found.facility.as_deref().map(cut),
            storeys: storeys.map(|storey| cut(&storey.name)).collect(),
            counts: counts.into(),
            remarks: found.remarks.iter().map(Into::into).collect(),
        }
    }
}

/// What becomes of one space of a file.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ImportRowView {
    /// Its number in the order of the file, from 1.
    #[schema(minimum = 1)]
    pub(crate) number: i64,
    /// What becomes of it: in a dry run, what would.
    #[schema(max_length = 20)]
    pub(crate) outcome: &'static str,
    /// Where in the file it stands.
    #[schema(max_length = 200)]
    pub(crate) place: String,
    /// What people call it.
    #[schema(max_length = 2000)]
    pub(crate) name: String,
    /// Its storey.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 2000)]
    pub(crate) storey: Option<String>,
    /// Its name in the system that the file comes from; a later file finds the surface by it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) external: Option<External>,
    /// The surface, where one is registered.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    pub(crate) surface_id: Option<String>,
    /// Its area in m² as the file tells it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    pub(crate) area_m2: Option<f64>,
    /// The length of its edge in m as the file tells it, if it can enclose the area.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    pub(crate) perimeter_m: Option<f64>,
    /// How its finish was read.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) finish: Option<ReadFinish>,
    /// What the file changes of the surface that is registered: `name`, `storey`, `material`, `size`.
    #[schema(max_items = 4)]
    pub(crate) changes: Vec<&'static str>,
    /// What was put right at the register since the file before and stays, as this file only repeats what that one said.
    #[schema(max_items = 4)]
    pub(crate) kept: Vec<&'static str>,
    /// Why it is not registered or changed; empty where it is.
    #[schema(max_items = 200)]
    pub(crate) reasons: Vec<ImportRemark>,
    /// What else was noticed.
    #[schema(max_items = 100)]
    pub(crate) remarks: Vec<ImportRemark>,
}

/// How a finish was read.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ReadFinish {
    /// The words of the file.
    #[schema(max_length = 2000)]
    pub(crate) text: String,
    /// Where they stood.
    #[schema(max_length = 200)]
    pub(crate) place: String,
    /// The material that they mean, where that is certain enough.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 60)]
    pub(crate) material: Option<String>,
    /// How certain it is, in %: below 75 somebody has to say.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 100)]
    pub(crate) confidence_pct: Option<u8>,
    /// The words that the reading rests on, or that speak against it.
    #[schema(max_items = 100)]
    pub(crate) words: Vec<String>,
}

impl ImportRowView {
    /// A space as it was found and judged, before it is compared with what is registered.
    pub(crate) fn new(space: &FoundSpace, decided: &Decided) -> Self {
        let surface = decided.surface.as_ref();
        let finish = space.finish.as_ref().map(|finish| ReadFinish {
            text: cut(&finish.text),
            place: finish.place.to_string(),
            material: surface.map(|surface| surface.material.clone()),
            confidence_pct: decided.finish_pct,
            words: decided.finish_words.iter().take(100).cloned().collect(),
        });
        let external = space.external.as_ref().map(|external| External {
            system: cut_to(&external.system, 100),
            id: cut_to(&external.id, 200),
        });
        // What is not registered is not noticed twice.
        let told = |remark: &&Remark| !decided.why.iter().any(|why| why.detail == remark.detail);
        Self {
            number: i64::try_from(decided.index)
                .unwrap_or(i64::MAX)
                .saturating_add(1),
            outcome: decided.fate.word(),
            place: space.place.to_string(),
            name: cut(&space.title()),
            storey: space.storey.as_deref().map(cut),
            external,
            surface_id: None,
            area_m2: space.area.map(super::number::square_metres),
            perimeter_m: space.perimeter.map(domain::quantity::Length::m),
            finish,
            changes: Vec::new(),
            kept: Vec::new(),
            reasons: decided.why.iter().take(200).map(Into::into).collect(),
            remarks: space.remarks.iter().filter(told).map(Into::into).collect(),
        }
    }

    /// What the file changes, and what it does not.
    pub(crate) fn changed(&mut self, changes: &[Member], kept: &[Member]) {
        self.changes = changes.iter().map(|member| member.word()).collect();
        self.kept = kept.iter().map(|member| member.word()).collect();
    }
}

/// A page of spaces.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ImportRowPage {
    /// The spaces, in the order of the file.
    #[schema(max_items = 200)]
    items: Vec<ImportRowView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}

/// What a file said of a surface, as it is kept for the next one.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(crate) struct Said {
    name: String,
    storey: String,
    material: String,
    area_mm2: i64,
    #[serde(default)]
    perimeter_mm: Option<i64>,
}

impl Said {
    /// What it says.
    pub(crate) fn of(surface: &Registered) -> Self {
        Self {
            name: surface.name.clone(),
            storey: surface.storey.clone(),
            material: surface.material.clone(),
            area_mm2: surface.area.mm2(),
            perimeter_mm: surface.perimeter.map(domain::quantity::Length::mm),
        }
    }

    /// What it said, of the surface with this name.
    pub(crate) fn into_registered(self, external: ExternalName) -> Registered {
        Registered {
            external,
            name: self.name,
            storey: self.storey,
            material: self.material,
            area: domain::quantity::Area::from_mm2(self.area_mm2),
            perimeter: self.perimeter_mm.map(domain::quantity::Length::from_mm),
        }
    }
}

//! How far whoever works on a file is, on the wire.

use infra::row::{ImportRow, ImportStage, JobStatus};
use serde::Serialize;
use utoipa::ToSchema;

/// How far an import is. It goes back where another process takes it over and begins anew, and where it fails while it is applied:
/// what was done is then taken back.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ImportProgress {
    /// `waiting`; `reading` the file; `matching` its spaces with what is registered; `applying` what they come to, or `trying` it in
    /// a dry run; `finished` once it has succeeded. One that failed or was cancelled stays at the last stage that was written down.
    #[schema(max_length = 10)]
    stage: &'static str,
    /// How many spaces are through with it; told anew after every thousand or sooner.
    #[schema(minimum = 0)]
    done: i64,
    /// How many spaces the file has; left out until it is read.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    total: Option<i64>,
    /// `done` of `total` in %, rounded down; left out like `total`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 100)]
    share_pct: Option<i64>,
}

impl ImportProgress {
    /// Of an import as it stands.
    pub(super) fn new(row: &ImportRow) -> Self {
        let is_read = row.stage >= ImportStage::Matching;
        let stage = match row.stage {
            _ if row.status == JobStatus::Succeeded => "finished",
            ImportStage::Applying if !row.applies => "trying",
            stage => stage.as_str(),
        };
        let share = |total: i64| row.n_done.saturating_mul(100).checked_div(total);
        let total = is_read.then_some(row.n_total);
        Self {
            stage,
            done: row.n_done,
            total,
            // Of nothing all is done.
            share_pct: total.map(|total| share(total).unwrap_or(100)),
        }
    }
}

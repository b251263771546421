//! What is told of a completion.

use infra::row::CompletionRow;

use super::{CompletionEventData, link};
use crate::wire::{number, time};

impl CompletionEventData {
    /// What is told of a completion in a version, with the codes of its deviations.
    pub(crate) fn new(row: &CompletionRow, version: i64, deviations: Vec<String>) -> Self {
        let id = row.id.to_string();
        Self {
            href: link("/v1/completions", &id),
            id,
            version,
            site_id: Some(row.site_id.to_string()),
            site: Some(row.site_id),
            surface_id: row.surface_id.to_string(),
            plan_id: row.plan_id.map(|id| id.to_string()),
            contractor_id: row.contractor_id.map(|id| id.to_string()),
            status: row.status.as_str(),
            supersedes: row.supersedes.map(|id| id.to_string()),
            superseded_by: row.superseded_by.map(|id| id.to_string()),
            process: row.process.clone(),
            area_m2: number::square_metres(row.area),
            finished_at: time::write(row.finished_at),
            deviations,
        }
    }

    /// Whether it differs from its plan or from what is possible.
    pub(crate) const fn has_deviations(&self) -> bool {
        !self.deviations.is_empty()
    }
}

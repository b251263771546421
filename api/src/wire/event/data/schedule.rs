//! What is told of a schedule.

use infra::row::ScheduleRow;

use super::{ScheduleEventData, link};

impl ScheduleEventData {
    /// What is told of a schedule that came to its end.
    pub(crate) fn new(row: &ScheduleRow, outcome: &str) -> Self {
        let id = row.id.to_string();
        Self {
            href: link("/v1/schedules", &id),
            id,
            version: row.version,
            site_id: Some(row.site_id.to_string()),
            site: Some(row.site_id),
            outcome: outcome.to_owned(),
        }
    }
}

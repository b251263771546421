//! What is told of a schedule.

use infra::row::ScheduleRow;

use super::{ScheduleEventData, ScheduleMovedEventData, link};
use crate::{
    call,
    wire::schedule::replan::{MoveView, ReplanView},
};

impl ScheduleMovedEventData {
    /// What is told of a schedule that was planned again, with the first of what moved.
    pub(crate) fn new(row: &ScheduleRow, view: &ReplanView, moves: Vec<MoveView>) -> Self {
        let id = row.id.to_string();
        Self {
            href: link("/v1/schedules", &id),
            id,
            version: view.version,
            site_id: Some(row.site_id.to_string()),
            site: Some(row.site_id),
            revision: view.revision.unwrap_or(1),
            n_moved: view.n_moved,
            n_cancelled: view.n_cancelled,
            moves,
            moves_href: call::absolute(&view.moves_href),
        }
    }
}

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

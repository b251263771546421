//! Tasks as a table (RFC 4180).

use chrono_tz::Tz;

use super::{told::TaskView, visit::moment};
use crate::{
    problem::Problem,
    wire::csv::{self, Cell},
};

const HEADER: &[&str] = &[
    "number",
    "surface_id",
    "surface",
    "plan_id",
    "crew",
    "operatives",
    "part",
    "bay",
    "of_bays",
    "steps",
    "machines",
    "from",
    "to",
    "from_local",
    "to_local",
    "walk_at",
];

/// Writes tasks as a table; local times are those of the site, with their distance from UTC.
///
/// # Errors
/// `internal`, never in memory.
pub(crate) fn table(tasks: &[TaskView], zone: Tz) -> Result<Vec<u8>, Problem> {
    let local = |text: &str| {
        let at = moment(text).with_timezone(&zone);
        Cell::Text(at.format("%Y-%m-%dT%H:%M%:z").to_string())
    };
    let rows = tasks.iter().map(|task| {
        let steps: Vec<String> = task.steps.iter().map(ToString::to_string).collect();
        vec![
            Cell::number(Some(task.number)),
            Cell::text(Some(&task.surface_id)),
            Cell::text(Some(&task.surface)),
            Cell::text(Some(&task.plan_id)),
            Cell::text(Some(&task.crew)),
            Cell::number(Some(task.operatives)),
            Cell::text(Some(&task.part)),
            Cell::number(Some(task.bay)),
            Cell::number(Some(task.of_bays)),
            Cell::Text(steps.join(" ")),
            Cell::Text(task.machines.join("; ")),
            Cell::text(Some(&task.from)),
            Cell::text(Some(&task.to)),
            local(&task.from),
            local(&task.to),
            Cell::text(task.walk_at.as_deref()),
        ]
    });
    csv::write(HEADER, rows).map_err(|error| Problem::internal(&error))
}

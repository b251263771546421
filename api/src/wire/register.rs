//! The surfaces of a site as a table that can be sent back: `POST /v1/imports` reads it. [`workbook`] writes them for other programs.

pub(crate) mod workbook;

use std::io;

use domain::quantity::Length;
use infra::store::RegisterLine;

use super::csv::{self, Lines};
use crate::problem::Problem;

/// The columns, as the reader of tables knows them.
const HEADER: [&str; 9] = [
    "surface_id",
    "version",
    "external_system",
    "external_id",
    "name",
    "storey",
    "area_m2",
    "perimeter_m",
    "material",
];

/// The line that names the columns.
///
/// # Errors
/// `internal`, if it cannot be written.
pub(crate) fn header() -> Result<Vec<u8>, Problem> {
    let named = csv::write(&HEADER, []);
    named.map_err(|error| Problem::internal(&error))
}

/// Surfaces as lines of a table.
///
/// # Errors
/// As [`header`].
pub(crate) fn table(rows: &[RegisterLine]) -> Result<Vec<u8>, Problem> {
    written(rows).map_err(|error| Problem::internal(&error))
}

fn written(rows: &[RegisterLine]) -> io::Result<Vec<u8>> {
    let mut lines = Lines::new();
    for row in rows {
        let external = row.external.as_ref();
        lines.number(Some(row.id))?;
        lines.number(Some(row.version))?;
        lines.perhaps(external.map(|name| name.system.as_str()))?;
        lines.perhaps(external.map(|name| name.id.as_str()))?;
        lines.text(&row.name)?;
        lines.text(&row.storey)?;
        lines.number(Some(row.area.m2()))?;
        lines.number(row.perimeter.map(Length::m))?;
        lines.text(&row.material)?;
        lines.end()?;
    }
    lines.bytes()
}

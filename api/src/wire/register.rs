//! The surfaces of a site as a table that can be sent back: `POST /v1/imports` reads it. [`workbook`] writes them for other programs.

pub(crate) mod workbook;

use domain::quantity::Length;
use infra::row::SurfaceRow;

use super::csv::{Cell, lines, write};
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

/// Surfaces as lines of a table; the first have the header before them.
///
/// # Errors
/// `internal`, if they cannot be written.
pub(crate) fn table(rows: &[SurfaceRow], is_first: bool) -> Result<Vec<u8>, Problem> {
    let cells = rows.iter().map(cells);
    let written = if is_first {
        write(&HEADER, cells)
    } else {
        lines(cells)
    };
    written.map_err(|error| Problem::internal(&error))
}

fn cells(row: &SurfaceRow) -> Vec<Cell> {
    let external = row.external.as_ref();
    vec![
        Cell::Text(row.id.to_string()),
        Cell::number(Some(row.version)),
        Cell::text(external.map(|name| name.system.as_str())),
        Cell::text(external.map(|name| name.id.as_str())),
        Cell::Text(row.name.clone()),
        Cell::Text(row.storey.clone()),
        Cell::number(Some(row.area.m2())),
        Cell::number(row.perimeter.map(Length::m)),
        Cell::Text(row.material.clone()),
    ]
}

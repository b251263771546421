//! The surfaces of a site as a workbook of COBie tables (2.4) that can be sent back: `POST /v1/imports` reads it.
//!
//! Sheets and columns have the standard's names; `SurfaceId` and `SurfaceVersion` stand to the right of its columns, where it leaves
//! room for others. All texts are cells of text: no program takes one for a formula.

use std::collections::{BTreeMap, HashSet};

use chrono::{DateTime, Utc};
use domain::{
    handover::{clean, is_formula},
    knowledge::KnowledgeBase,
    quantity::Length,
};
use infra::row::{SiteRow, SurfaceRow};
use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, Workbook, Worksheet, XlsxError};

use crate::{problem::Problem, wire::surface};

/// What a workbook is sent as.
pub(crate) const CONTENT_TYPE: &str =
    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";

#[rustfmt::skip]
const CONTACT: [&str; 19] = [
    "Email", "CreatedBy", "CreatedOn", "Category", "Company", "Phone", "ExternalSystem", "ExternalObject",
    "ExternalIdentifier", "Department", "OrganizationCode", "GivenName", "FamilyName", "Street", "PostalBox",
    "Town", "StateRegion", "PostalCode", "Country",
];
#[rustfmt::skip]
const FACILITY: [&str; 22] = [
    "Name", "CreatedBy", "CreatedOn", "Category", "ProjectName", "SiteName", "LinearUnits", "AreaUnits",
    "VolumeUnits", "CurrencyUnit", "AreaMeasurement", "ExternalSystem", "ExternalProjectObject",
    "ExternalProjectIdentifier", "ExternalSiteObject", "ExternalSiteIdentifier", "ExternalFacilityObject",
    "ExternalFacilityIdentifier", "Description", "ProjectDescription", "SiteDescription", "Phase",
];
#[rustfmt::skip]
const FLOOR: [&str; 10] = [
    "Name", "CreatedBy", "CreatedOn", "Category", "ExtSystem", "ExtObject", "ExtIdentifier", "Description",
    "Elevation", "Height",
];
#[rustfmt::skip]
const SPACE: [&str; 15] = [
    "Name", "CreatedBy", "CreatedOn", "Category", "FloorName", "Description", "ExtSystem", "ExtObject",
    "ExtIdentifier", "RoomTag", "UsableHeight", "GrossArea", "NetArea", "SurfaceId", "SurfaceVersion",
];
#[rustfmt::skip]
const ATTRIBUTE: [&str; 13] = [
    "Name", "CreatedBy", "CreatedOn", "Category", "SheetName", "RowName", "Value", "Unit", "ExtSystem",
    "ExtObject", "ExtIdentifier", "Description", "AllowedValues",
];

/// Who made the rows: no person, and an address that nobody has (RFC 2606).
const MADE_BY: &str = "register@wearcourse.invalid";
const SYSTEM: &str = "Wearcourse";
/// What stands where nothing is told.
const NOTHING: &str = "n/a";

/// A surface as the workbook tells it.
#[derive(Debug)]
pub(crate) struct Line {
    id: String,
    version: i64,
    name: String,
    storey: String,
    material: String,
    area_m2: f64,
    perimeter_m: Option<f64>,
    external: Option<(String, String)>,
    /// Kind and coats of the surveyed film.
    film: Option<(&'static str, Option<i64>)>,
    created_at: DateTime<Utc>,
}

impl Line {
    /// What the workbook tells of a surface.
    ///
    /// # Errors
    /// `internal` for a document that is not what was written.
    pub(crate) fn of(row: &SurfaceRow) -> Result<Self, Problem> {
        let film = surface::stored(&row.document)?.film;
        let film = film.and_then(|film| Some((film.kind.known()?.word(), film.coats)));
        let external = row.external.as_ref();
        Ok(Self {
            id: row.id.to_string(),
            version: row.version,
            name: row.name.clone(),
            storey: row.storey.clone(),
            material: row.material.clone(),
            area_m2: row.area.m2(),
            perimeter_m: row.perimeter.map(Length::m),
            external: external.map(|name| (name.system.clone(), name.id.clone())),
            film,
            created_at: row.created_at,
        })
    }
}

/// Writes a workbook; `now` is when it is made.
///
/// # Errors
/// `internal`, if it cannot be written.
pub(crate) fn workbook(
    base: &KnowledgeBase,
    site: &SiteRow,
    lines: &[Line],
    now: DateTime<Utc>,
) -> Result<Vec<u8>, Problem> {
    write(base, site, lines, now).map_err(|error| Problem::internal(&error))
}

fn write(
    base: &KnowledgeBase,
    site: &SiteRow,
    lines: &[Line],
    now: DateTime<Utc>,
) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    let made = ExcelDateTime::from_timestamp(now.timestamp())?;
    book.set_properties(
        &DocProperties::new()
            .set_author(SYSTEM)
            .set_creation_datetime(&made),
    );
    let now = moment(now);
    let mut contact = Table::begin(&mut book, "Contact", &CONTACT)?;
    contact.row(&[
        ("Email", Cell::Text(MADE_BY)),
        ("CreatedBy", Cell::Text(MADE_BY)),
        ("CreatedOn", Cell::Text(&now)),
        ("Company", Cell::Text(SYSTEM)),
        ("ExternalSystem", Cell::Text(SYSTEM)),
    ])?;
    let mut facility = Table::begin(&mut book, "Facility", &FACILITY)?;
    let id = site.id.to_string();
    facility.row(&[
        ("Name", Cell::Text(&site.name)),
        ("CreatedBy", Cell::Text(MADE_BY)),
        ("CreatedOn", Cell::Text(&moment(site.created_at))),
        ("ProjectName", Cell::Text(&site.name)),
        ("SiteName", Cell::Text(&site.name)),
        ("LinearUnits", Cell::Text("meters")),
        ("AreaUnits", Cell::Text("squaremeters")),
        ("VolumeUnits", Cell::Text("cubicmeters")),
        ("CurrencyUnit", Cell::Text(site.currency.code())),
        ("ExternalSystem", Cell::Text(SYSTEM)),
        ("ExternalFacilityObject", Cell::Text("Site")),
        ("ExternalFacilityIdentifier", Cell::Text(&id)),
    ])?;
    floors(&mut book, lines)?;
    let names = names(lines);
    spaces(&mut book, lines, &names)?;
    attributes(&mut book, base, lines, &names)?;
    book.save_to_buffer()
}

/// The storeys, each with the moment of its first surface.
fn floors(book: &mut Workbook, lines: &[Line]) -> Result<(), XlsxError> {
    let mut first: BTreeMap<&str, DateTime<Utc>> = BTreeMap::new();
    for line in lines {
        first.entry(&line.storey).or_insert(line.created_at);
    }
    let mut table = Table::begin(book, "Floor", &FLOOR)?;
    for (storey, created_at) in first {
        table.row(&[
            ("Name", Cell::Text(storey)),
            ("CreatedBy", Cell::Text(MADE_BY)),
            ("CreatedOn", Cell::Text(&moment(created_at))),
            ("Category", Cell::Text("Floor")),
            ("ExtSystem", Cell::Text(SYSTEM)),
        ])?;
    }
    Ok(())
}

/// The name by which attributes find each space: its own, or its id where another one has that.
fn names(lines: &[Line]) -> Vec<&str> {
    let mut taken = HashSet::new();
    let mut names = Vec::with_capacity(lines.len());
    for line in lines {
        let is_first = taken.insert(clean(&line.name).to_lowercase());
        names.push(if is_first {
            line.name.as_str()
        } else {
            line.id.as_str()
        });
    }
    names
}

fn spaces(book: &mut Workbook, lines: &[Line], names: &[&str]) -> Result<(), XlsxError> {
    let mut table = Table::begin(book, "Space", &SPACE)?;
    for (line, name) in lines.iter().zip(names) {
        let (system, object, id) = match &line.external {
            Some((system, id)) => (system.as_str(), NOTHING, id),
            None => (SYSTEM, "Surface", &line.id),
        };
        table.row(&[
            ("Name", Cell::Text(name)),
            ("CreatedBy", Cell::Text(MADE_BY)),
            ("CreatedOn", Cell::Text(&moment(line.created_at))),
            ("FloorName", Cell::Text(&line.storey)),
            ("Description", Cell::Text(&line.name)),
            ("ExtSystem", Cell::Text(system)),
            ("ExtObject", Cell::Text(object)),
            ("ExtIdentifier", Cell::Text(id)),
            ("NetArea", Cell::Number(line.area_m2)),
            ("SurfaceId", Cell::Text(&line.id)),
            ("SurfaceVersion", Cell::Text(&line.version.to_string())),
        ])?;
    }
    Ok(())
}

fn attributes(
    book: &mut Workbook,
    base: &KnowledgeBase,
    lines: &[Line],
    names: &[&str],
) -> Result<(), XlsxError> {
    let mut table = Table::begin(book, "Attribute", &ATTRIBUTE)?;
    for (line, name) in lines.iter().zip(names) {
        let called = base
            .material(&line.material)
            .map(|material| material.name.as_str());
        let mut told = vec![
            ("FloorFinish", Cell::Text(&line.material), NOTHING, called),
            (
                "NetFloorArea",
                Cell::Number(line.area_m2),
                "squaremeters",
                Some("That of the sheet Space, which counts."),
            ),
        ];
        if let Some(metres) = line.perimeter_m {
            told.push(("Perimeter", Cell::Number(metres), "meters", None));
        }
        let coats;
        if let Some((kind, n)) = line.film {
            told.push((
                "FilmKind",
                Cell::Text(kind),
                NOTHING,
                Some("As it was surveyed."),
            ));
            coats = n.map(|n| n.to_string());
            if let Some(coats) = &coats {
                told.push((
                    "FilmCoats",
                    Cell::Text(coats),
                    "each",
                    Some("As they were surveyed."),
                ));
            }
        }
        for (label, value, unit, description) in told {
            table.row(&[
                ("Name", Cell::Text(label)),
                ("CreatedBy", Cell::Text(MADE_BY)),
                ("CreatedOn", Cell::Text(&moment(line.created_at))),
                ("SheetName", Cell::Text("Space")),
                ("RowName", Cell::Text(name)),
                ("Value", value),
                ("Unit", Cell::Text(unit)),
                ("ExtSystem", Cell::Text(SYSTEM)),
                ("Description", Cell::Text(description.unwrap_or(NOTHING))),
            ])?;
        }
    }
    Ok(())
}

/// A moment as the standard writes it, in UTC.
fn moment(at: DateTime<Utc>) -> String {
    at.format("%Y-%m-%dT%H:%M:%S").to_string()
}

#[derive(Debug, Clone, Copy)]
enum Cell<'a> {
    Text(&'a str),
    Number(f64),
}

/// A sheet that is being written.
struct Table<'b> {
    sheet: &'b mut Worksheet,
    columns: &'static [&'static str],
    next: u32,
    /// Text that a spreadsheet would take for a formula if somebody typed it.
    guarded: Format,
}

impl<'b> Table<'b> {
    fn begin(
        book: &'b mut Workbook,
        name: &str,
        columns: &'static [&'static str],
    ) -> Result<Self, XlsxError> {
        let sheet = book.add_worksheet();
        sheet.set_name(name)?;
        let head = Format::new().set_bold();
        for (at, column) in (0..).zip(columns) {
            sheet.write_string_with_format(0, at, *column, &head)?;
            sheet.set_column_width(at, 18)?;
        }
        sheet.set_freeze_panes(1, 1)?;
        Ok(Self {
            sheet,
            columns,
            next: 1,
            guarded: Format::new().set_quote_prefix(),
        })
    }

    /// Writes a row; columns that it does not name tell nothing.
    fn row(&mut self, cells: &[(&str, Cell<'_>)]) -> Result<(), XlsxError> {
        for (at, column) in (0..).zip(self.columns) {
            let told = cells.iter().find(|(name, _)| name == column);
            match told.map_or(Cell::Text(NOTHING), |(_, cell)| *cell) {
                Cell::Number(value) => self.sheet.write_number(self.next, at, value)?,
                Cell::Text(text) if is_formula(text) => {
                    let guarded = &self.guarded;
                    self.sheet
                        .write_string_with_format(self.next, at, text, guarded)?
                }
                Cell::Text(text) => self.sheet.write_string(self.next, at, text)?,
            };
        }
        self.next = self.next.saturating_add(1);
        Ok(())
    }
}

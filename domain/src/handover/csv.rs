//! Spaces from a table of comma-separated values (RFC 4180) with a header row.
//!
//! The columns, in any order; those marked with * must be there:
//!
//! | column | holds | also read as |
//! | --- | --- | --- |
//! | `external_id` * | the space's id in the system that the table comes from | |
//! | `external_system` | that system; `csv` where the column is missing | |
//! | `name` * | what people call it | `description` |
//! | `number` | its room number | `room` |
//! | `storey` * | the storey | |
//! | `area_m2` * | net area in m² | `net_area_m2` |
//! | `perimeter_m` | length of its edge in m | |
//! | `height_m` | height in m | |
//! | `finish` | what the floor is made of | `floor_material` |
//! | `material` | the key of a material, which then counts and not the finish | |
//! | `surface_id` | the surface that it is, in tables that came out of the register: then its external name is passed over | |
//! | `version` | the version that this surface had | |
//!
//! Text that would begin like a formula may be led by an apostrophe, which is taken off.
//!
//! A table that is not one is refused as a whole, with its line; a cell that holds what its column cannot is a remark of
//! its space. Unknown columns are refused: a column that was misspelt must not be lost in silence.

mod split;

use super::{
    AreaUnit, Claim, Concern, ExternalName, FoundFinish, FoundSpace, FoundSurface, Handover,
    LengthUnit, MAX_SPACES, Place, Refusal, RefusalKind, Storey, clean, number, settle, take_area,
    take_perimeter, told, unshielded,
};
use split::{Line, Splitter};

/// The most bytes of a table.
const MAX_BYTES: usize = 5 * 1024 * 1024;

/// Every column with its other names.
const COLUMNS: [(&str, &str); 12] = [
    ("external_id", ""),
    ("external_system", ""),
    ("name", "description"),
    ("number", "room"),
    ("storey", ""),
    ("area_m2", "net_area_m2"),
    ("perimeter_m", ""),
    ("height_m", ""),
    ("finish", "floor_material"),
    ("material", ""),
    ("surface_id", ""),
    ("version", ""),
];
/// Those without which there is nothing to register.
const REQUIRED: [&str; 4] = ["external_id", "name", "storey", "area_m2"];

/// Reads a table.
///
/// # Errors
/// [`Refusal`] with its line: not UTF-8, too large, a quote that is not closed, a row with more or fewer cells than the
/// header, an unknown, doubled or missing column, more than [`MAX_SPACES`] rows.
pub fn read_csv(bytes: &[u8]) -> Result<Handover, Refusal> {
    let text = text_of(bytes)?;
    let mut lines = Splitter::new(text);
    let Some(header) = lines.next()? else {
        return Err(refused("There is no header row.", 1));
    };
    let header = Header::read(&header)?;
    let mut handover = Handover::default();
    while let Some(line) = lines.next()? {
        if handover.spaces.len() >= MAX_SPACES {
            let detail = format!("There are more than {MAX_SPACES} rows.");
            return Err(Refusal::new(
                RefusalKind::TooLarge,
                detail,
                Place::Line(line.number),
            ));
        }
        let (has, wants) = (line.cells.len(), header.columns.len());
        if has != wants {
            let detail = format!("The row has {has} cells, the header {wants}.");
            return Err(refused(detail, line.number));
        }
        handover.spaces.push(space(&header, &line));
    }
    storeys(&mut handover);
    settle(&mut handover);
    Ok(handover)
}

/// The bytes as text, without the mark that some programs put before it.
fn text_of(bytes: &[u8]) -> Result<&str, Refusal> {
    let refuse = |kind, detail: &str| Err(Refusal::new(kind, detail, Place::Line(1)));
    if bytes.len() > MAX_BYTES {
        return refuse(RefusalKind::TooLarge, "The table is larger than 5 MiB.");
    }
    if bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]) {
        return refuse(
            RefusalKind::Unsupported,
            "The table is UTF-16: save it as UTF-8.",
        );
    }
    let text = std::str::from_utf8(bytes).map_err(|error| {
        let before = bytes
            .iter()
            .take(error.valid_up_to())
            .filter(|byte| **byte == b'\n');
        let line = u64::try_from(before.count())
            .unwrap_or(u64::MAX)
            .saturating_add(1);
        refused("The text is not UTF-8.", line)
    })?;
    let before = |at: usize| text.bytes().take(at).filter(|byte| *byte == b'\n').count();
    if let Some(at) = text.find('\0') {
        let line = u64::try_from(before(at))
            .unwrap_or(u64::MAX)
            .saturating_add(1);
        return Err(refused("The text holds a NUL.", line));
    }
    Ok(text.strip_prefix('\u{FEFF}').unwrap_or(text))
}

fn refused(detail: impl Into<String>, line: u64) -> Refusal {
    Refusal::new(RefusalKind::Malformed, detail, Place::Line(line))
}

/// Which column holds what.
struct Header {
    columns: Vec<&'static str>,
}

impl Header {
    fn read(line: &Line<'_>) -> Result<Self, Refusal> {
        let refuse = |detail: String| Err(refused(detail, line.number));
        let names = COLUMNS.map(|(name, _)| name).join(", ");
        let mut columns: Vec<&'static str> = Vec::with_capacity(line.cells.len());
        for cell in &line.cells {
            let cell = clean(cell).to_lowercase();
            let is_it =
                |row: &&(&'static str, &str)| row.0 == cell || (row.1 == cell && !cell.is_empty());
            let Some((name, _)) = COLUMNS.iter().find(is_it) else {
                let start: String = cell.chars().take(40).collect();
                if start.contains(';') && line.cells.len() == 1 {
                    return refuse(
                        "The columns are parted by semicolons: part them by commas.".to_owned(),
                    );
                }
                return refuse(format!(
                    "Column `{}` is not known; the columns are {names}.",
                    start.escape_debug()
                ));
            };
            if columns.contains(name) {
                return refuse(format!("Column `{name}` stands twice."));
            }
            columns.push(name);
        }
        let missing: Vec<&str> = REQUIRED
            .into_iter()
            .filter(|name| !columns.contains(name))
            .collect();
        if missing.is_empty() {
            return Ok(Self { columns });
        }
        refuse(format!("Missing columns: {}.", missing.join(", ")))
    }

    /// The cell of a column, blanks folded; `None` where it tells nothing.
    fn told(&self, line: &Line<'_>, name: &str) -> Option<String> {
        let index = self.columns.iter().position(|column| *column == name)?;
        told(unshielded(line.cells.get(index)?), name)
    }
}

fn space(header: &Header, line: &Line<'_>) -> FoundSpace {
    let place = Place::Line(line.number);
    let mut space = FoundSpace::at(place.clone());
    space.name = header.told(line, "name").unwrap_or_default();
    space.number = header.told(line, "number");
    space.storey = header.told(line, "storey");
    space.surface = surface(header, line, &mut space);
    if space.surface.is_none() {
        let system = header.told(line, "external_system");
        let system = system.as_deref().unwrap_or("csv");
        space.external = header
            .told(line, "external_id")
            .map(|id| ExternalName::of(system, &id));
    }
    space.material = header.told(line, "material");
    let mut figure = |name: &'static str| {
        let text = header.told(line, name)?;
        let value = number(&text).filter(|value| *value >= 0.0);
        if value.is_none() {
            space.remark(Concern::NumberUnreadable, unreadable(name, &text));
        }
        value.map(|value| (name, value))
    };
    let (area, edge, height) = (figure("area_m2"), figure("perimeter_m"), figure("height_m"));
    if let Some((label, value)) = area {
        match AreaUnit::SQUARE_METRE.take(value) {
            Some(value) => {
                let claim = claim(value, label, &place);
                space.area = take_area(&[claim], 1, &mut space.remarks);
            }
            None => space.remark(
                Concern::NumberUnreadable,
                format!("{label} is beyond what a floor can be."),
            ),
        }
    }
    if let Some((label, value)) = edge {
        match LengthUnit::METRE.take(value) {
            Some(value) => {
                let claim = claim(value, label, &place);
                space.perimeter = take_perimeter(&[claim], space.area, &mut space.remarks);
            }
            None => space.remark(
                Concern::NumberUnreadable,
                format!("{label} is beyond what a floor can be."),
            ),
        }
    }
    let height = height.and_then(|(_, value)| LengthUnit::METRE.take(value));
    space.height = height.filter(|height| height.mm() > 0);
    if let Some(text) = header.told(line, "finish") {
        space.take_finish(FoundFinish {
            text,
            label: "finish".to_owned(),
            place,
        });
    }
    space
}

/// The surface that the row is, with a remark where its version cannot be read.
fn surface(header: &Header, line: &Line<'_>, space: &mut FoundSpace) -> Option<FoundSurface> {
    let id = header.told(line, "surface_id")?;
    let text = header.told(line, "version");
    let version = text
        .as_deref()
        .and_then(|text| text.parse().ok())
        .filter(|version| *version >= 1);
    if let (Some(text), None) = (text, version) {
        let start: String = text.chars().take(40).collect();
        let detail = format!("version is `{}`: not one.", start.escape_debug());
        space.remark(Concern::NumberUnreadable, detail);
    }
    Some(FoundSurface { id, version })
}

fn claim<T>(value: T, label: &str, place: &Place) -> Claim<T> {
    Claim {
        value,
        label: label.to_owned(),
        place: place.clone(),
    }
}

fn unreadable(name: &str, text: &str) -> String {
    let start: String = text.chars().take(40).collect();
    format!(
        "{name} is `{}`: not a number with a point before its decimals.",
        start.escape_debug()
    )
}

/// The storeys that the rows name, in the order of the table.
fn storeys(handover: &mut Handover) {
    let mut seen = std::collections::BTreeSet::new();
    for space in &handover.spaces {
        if let Some(name) = &space.storey
            && seen.insert(name.clone())
        {
            handover.storeys.push(Storey {
                name: name.clone(),
                place: space.place.clone(),
            });
        }
    }
}

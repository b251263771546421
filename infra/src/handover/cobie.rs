//! Spaces from a workbook of COBie tables (2.4, and the form of BS 1192-4).
//!
//! Tables are found by the names of their sheets, columns by those of the first row. Formulas are not worked out: what
//! the program that wrote them last saw counts. What a table says of a space in rows of the sheet `Attribute` has
//! units of its own, which win over those of the facility.
//!
//! A workbook that came out of the register has two columns more, `SurfaceId` and `SurfaceVersion`: its rows are the surfaces that
//! these name, whatever else they say of ids, and called what they are described as.

mod attribute;
mod table;

use std::collections::BTreeMap;

use domain::{
    handover::{
        AreaUnit, Claim, Concern, ExternalName, FoundSpace, FoundSurface, Handover, LengthUnit,
        MAX_SPACES, Place, Refusal, RefusalKind, SpaceKind, Storey, clean, number, settle,
        take_area,
    },
    quantity::Area,
};

use super::sheet::Workbook;
use table::{Row, read_table};

/// Reads a workbook.
///
/// # Errors
/// [`Refusal`]: not such a workbook, broken, encrypted, larger than may be, or holding what no workbook does.
pub(super) fn read(bytes: &[u8]) -> Result<Handover, Refusal> {
    let mut book = Workbook::open(bytes)?;
    let mut handover = Handover::default();
    let facility = Facility::read(&mut book, &mut handover)?;
    let kinds = storeys(&mut book, &mut handover)?;
    let mut by_name: BTreeMap<String, usize> = BTreeMap::new();
    let wanted = [
        "Name",
        "FloorName",
        "Description",
        "ExtSystem",
        "ExtIdentifier",
        "UsableHeight",
        "GrossArea",
        "NetArea",
        "SurfaceId",
        "SurfaceVersion",
    ];
    let is_there = read_table(&mut book, "Space", wanted, |row| {
        if handover.spaces.len() >= MAX_SPACES {
            let detail = format!("There are more than {MAX_SPACES} spaces.");
            return Err(Refusal::new(RefusalKind::TooLarge, detail, row.place()));
        }
        let mut space = space(&facility, row);
        let kind = space.storey.as_ref().and_then(|storey| kinds.get(storey));
        if space.kind == SpaceKind::Floor {
            space.kind = kind.copied().unwrap_or(SpaceKind::Floor);
        }
        let name = clean(&row.cell(0).text).to_lowercase();
        by_name.entry(name).or_insert(handover.spaces.len());
        handover.spaces.push(space);
        Ok(())
    })?;
    if !is_there {
        let detail = "The workbook has no sheet `Space`.";
        return Err(Refusal::new(RefusalKind::NotTheFormat, detail, Place::File));
    }
    attribute::read(&mut book, &facility, &by_name, &mut handover)?;
    settle(&mut handover);
    Ok(handover)
}

/// What the facility says of itself.
struct Facility {
    /// Under what name its spaces are known where they have no id of their own.
    system: String,
    /// The unit of its lengths, and its word.
    length: Option<(LengthUnit, String)>,
    /// The unit of its areas.
    area: Option<AreaUnit>,
}

impl Facility {
    fn read(book: &mut Workbook<'_>, handover: &mut Handover) -> Result<Self, Refusal> {
        let mut facility = Self {
            system: "cobie".to_owned(),
            length: None,
            area: None,
        };
        let mut n_rows = 0_usize;
        let wanted = ["Name", "LinearUnits", "AreaUnits"];
        read_table(book, "Facility", wanted, |row| {
            n_rows = n_rows.saturating_add(1);
            if n_rows > 1 {
                return Ok(());
            }
            handover.facility = row.told(0);
            if let Some(name) = &handover.facility {
                facility.system.clone_from(name);
            }
            let length = row.told(1);
            facility.length = length.and_then(|word| Some((LengthUnit::named(&word)?, word)));
            facility.area = row.told(2).as_deref().and_then(AreaUnit::named);
            for (index, known) in [(1, facility.length.is_some()), (2, facility.area.is_some())] {
                if !known {
                    let label = row.label(index);
                    let detail = format!(
                        "{label} is `{}`, which is not known here.",
                        start(&row.cell(index).text)
                    );
                    handover.remark(Concern::UnitUnknown, detail, row.place());
                }
            }
            Ok(())
        })?;
        if n_rows == 0 {
            handover.remark(
                Concern::UnitUnknown,
                "No facility tells its units.",
                Place::File,
            );
        }
        Ok(facility)
    }
}

/// The storeys, and what those are part of that are not floors.
fn storeys(
    book: &mut Workbook<'_>,
    handover: &mut Handover,
) -> Result<BTreeMap<String, SpaceKind>, Refusal> {
    let mut kinds = BTreeMap::new();
    read_table(book, "Floor", ["Name", "Category"], |row| {
        let Some(name) = row.told(0).filter(|_| handover.storeys.len() < MAX_SPACES) else {
            return Ok(());
        };
        let kind = match clean(&row.cell(1).text).to_lowercase().as_str() {
            "roof" => SpaceKind::Roof,
            "site" => SpaceKind::Site,
            _ => SpaceKind::Floor,
        };
        kinds.insert(name.clone(), kind);
        let place = row.place();
        handover.storeys.push(Storey { name, place });
        Ok(())
    })?;
    Ok(kinds)
}

/// A row of the sheet `Space`.
fn space(facility: &Facility, row: &Row<'_, 10>) -> FoundSpace {
    let mut space = FoundSpace::at(row.place());
    space.storey = row.told(1);
    space.surface = surface(row, &mut space);
    if space.surface.is_some() {
        space.name = row.told(2).unwrap_or_default();
    } else {
        named(facility, row, &mut space);
    }
    let mut areas: Vec<Claim<Area>> = Vec::new();
    let mut n_net = 0;
    for index in [7, 6] {
        if let Some(value) = figure(&mut space, row, index) {
            let taken = facility.area.map(|unit| unit.take(value));
            match taken {
                None => space.remark(Concern::UnitUnknown, "The unit of its area is not known."),
                Some(None) => {
                    let detail = format!("{} is beyond what a floor can be.", row.label(index));
                    space.remark(Concern::NumberUnreadable, detail);
                }
                Some(Some(value)) => {
                    n_net += usize::from(index == 7);
                    areas.push(Claim {
                        value,
                        label: row.label(index).to_owned(),
                        place: row.place(),
                    });
                }
            }
        }
    }
    // A gross area is another than the net area by its nature: beside it it is no contradiction.
    areas.truncate(
        if areas
            .first()
            .is_some_and(|claim| n_net > 0 && claim.value > Area::ZERO)
        {
            1
        } else {
            2
        },
    );
    space.area = take_area(&areas, n_net, &mut space.remarks);
    let height = figure(&mut space, row, 5);
    let height = height
        .zip(facility.length.as_ref())
        .and_then(|(value, (unit, _))| unit.take(value));
    space.height = height.filter(|height| height.mm() > 0);
    space
}

/// What a space is called where the file came from elsewhere: by its number, its description and its id there.
fn named(facility: &Facility, row: &Row<'_, 10>, space: &mut FoundSpace) {
    let number = row.told(0);
    space.name = row.told(2).or_else(|| number.clone()).unwrap_or_default();
    if number
        .as_deref()
        .is_some_and(|name| name.eq_ignore_ascii_case("site"))
    {
        space.kind = SpaceKind::Site;
    }
    let id = row
        .told(4)
        .map(|id| ExternalName::of(&row.told(3).unwrap_or_else(|| facility.system.clone()), &id));
    space.external = id.or_else(|| {
        number.as_ref().map(|name| ExternalName {
            system: facility.system.clone(),
            id: name.clone(),
        })
    });
    space.number = number;
}

/// The system of names that our own workbooks give to surfaces which no other system names.
const OUR_NAME: &str = "Wearcourse";

/// The surface that a row is, with a remark where its version cannot be read.
fn surface(row: &Row<'_, 10>, space: &mut FoundSpace) -> Option<FoundSurface> {
    // What names nothing elsewhere goes out under a name of ours: a tool may keep the standard's columns alone.
    let ours = row.told(3).is_some_and(|system| system == OUR_NAME);
    let named = || row.told(4).filter(|id| ours && id.starts_with("srf_"));
    let id = row.told(8).or_else(named)?;
    let text = row.told(9);
    let version = text.as_deref().and_then(|text| text.parse().ok());
    let version = version.filter(|version| *version >= 1);
    if let (Some(text), None) = (text, version) {
        let detail = format!("{} is `{}`: not one.", row.label(9), start(&text));
        space.remark(Concern::NumberUnreadable, detail);
    }
    Some(FoundSurface { id, version })
}

/// The number of a cell; `None`, with a remark, for what is not one.
fn figure<const N: usize>(space: &mut FoundSpace, row: &Row<'_, N>, index: usize) -> Option<f64> {
    let text = row.told(index)?;
    let value = number(&text).filter(|value| *value >= 0.0);
    let label = row.label(index);
    match value {
        Some(_) if row.cell(index).is_text => {
            space.remark(
                Concern::NumberAsText,
                format!("{label} is written as text."),
            );
        }
        Some(_) => {}
        None => {
            let detail = format!("{label} is `{}`, not a number.", start(&text));
            space.remark(Concern::NumberUnreadable, detail);
        }
    }
    value
}

/// The beginning of a text, for a remark.
fn start(text: &str) -> String {
    text.trim()
        .chars()
        .take(40)
        .flat_map(char::escape_debug)
        .collect()
}

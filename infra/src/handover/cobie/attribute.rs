//! What rows of the sheet `Attribute` say of spaces: the edge and the finish of their floors.

use std::collections::BTreeMap;

use domain::{
    handover::{
        Claim, Concern, FoundFinish, Handover, LengthUnit, MAX_NAME, Refusal, clean, number,
        take_perimeter, told,
    },
    quantity::Length,
};

use super::{Facility, start, table::Row, table::read_table};
use crate::handover::sheet::Workbook;

/// Names of attributes, in small letters without blanks, under which a floor's finish stands.
const FINISHES: [&str; 4] = [
    "floormaterial",
    "floorcovering",
    "floorfinish",
    "finishfloor",
];
/// How many claims of one space's edge are kept.
const MAX_CLAIMS: usize = 8;

const NAME: usize = 0;
const SHEET: usize = 1;
const ROW: usize = 2;
const VALUE: usize = 3;
const UNIT: usize = 4;

/// Reads the attributes of spaces; `by_name` tells the index of each space.
pub(super) fn read(
    book: &mut Workbook<'_>,
    facility: &Facility,
    by_name: &BTreeMap<String, usize>,
    handover: &mut Handover,
) -> Result<(), Refusal> {
    let mut reader = Reader {
        facility,
        edges: vec![Vec::new(); handover.spaces.len()],
        n_differing: 0,
    };
    let wanted = ["Name", "SheetName", "RowName", "Value", "Unit"];
    read_table(book, "Attribute", wanted, |row| {
        if !row.cell(SHEET).text.trim().eq_ignore_ascii_case("space") {
            return Ok(());
        }
        let name: String = row
            .cell(NAME)
            .text
            .chars()
            .filter(|c| c.is_alphanumeric())
            .take(MAX_NAME)
            .collect();
        let name = name.to_lowercase();
        let (is_edge, is_finish) = (name == "perimeter", FINISHES.contains(&name.as_str()));
        if !is_edge && !is_finish {
            return Ok(());
        }
        let of = clean(&row.cell(ROW).text);
        let Some(index) = by_name.get(&of.to_lowercase()).copied() else {
            let detail = format!("There is no space `{}`.", start(&of));
            handover.remark(Concern::SpaceUnknown, detail, row.place());
            return Ok(());
        };
        if is_edge {
            reader.edge(handover, index, row);
        } else {
            finish(handover, index, row);
        }
        Ok(())
    })?;
    if reader.n_differing > 0 {
        let n_rows = reader.n_differing;
        let detail =
            format!("{n_rows} edges have another unit than the facility; their own counts.");
        handover.remark(Concern::UnitDiffers, detail, domain::handover::Place::File);
    }
    for (space, edges) in handover.spaces.iter_mut().zip(&reader.edges) {
        space.perimeter = take_perimeter(edges, space.area, &mut space.remarks);
    }
    Ok(())
}

struct Reader<'f> {
    facility: &'f Facility,
    /// The claims of each space's edge.
    edges: Vec<Vec<Claim<Length>>>,
    /// How many rows have another unit than the facility.
    n_differing: usize,
}

impl Reader<'_> {
    fn edge(&mut self, handover: &mut Handover, index: usize, row: &Row<'_, 5>) {
        let (Some(space), Some(edges)) =
            (handover.spaces.get_mut(index), self.edges.get_mut(index))
        else {
            return;
        };
        let Some(text) = told(&row.cell(VALUE).text, "Perimeter") else {
            return;
        };
        let of_facility = self.facility.length.as_ref().map(|(unit, _)| *unit);
        let own = row.told(UNIT);
        let unit = match &own {
            Some(word) => LengthUnit::named(word),
            None => of_facility,
        };
        let Some(unit) = unit else {
            let detail = format!(
                "The unit `{}` of its edge is not known; it is left out.",
                start(&own.unwrap_or_default())
            );
            space.remark(Concern::PerimeterMissing, detail);
            return;
        };
        self.n_differing += usize::from(of_facility.is_some_and(|other| other != unit));
        let value = number(&text).and_then(|value| unit.take(value));
        match value {
            Some(value) if edges.len() < MAX_CLAIMS => edges.push(Claim {
                value,
                label: "Perimeter".to_owned(),
                place: row.place(),
            }),
            Some(_) => {}
            None => {
                let detail = format!("Perimeter is `{}`, not a length.", start(&text));
                space.remark(Concern::NumberUnreadable, detail);
            }
        }
    }
}

fn finish(handover: &mut Handover, index: usize, row: &Row<'_, 5>) {
    let Some(space) = handover.spaces.get_mut(index) else {
        return;
    };
    let label = clean(&row.cell(NAME).text);
    match told(&row.cell(VALUE).text, &label) {
        // A workbook of the register tells a key; what somebody wrote in its place is read as any finish.
        Some(text) if space.surface.is_some() && is_key(&text) => space.material = Some(text),
        Some(text) => {
            let place = row.place();
            space.take_finish(FoundFinish { text, label, place });
        }
        None => space.remark(
            Concern::FinishPlaceholder,
            format!("{label} holds no finish: nobody filled it in."),
        ),
    }
}

/// Whether a text is written as keys of materials are.
fn is_key(text: &str) -> bool {
    let of_keys = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_';
    text.chars().all(of_keys)
}

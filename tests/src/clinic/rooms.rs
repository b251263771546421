//! The rows of the handover data.

use std::io::Read;

use serde_json::{Map, Value, json};

use super::{Assumptions, Trouble};

/// What the data writes where there is nothing to write.
const NOTHING: &str = "n/a";

/// One row: a room.
#[derive(Debug, Clone, PartialEq)]
pub struct Room {
    /// The system and the id that identify it, byte for byte.
    pub external: (&'static str, String),
    /// The storey.
    pub storey: String,
    /// Its number.
    pub number: String,
    /// What it is used for.
    pub description: String,
    /// The finish of its floor; empty if there is none.
    pub finish: String,
    /// Its area in m².
    pub area_m2: f64,
    /// The length of its edges in m.
    pub perimeter_m: Option<f64>,
}

/// Reads the rows.
///
/// # Errors
/// [`Trouble`] for a row that is not of the form that the data has.
pub fn read_rooms(data: impl Read) -> Result<Vec<Room>, Trouble> {
    let mut rooms = Vec::new();
    for row in csv::Reader::from_reader(data).records() {
        let row = row?;
        let line = row.position().map_or(0, csv::Position::line);
        rooms.push(room(&row).ok_or_else(|| format!("line {line} cannot be read"))?);
    }
    Ok(rooms)
}

fn room(row: &csv::StringRecord) -> Option<Room> {
    let text = |column| row.get(column).map(str::to_owned);
    let (id, number) = (text(0)?, text(2)?);
    let perimeter = Some(row.get(6)?).filter(|text| !text.is_empty());
    Some(Room {
        // Two rows have no id of their own: there the building and the room identify them.
        external: if id == NOTHING {
            ("handover-room", format!("clinic/{number}"))
        } else {
            ("handover", id)
        },
        storey: text(1)?,
        number,
        description: text(3)?,
        finish: text(4)?,
        area_m2: row.get(5)?.parse().ok()?,
        perimeter_m: perimeter.map(str::parse).transpose().ok()?,
    })
}

impl Room {
    /// What it is called in what is printed.
    pub fn name(&self) -> String {
        format!("{} {}", self.number, self.description)
    }

    /// The item of a batch that registers it, with what is assumed of it.
    pub(super) fn item(&self, site_id: &str, assumptions: Option<&Assumptions>) -> Value {
        let (system, id) = &self.external;
        let mut item = Map::new();
        if let Some(assumptions) = assumptions {
            item.extend(assumptions.of(self));
        }
        let given = [
            ("site_id", json!(site_id)),
            ("name", json!(self.name())),
            ("storey", json!(self.storey)),
            ("area_m2", json!(self.area_m2)),
            ("external", json!({"system": system, "id": id})),
        ];
        item.extend(given.map(|(name, value)| (name.to_owned(), value)));
        if !self.finish.is_empty() {
            item.insert("finish".to_owned(), json!(self.finish));
        }
        if let Some(perimeter) = self.perimeter_m {
            item.insert("perimeter_m".to_owned(), json!(perimeter));
        }
        item.into()
    }

    /// A name for one piece of work on it: the same in every walk, in visible ASCII as a key must be.
    pub(super) fn key(&self, work: &str) -> String {
        let (system, id) = &self.external;
        let visible = |c: char| if c.is_ascii_graphic() { c } else { '_' };
        format!("clinic:{work}:{system}:{id}")
            .chars()
            .map(visible)
            .collect()
    }
}

//! What we take the floors to be like, where the data says nothing: ours, read from a file and marked as such.

use serde_json::{Map, Value, json};

use super::{Room, Trouble};

/// The assumptions of one file.
#[derive(Debug, Clone)]
pub struct Assumptions(Value);

/// How the reported work is made up from the planned.
#[derive(Debug, Clone)]
pub(super) struct Work {
    /// The storey that is worked on.
    pub(super) storey: String,
    /// Its first day.
    pub(super) first_day: chrono::NaiveDate,
    /// Surfaces that are begun on one day.
    pub(super) surfaces_a_day: u64,
    /// When work starts, as the end of an RFC 3339 time.
    pub(super) starts_at: String,
    /// Reported hours in per cent of the planned.
    pub(super) hours_pct: f64,
    /// Reported litres in per cent of the planned.
    pub(super) litres_pct: f64,
    /// The pH that was read.
    pub(super) surface_ph: f64,
}

impl Assumptions {
    /// Reads a file of assumptions.
    ///
    /// # Errors
    /// [`Trouble`] if it is not JSON or says less than is needed.
    pub fn read(text: &str) -> Result<Self, Trouble> {
        let read = Self(serde_json::from_str(text)?);
        read.work()
            .ok_or("the file says nothing usable of `work`")?;
        Ok(read)
    }

    /// Whose assumptions they are.
    pub(super) fn whose(&self) -> &str {
        self.0
            .get("whose")
            .and_then(Value::as_str)
            .unwrap_or("Nobody says whose they are.")
    }

    /// What is assumed of a room.
    pub(super) fn of(&self, room: &Room) -> Map<String, Value> {
        let object = |value: Option<&Value>| {
            value
                .and_then(Value::as_object)
                .cloned()
                .unwrap_or_default()
        };
        let Some(finish) = self.finish(&room.finish) else {
            return Map::new();
        };
        let mut members = object(self.0.get("every_floor"));
        members.extend(object(finish.get("surface")));
        if let Some(space) = self
            .0
            .get("spaces")
            .and_then(|spaces| spaces.get(&room.description))
        {
            members.insert("space".to_owned(), space.clone());
        }
        members
    }

    /// What is wished for floors of a finish.
    pub(super) fn wish(&self, finish: &str) -> Value {
        let wish = self.finish(finish).and_then(|finish| finish.get("wish"));
        wish.cloned().unwrap_or_else(|| json!({"goal": "restore"}))
    }

    /// The wishes by material, as an estimate takes them.
    pub(super) fn wishes(&self) -> Vec<Value> {
        let wish = |finish: &Value| {
            Some(json!({"material": finish.get("material")?, "wish": finish.get("wish")?}))
        };
        self.finishes().iter().filter_map(wish).collect()
    }

    /// How the reported work is made up.
    pub(super) fn work(&self) -> Option<Work> {
        let work = self.0.get("work")?;
        let text = |name: &str| work.get(name).and_then(Value::as_str);
        let number = |name: &str| work.get(name).and_then(Value::as_f64);
        Some(Work {
            storey: text("storey")?.to_owned(),
            first_day: text("first_day")?.parse().ok()?,
            surfaces_a_day: work.get("surfaces_a_day")?.as_u64().filter(|n| *n > 0)?,
            starts_at: text("starts_at")?.to_owned(),
            hours_pct: number("hours_pct")?,
            litres_pct: number("litres_pct")?,
            surface_ph: number("surface_ph")?,
        })
    }

    fn finishes(&self) -> &[Value] {
        self.0
            .get("finishes")
            .and_then(Value::as_array)
            .map_or(&[], Vec::as_slice)
    }

    fn finish(&self, word: &str) -> Option<&Value> {
        let is_it = |finish: &&Value| finish.get("finish").and_then(Value::as_str) == Some(word);
        self.finishes().iter().find(is_it)
    }
}

//! What waits rest on beside labels: the air of a room where nobody told it, how products harden, what would shorten a wait.

use std::collections::{BTreeMap, BTreeSet};

use serde::Deserialize;

use super::{KnowledgeBase, Product, evidence::Grade};
use crate::{
    physics::curing::{Curing, CuringReading},
    survey::{Space, Ventilation},
    words::words,
};

words! {
    /// What makes a wait shorter.
    Measure {
        /// Moving the air over the floor.
        Fan "fan",
        /// Warming air and floor.
        Heat "heat",
        /// Drying the air.
        Dehumidify "dehumidify",
        /// Spreading the coat further.
        ThinnerCoat "thinner_coat",
        /// Changing the air more often.
        Ventilate "ventilate",
    }
}

/// The room over a floor where nobody told how high it is and how often its air is changed.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RoomDefaults {
    /// Height of the ceiling in m, by the kind of space.
    pub ceiling_height_m: BTreeMap<String, f64>,
    /// How often an hour the air is changed, by how it is changed.
    pub air_changes_per_h: BTreeMap<String, f64>,
    /// How it is changed where nobody says.
    pub usual_ventilation: String,
    /// Where the figures come from.
    pub source: String,
    /// How far they can be trusted.
    pub grade: Grade,
}

/// How products harden that give off no water: slower where it is colder than their label thinks.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cure {
    /// The word that names it everywhere.
    pub key: String,
    /// How it hardens, in words.
    pub name: String,
    /// The classes of products that harden so.
    pub classes: Vec<String>,
    /// Whether only solvent-based products of these classes do; all of them where it is not said.
    pub solvent: Option<bool>,
    /// Activation energy in kJ/mol.
    pub activation_kj_mol: f64,
    /// The temperature in °C that labels speak of.
    pub label_c: f64,
    /// The relative humidity in % that labels speak of, where the moisture of the air hardens it.
    pub label_humidity_pct: Option<f64>,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

impl Cure {
    /// How this product hardens, in figures; `None` where it dries by giving off water or hardens otherwise.
    pub(crate) fn of<'k>(base: &'k KnowledgeBase, product: &Product) -> Option<(&'k Self, Curing)> {
        if product.water_share.is_some_and(|share| share > 0.0) {
            return None;
        }
        let row = base.cures.iter().find(|row| {
            row.classes.contains(&product.class)
                && row.solvent.is_none_or(|solvent| solvent == product.solvent)
        })?;
        Some((row, row.curing()?))
    }

    fn curing(&self) -> Option<Curing> {
        let reading = CuringReading {
            activation_kj_mol: self.activation_kj_mol,
            label_c: self.label_c,
            label_humidity: self.label_humidity_pct.map(|pct| pct / 100.0),
        };
        Curing::new(reading).ok()
    }
}

/// A measure, and how much of it is reckoned with.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Lever {
    /// Which measure.
    pub measure: String,
    /// How much: a value to reach, or a difference for heat and dehumidifying, or a factor on coverage.
    pub amount: f64,
    /// In what it is told.
    pub unit: String,
    /// What is not gone beyond by it: the driest air in %.
    pub limit: Option<f64>,
    /// How it is done, and what to mind.
    pub how: String,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

impl KnowledgeBase {
    /// How much of a measure is reckoned with.
    pub fn lever(&self, measure: Measure) -> Option<&Lever> {
        self.levers.iter().find(|row| row.measure == measure.word())
    }
}

/// What is missing or out of range among these rows.
pub(super) fn faults(base: &KnowledgeBase) -> Vec<String> {
    let mut found = Vec::new();
    let mut need = |holds: bool, what: String| {
        if !holds {
            found.push(what);
        }
    };
    let has_all = |rows: &BTreeMap<String, f64>, words: &[&str]| {
        let keys: BTreeSet<&str> = rows.keys().map(String::as_str).collect();
        keys == words.iter().copied().collect() && rows.values().all(|value| *value > 0.0)
    };
    let room = &base.room;
    let spaces: Vec<&str> = Space::ALL.iter().map(|word| word.word()).collect();
    let ways: Vec<&str> = Ventilation::ALL.iter().map(|word| word.word()).collect();
    need(
        has_all(&room.ceiling_height_m, &spaces),
        format!("room: ceiling_height_m: above zero for each of {spaces:?}"),
    );
    need(
        has_all(&room.air_changes_per_h, &ways),
        format!("room: air_changes_per_h: above zero for each of {ways:?}"),
    );
    need(
        Ventilation::of(&room.usual_ventilation).is_some(),
        "room: usual_ventilation".to_owned(),
    );
    for lever in base.levers.iter().filter_map(|row| row.limit) {
        need(
            (1.0..=100.0).contains(&lever),
            "shorten: limit: from 1 to 100 %".to_owned(),
        );
    }
    for (place, row) in base.cures.iter().enumerate() {
        let mut before = base.cures.iter().take(place);
        let twice = before.any(|other| {
            let same_kind =
                other.solvent.is_none() || row.solvent.is_none() || other.solvent == row.solvent;
            same_kind
                && other
                    .classes
                    .iter()
                    .any(|class| row.classes.contains(class))
        });
        need(!twice, format!("cure {}: a class stands twice", row.key));
        let figures = row.curing().is_some();
        need(figures, format!("cure {}: its figures", row.key));
        for class in &row.classes {
            let known = base.product_classes.iter().any(|known| known.key == *class);
            need(known, format!("cure {}: no class {class}", row.key));
        }
    }
    for measure in Measure::ALL {
        let rows = base
            .levers
            .iter()
            .filter(|row| row.measure == measure.word());
        let amounts: Vec<f64> = rows.map(|row| row.amount).collect();
        // What lies beyond what the physics covers would never be told.
        let within = match measure {
            Measure::Fan => 0.15..=10.0,
            Measure::Heat => 1.0..=20.0,
            Measure::Dehumidify => 1.0..=90.0,
            Measure::ThinnerCoat => 1.0..=3.0,
            Measure::Ventilate => 0.1..=60.0,
        };
        need(
            matches!(amounts.as_slice(), [amount] if within.contains(amount)),
            format!("shorten: one row within {within:?} for {}", measure.word()),
        );
    }
    found
}

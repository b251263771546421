//! One space of a file, and what all formats look at alike once the spaces are read.

use std::collections::{BTreeMap, BTreeSet};

use super::{
    Concern, ExternalName, Handover, Place, Remark, remark,
    text::{is_fit, is_formula},
};
use crate::{
    geometry::{Outline, Point},
    quantity::{Area, Length},
    words::words,
};

words! {
    /// What a space is part of.
    SpaceKind {
        /// The building's inside.
        Floor "floor",
        /// Its roof.
        Roof "roof",
        /// Its surroundings.
        Site "site",
    }
}

/// A finish as a file tells it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FoundFinish {
    /// The words, blanks folded.
    pub text: String,
    /// Under which name they stood.
    pub label: String,
    /// Where.
    pub place: Place,
}

/// A surface as a file tells it that came out of the register.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FoundSurface {
    /// Its id here.
    pub id: String,
    /// The version that the file says it had.
    pub version: Option<i64>,
}

/// A space of a file.
#[derive(Debug, Clone, PartialEq)]
pub struct FoundSpace {
    /// Where it stands.
    pub place: Place,
    /// Its name in the system that it comes from.
    pub external: Option<ExternalName>,
    /// What people call it; empty where the file does not say.
    pub name: String,
    /// Its room number, where it is not its name.
    pub number: Option<String>,
    /// The storey that it lies on.
    pub storey: Option<String>,
    /// What it is part of.
    pub kind: SpaceKind,
    /// Its net area.
    pub area: Option<Area>,
    /// The length of its edge, if one was told that can enclose the area.
    pub perimeter: Option<Length>,
    /// Its outline, if it was drawn in metres.
    pub outline: Option<Outline>,
    /// The rings of that outline as they were drawn; none without it.
    pub rings: Vec<Vec<Point>>,
    /// Its height.
    pub height: Option<Length>,
    /// What its floor is made of.
    pub finish: Option<FoundFinish>,
    /// The key of its material, where the file tells that.
    pub material: Option<String>,
    /// The surface that it is, where the file came out of the register.
    pub surface: Option<FoundSurface>,
    /// What was noticed.
    pub remarks: Vec<Remark>,
}

impl FoundSpace {
    /// A space of which nothing is known but where it stands.
    pub const fn at(place: Place) -> Self {
        Self {
            place,
            external: None,
            name: String::new(),
            number: None,
            storey: None,
            kind: SpaceKind::Floor,
            area: None,
            perimeter: None,
            outline: None,
            rings: Vec::new(),
            height: None,
            finish: None,
            material: None,
            surface: None,
            remarks: Vec::new(),
        }
    }

    /// Its number and its name, as people would look for it.
    pub fn title(&self) -> String {
        match &self.number {
            Some(number) if *number != self.name && !self.name.is_empty() => {
                format!("{number} {}", self.name)
            }
            Some(number) => number.clone(),
            None => self.name.clone(),
        }
    }

    /// Keeps a remark at the space's own place.
    pub fn remark(&mut self, concern: Concern, detail: impl Into<String>) {
        let place = self.place.clone();
        remark(&mut self.remarks, concern, detail, place);
    }

    /// Takes a finish; another one that was taken before is a contradiction.
    pub fn take_finish(&mut self, finish: FoundFinish) {
        match &self.finish {
            Some(before) if before.text.to_lowercase() != finish.text.to_lowercase() => {
                let detail = format!(
                    "{} says `{}`, {} says `{}`.",
                    before.label, before.text, finish.label, finish.text
                );
                remark(
                    &mut self.remarks,
                    Concern::FinishesDiffer,
                    detail,
                    finish.place,
                );
            }
            Some(_) => {}
            None => self.finish = Some(finish),
        }
    }
}

/// What is looked at alike in all formats: names, areas, storeys and what stands twice.
pub fn settle(handover: &mut Handover) {
    let storeys: BTreeSet<&str> = handover
        .storeys
        .iter()
        .map(|row| row.name.as_str())
        .collect();
    let mut externals: BTreeMap<ExternalName, Place> = BTreeMap::new();
    let mut names: BTreeMap<(Option<String>, String), Place> = BTreeMap::new();
    for space in &mut handover.spaces {
        figures(space);
        texts(space);
        match &space.storey {
            None => space.remark(Concern::StoreyUnknown, "No storey is told."),
            Some(name) if !storeys.is_empty() && !storeys.contains(name.as_str()) => {
                let detail = format!("The file has no storey `{name}`.");
                space.remark(Concern::StoreyUnknown, detail);
            }
            Some(_) => {}
        }
        if let Some(external) = &space.external {
            if let Some(first) = externals.get(external) {
                let detail = format!("`{}` stands at {first} already.", external.id);
                space.remark(Concern::ExternalDuplicate, detail);
            } else {
                externals.insert(external.clone(), space.place.clone());
            }
        }
        let key = (space.storey.clone(), space.title());
        if let Some(first) = names.get(&key) {
            let detail = format!("`{}` stands at {first} already.", key.1);
            space.remark(Concern::NameDuplicate, detail);
        } else {
            names.insert(key, space.place.clone());
        }
    }
}

/// What is missing or nothing among the figures of a space.
fn figures(space: &mut FoundSpace) {
    let unread = |space: &FoundSpace| {
        let is = |remark: &Remark| {
            matches!(
                remark.concern,
                Concern::UnitUnknown | Concern::NumberUnreadable
            )
        };
        space.remarks.iter().any(is)
    };
    match space.area {
        // Less than half of a hundredth of a square metre shows as nothing.
        Some(area) if area.mm2() < 5_000 => {
            space.remark(Concern::AreaZero, "Its area is nothing.");
        }
        Some(_) if space.perimeter.is_none() && space.outline.is_none() => {
            space.remark(Concern::PerimeterMissing, "No edge is told that can be.");
        }
        Some(_) => {}
        None if unread(space) => {}
        None => space.remark(Concern::AreaMissing, "No area is told."),
    }
}

/// What is wrong with the texts of a space.
fn texts(space: &mut FoundSpace) {
    if space.title().is_empty() {
        space.remark(Concern::NameMissing, "It has no name.");
    }
    let external = space.external.as_ref();
    let texts = [
        Some(space.title()),
        space.storey.clone(),
        space.finish.as_ref().map(|finish| finish.text.clone()),
        external.map(|name| name.id.clone()),
        external.map(|name| name.system.clone()),
    ];
    for text in texts.into_iter().flatten() {
        let start: String = text.chars().take(30).collect();
        if !is_fit(&text) {
            let detail = format!(
                "`{}` is too long or holds what names may not hold.",
                start.escape_debug()
            );
            space.remark(Concern::TextUnfit, detail);
        } else if is_formula(&text) {
            let detail = format!("`{start}` begins as a formula does; it stays text.");
            space.remark(Concern::FormulaText, detail);
        }
    }
}

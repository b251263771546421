//! What stands in which relation to the spaces of a model.

use std::{
    cell::RefCell,
    collections::{BTreeMap, BTreeSet},
};

use super::{
    super::{OutlineBudget, Refusal, step::Step},
    units::Units,
};

/// The most sets of properties that are kept of one space, and the most coverings.
const MAX_SETS: usize = 100;
/// The most floor coverings of which materials are looked for.
const MAX_COVERINGS: usize = 100_000;

/// The numbers of the entities that are looked at, by type.
#[derive(Debug, Default)]
pub(super) struct Ids {
    pub(super) projects: Vec<u64>,
    pub(super) buildings: Vec<u64>,
    pub(super) storeys: Vec<u64>,
    pub(super) spaces: Vec<u64>,
    aggregates: Vec<u64>,
    contained: Vec<u64>,
    defines: Vec<u64>,
    covers: Vec<u64>,
    materials: Vec<u64>,
}

impl Ids {
    /// Keeps the number of an entity if it is of a type that is looked at.
    pub(super) fn note(&mut self, id: u64, kind: &[u8]) {
        let upper = kind.to_ascii_uppercase();
        let list = match upper.as_slice() {
            b"IFCPROJECT" => &mut self.projects,
            b"IFCBUILDING" => &mut self.buildings,
            b"IFCBUILDINGSTOREY" => &mut self.storeys,
            b"IFCSPACE" => &mut self.spaces,
            b"IFCRELAGGREGATES" => &mut self.aggregates,
            b"IFCRELCONTAINEDINSPATIALSTRUCTURE" => &mut self.contained,
            b"IFCRELDEFINESBYPROPERTIES" => &mut self.defines,
            b"IFCRELCOVERSSPACES" => &mut self.covers,
            b"IFCRELASSOCIATESMATERIAL" => &mut self.materials,
            _ => return,
        };
        list.push(id);
    }
}

/// A model with the relations of its spaces.
pub(super) struct Model<'m, 'f> {
    pub(super) step: &'m Step<'f>,
    pub(super) units: Units,
    /// What each space is part of.
    parents: BTreeMap<u64, u64>,
    /// The names of storeys.
    storeys: BTreeSet<u64>,
    /// Sets of quantities and properties of each space.
    sets: BTreeMap<u64, Vec<u64>>,
    /// Coverings of each space.
    coverings: BTreeMap<u64, Vec<u64>>,
    /// The material of each covering.
    materials: BTreeMap<u64, u64>,
    /// What footprints may still cost.
    pub(super) outlines: RefCell<OutlineBudget>,
}

impl<'m, 'f> Model<'m, 'f> {
    /// Reads the relations.
    pub(super) fn read(step: &'m Step<'f>, ids: &Ids, units: Units) -> Result<Self, Refusal> {
        let spaces: BTreeSet<u64> = ids.spaces.iter().copied().collect();
        let mut model = Self {
            step,
            units,
            parents: BTreeMap::new(),
            storeys: ids.storeys.iter().copied().collect(),
            sets: BTreeMap::new(),
            coverings: BTreeMap::new(),
            materials: BTreeMap::new(),
            outlines: RefCell::default(),
        };
        model.part_of(ids, &spaces)?;
        for id in &ids.defines {
            let Some(relation) = step.get(*id)? else {
                continue;
            };
            let sets = relation.references(5);
            for space in relation
                .references(4)
                .into_iter()
                .filter(|id| spaces.contains(id))
            {
                append(&mut model.sets, space, &sets);
            }
        }
        let mut covering: BTreeSet<u64> = BTreeSet::new();
        for id in &ids.covers {
            let Some(relation) = step.get(*id)? else {
                continue;
            };
            let listed = relation.references(5);
            let space = relation.reference(4).filter(|id| spaces.contains(id));
            if let Some(space) = space.filter(|_| covering.len() < MAX_COVERINGS) {
                covering.extend(&listed);
                append(&mut model.coverings, space, &listed);
            }
        }
        if !covering.is_empty() {
            for id in &ids.materials {
                let Some(relation) = step.get(*id)? else {
                    continue;
                };
                let Some(material) = relation.reference(5) else {
                    continue;
                };
                let of = relation
                    .references(4)
                    .into_iter()
                    .filter(|id| covering.contains(id));
                model.materials.extend(of.map(|id| (id, material)));
            }
        }
        Ok(model)
    }

    fn part_of(&mut self, ids: &Ids, spaces: &BTreeSet<u64>) -> Result<(), Refusal> {
        for id in &ids.aggregates {
            let Some(relation) = self.step.get(*id)? else {
                continue;
            };
            let Some(whole) = relation.reference(4) else {
                continue;
            };
            let parts = relation
                .references(5)
                .into_iter()
                .filter(|id| spaces.contains(id));
            self.parents.extend(parts.map(|part| (part, whole)));
        }
        for id in &ids.contained {
            let Some(relation) = self.step.get(*id)? else {
                continue;
            };
            let Some(whole) = relation.reference(5) else {
                continue;
            };
            for part in relation
                .references(4)
                .into_iter()
                .filter(|id| spaces.contains(id))
            {
                self.parents.entry(part).or_insert(whole);
            }
        }
        Ok(())
    }

    /// The storey that a space is part of, directly or through spaces that it is part of.
    pub(super) fn storey_of(&self, space: u64) -> Option<u64> {
        let mut id = space;
        for _ in 0..8 {
            id = *self.parents.get(&id)?;
            if self.storeys.contains(&id) {
                return Some(id);
            }
        }
        None
    }

    /// The sets of quantities and properties of a space.
    pub(super) fn sets_of(&self, space: u64) -> &[u64] {
        self.sets.get(&space).map_or(&[], Vec::as_slice)
    }

    /// The coverings of a space.
    pub(super) fn coverings_of(&self, space: u64) -> &[u64] {
        self.coverings.get(&space).map_or(&[], Vec::as_slice)
    }

    /// The material of a covering.
    pub(super) fn material_of(&self, covering: u64) -> Option<u64> {
        self.materials.get(&covering).copied()
    }
}

/// Adds to a space's list, up to [`MAX_SETS`].
fn append(lists: &mut BTreeMap<u64, Vec<u64>>, space: u64, more: &[u64]) {
    let list = lists.entry(space).or_default();
    let room = MAX_SETS.saturating_sub(list.len());
    list.extend(more.iter().take(room));
}

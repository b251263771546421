//! One space of a model: its figures by precedence, and its finish.

use super::{
    super::{
        AreaUnit, Claim, Concern, ExternalName, FoundFinish, FoundSpace, GLOBAL_ID_SYSTEM,
        LengthUnit, Place, Refusal, SpaceKind, clean, remark, step::Entity, take_area,
        take_perimeter, text::letters, told,
    },
    footprint,
    model::Model,
};
use crate::quantity::{Area, Length};

/// The most quantities or properties that are looked at of one set.
const MAX_ROWS: usize = 1_000;

/// Reads a space.
pub(super) fn space(model: &Model<'_, '_>, entity: &Entity<'_>) -> Result<FoundSpace, Refusal> {
    let place = Place::Entity(entity.id);
    let mut space = FoundSpace::at(place);
    let name = entity.text(2).and_then(|name| told(&name, "Name"));
    let long = entity.text(7).and_then(|name| told(&name, "LongName"));
    space.number = name.clone().filter(|_| long.is_some());
    space.name = long.or(name).unwrap_or_default();
    space.external = entity
        .text(0)
        .and_then(|id| told(&id, "GlobalId"))
        .map(|id| ExternalName {
            system: GLOBAL_ID_SYSTEM.to_owned(),
            id,
        });
    if entity.word(9).eq_ignore_ascii_case(b"EXTERNAL") {
        space.kind = SpaceKind::Site;
    }
    if let Some(storey) = model.storey_of(entity.id)
        && let Some(storey) = model.step.get(storey)?
    {
        space.storey = storey
            .text(2)
            .or_else(|| storey.text(7))
            .and_then(|name| told(&name, "Name"));
    }
    let mut reader = Reader {
        model,
        space: &mut space,
        areas: Vec::new(),
        edges: Vec::new(),
    };
    for set in model.sets_of(entity.id) {
        reader.set(*set)?;
    }
    reader.coverings(entity.id)?;
    reader.footprint(entity)?;
    let (areas, edges) = (reader.areas, reader.edges);
    figures(&mut space, areas, edges);
    Ok(space)
}

/// What a figure is worth beside others of the same space: the lower, the better.
type Rank = u8;

/// From this rank on, an area stands in for the net area that is not told.
const STAND_IN: Rank = 3;
/// The rank of what was measured by shape.
const DRAWN: Rank = 9;

fn area_rank(set: &str, name: &str) -> Option<Rank> {
    Some(match (set, name) {
        (_, "netfloorarea") => 0,
        (_, "gsabimarea") => 1,
        ("dimensions" | "psetrevitdimensions", "area") => 2,
        (_, "grossfloorarea") => 3,
        (_, "netplannedarea") => 4,
        (_, "grossplannedarea") => 5,
        _ => return None,
    })
}

fn edge_rank(set: &str, name: &str) -> Option<Rank> {
    Some(match (set, name) {
        (_, "netperimeter") => 0,
        (_, "grossperimeter") => 1,
        ("dimensions" | "psetrevitdimensions", "perimeter") => 2,
        _ => return None,
    })
}

fn figures(
    space: &mut FoundSpace,
    areas: Vec<(Rank, Claim<Area>)>,
    edges: Vec<(Rank, Claim<Length>)>,
) {
    let mut areas = areas;
    areas.sort_by_key(|(rank, _)| *rank);
    let has_net = areas
        .iter()
        .any(|(rank, claim)| *rank < STAND_IN && claim.value > Area::ZERO);
    // Gross and planned areas are others than the net area by their nature: beside it they are no contradiction.
    areas.retain(|(rank, _)| !has_net || *rank < STAND_IN || *rank == DRAWN);
    let n_net = areas.iter().filter(|(rank, _)| *rank < STAND_IN).count();
    let areas: Vec<Claim<Area>> = areas.into_iter().map(|(_, claim)| claim).collect();
    space.area = take_area(&areas, n_net, &mut space.remarks);
    let mut edges = edges;
    edges.sort_by_key(|(rank, _)| *rank);
    let edges: Vec<Claim<Length>> = edges.into_iter().map(|(_, claim)| claim).collect();
    space.perimeter = take_perimeter(&edges, space.area, &mut space.remarks);
}

struct Reader<'a, 'm, 'f> {
    model: &'a Model<'m, 'f>,
    space: &'a mut FoundSpace,
    areas: Vec<(Rank, Claim<Area>)>,
    edges: Vec<(Rank, Claim<Length>)>,
}

impl Reader<'_, '_, '_> {
    /// A set of quantities or of properties.
    fn set(&mut self, id: u64) -> Result<(), Refusal> {
        let Some(set) = self.model.step.get(id)? else {
            let detail = format!("Its properties refer to #{id}, which is not there.");
            self.space.remark(Concern::ReferenceBroken, detail);
            return Ok(());
        };
        let members = if set.is("IFCELEMENTQUANTITY") {
            5
        } else if set.is("IFCPROPERTYSET") {
            4
        } else {
            return Ok(());
        };
        let title = clean(&set.text(2).unwrap_or_default());
        for row in set.references(members).into_iter().take(MAX_ROWS) {
            let Some(row) = self.model.step.get(row)? else {
                continue;
            };
            self.row(&title, &row)?;
        }
        Ok(())
    }

    /// A quantity or a property.
    fn row(&mut self, set: &str, row: &Entity<'_>) -> Result<(), Refusal> {
        // Name, unit and value stand where the type says.
        let (unit, value) = if row.is("IFCPROPERTYSINGLEVALUE") {
            (row.reference(3), row.value(2))
        } else if row.is("IFCQUANTITYAREA") || row.is("IFCQUANTITYLENGTH") {
            (row.reference(2), row.value(3))
        } else {
            return Ok(());
        };
        let name = clean(&row.text(0).unwrap_or_default());
        let (set_key, key) = (letters(set), letters(&name));
        let label = format!("{set}.{name}");
        if let Some(rank) = area_rank(&set_key, &key) {
            let unit = self.model.units.area_of(self.model.step, unit)?;
            let read = value
                .number()
                .map(|value| unit.map(|unit| unit.take(value)));
            if let Some(value) = self.judged(read, &label, row.id) {
                self.areas.push((rank, claim(value, label, row.id)));
            }
        } else if let Some(rank) = edge_rank(&set_key, &key) {
            let unit = self.model.units.length_of(self.model.step, unit)?;
            let read = value
                .number()
                .map(|value| unit.map(|unit| unit.take(value)));
            if let Some(value) = self.judged(read, &label, row.id) {
                self.edges.push((rank, claim(value, label, row.id)));
            }
        } else if matches!(
            key.as_str(),
            "height" | "netheight" | "finishceilingheight" | "unboundedheight"
        ) {
            let unit = self.model.units.length_of(self.model.step, unit)?;
            let height = value.number().and_then(|value| unit?.take(value));
            let height = height.filter(|height| height.mm() > 0);
            self.space.height = self.space.height.or(height);
        } else if matches!(
            key.as_str(),
            "floorcovering" | "floormaterial" | "floorfinish" | "finishfloor"
        ) {
            self.finish(value.text().as_deref(), label, &name, row.id);
        }
        Ok(())
    }

    /// The figure, or a remark: `None` for no number at all, `Some(None)` for no unit, `Some(Some(None))` for too much.
    #[expect(
        clippy::option_option,
        reason = "three ways to have no figure, each of which is told"
    )]
    fn judged<T>(&mut self, read: Option<Option<Option<T>>>, label: &str, at: u64) -> Option<T> {
        let (concern, detail) = match read {
            None => return None,
            Some(None) => (
                Concern::UnitUnknown,
                format!("The unit of {label} is not known."),
            ),
            Some(Some(None)) => (
                Concern::NumberUnreadable,
                format!("{label} is beyond what a floor can be."),
            ),
            Some(Some(Some(value))) => return Some(value),
        };
        remark(&mut self.space.remarks, concern, detail, Place::Entity(at));
        None
    }

    fn finish(&mut self, text: Option<&str>, label: String, name: &str, at: u64) {
        let place = Place::Entity(at);
        match text.map(|text| told(text, name)) {
            Some(Some(text)) => self.space.take_finish(FoundFinish { text, label, place }),
            Some(None) => {
                let detail = format!("{label} holds no finish: nobody filled it in.");
                remark(
                    &mut self.space.remarks,
                    Concern::FinishPlaceholder,
                    detail,
                    place,
                );
            }
            None => {}
        }
    }

    /// The floor coverings that are modelled.
    fn coverings(&mut self, space: u64) -> Result<(), Refusal> {
        let model = self.model;
        for id in model.coverings_of(space) {
            let Some(covering) = model.step.get(*id)? else {
                continue;
            };
            if !covering.is("IFCCOVERING") || !covering.word(8).eq_ignore_ascii_case(b"FLOORING") {
                continue;
            }
            let mut named = Vec::new();
            if let Some(material) = model.material_of(*id)
                && let Some(material) = model.step.get(material)?
                && material.is("IFCMATERIAL")
            {
                named.push(("IfcCovering.Material", material.text(0)));
            }
            named.push(("IfcCovering.ObjectType", covering.text(4)));
            named.push(("IfcCovering.Name", covering.text(2)));
            let first = named
                .into_iter()
                .find_map(|(label, text)| Some((label, told(&text?, "Name")?)));
            if let Some((label, text)) = first {
                let (label, place) = (label.to_owned(), Place::Entity(*id));
                self.space.take_finish(FoundFinish { text, label, place });
            }
        }
        Ok(())
    }

    /// What the footprint measures.
    fn footprint(&mut self, entity: &Entity<'_>) -> Result<(), Refusal> {
        let (Some(unit), Some(shape)) = (self.model.units.length, entity.reference(6)) else {
            return Ok(());
        };
        match footprint::measure(self.model, unit, shape)? {
            Some(drawn) => {
                let Some(area) = AreaUnit::SQUARE_METRE.take(drawn.area_m2) else {
                    let detail = "Its footprint has an area that no floor has: look at the unit of length of the file.";
                    self.space.remark(Concern::NumberUnreadable, detail);
                    return Ok(());
                };
                let area = Some(area).filter(|area| *area > Area::ZERO);
                let edge = LengthUnit::METRE.take(drawn.perimeter_m);
                let label = || "The footprint".to_owned();
                self.areas
                    .extend(area.map(|value| (DRAWN, claim(value, label(), shape))));
                self.edges
                    .extend(edge.map(|value| (DRAWN, claim(value, label(), shape))));
            }
            None if self.areas.is_empty() => {
                let detail = "Its shape is drawn in a way that is not worked out here.";
                self.space.remark(Concern::ShapeUnread, detail);
            }
            None => {}
        }
        Ok(())
    }
}

fn claim<T>(value: T, label: String, at: u64) -> Claim<T> {
    Claim {
        value,
        label,
        place: Place::Entity(at),
    }
}

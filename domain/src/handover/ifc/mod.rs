//! Spaces from a building model in STEP text: IFC2X3 and IFC4 (ISO 16739).
//!
//! The areas that a model tells come before what its shapes would give: base quantities of the standard, then the
//! properties in which programs that write models keep them, then what was planned; only a space of which nothing is told is
//! measured by its footprint. Other figures of a space are held against the one that is taken.

mod footprint;
mod model;
mod space;
mod units;

use super::{
    Handover, MAX_SPACES, Place, Refusal, RefusalKind, Storey, clean, settle, step::Step, told,
};
use model::{Ids, Model};
use units::Units;

/// Reads a model.
///
/// # Errors
/// [`Refusal`] with its line or entity: not such a file, of a schema that is not read here, broken or cut off, larger than
/// 64 MiB, more than [`MAX_SPACES`] spaces, or entities that refer to one another without end.
pub fn read_ifc(bytes: &[u8]) -> Result<Handover, Refusal> {
    let mut ids = Ids::default();
    let step = Step::open(bytes, |id, kind| ids.note(id, kind))?;
    if !step.schema.starts_with("IFC2X") && !step.schema.starts_with("IFC4") {
        let detail = format!(
            "The schema is `{}`; IFC2X3 and IFC4 are read.",
            step.schema.escape_debug()
        );
        return Err(Refusal::new(RefusalKind::Unsupported, detail, Place::File));
    }
    if ids.spaces.len() > MAX_SPACES || ids.storeys.len() > MAX_SPACES {
        let detail = format!("There are more than {MAX_SPACES} spaces, or storeys.");
        return Err(Refusal::new(RefusalKind::TooLarge, detail, Place::File));
    }
    let mut handover = Handover::default();
    let units = Units::read(&step, &ids, &mut handover)?;
    handover.facility = facility(&step, &ids)?;
    for id in &ids.storeys {
        if let Some(entity) = step.get(*id)? {
            let name = clean(
                &entity
                    .text(2)
                    .or_else(|| entity.text(7))
                    .unwrap_or_default(),
            );
            let place = Place::Entity(*id);
            handover.storeys.push(Storey { name, place });
        }
    }
    let model = Model::read(&step, &ids, units)?;
    for id in &ids.spaces {
        if let Some(entity) = step.get(*id)? {
            handover.spaces.push(space::space(&model, &entity)?);
        }
    }
    settle(&mut handover);
    Ok(handover)
}

/// What the model calls its building, else its project.
fn facility(step: &Step<'_>, ids: &Ids) -> Result<Option<String>, Refusal> {
    for id in ids.buildings.iter().chain(&ids.projects) {
        if let Some(entity) = step.get(*id)? {
            let mut named = [entity.text(2), entity.text(7)].into_iter().flatten();
            if let Some(name) = named.find_map(|name| told(&name, "Name")) {
                return Ok(Some(name));
            }
        }
    }
    Ok(None)
}

//! What a file changes at the register, space by space: the items of a batch that registers and changes surfaces.

use std::collections::BTreeMap;

use domain::handover::{
    Decided, ExternalName, Fate, FoundSpace, Handover, Member, Reason, Reconciled, Registered, Why,
    merge,
};
use domain::id::SurfaceId;
use infra::row::SurfaceRow;
use serde_json::{Map, Value, json};

use super::named::{is_nameless, name_of};
use crate::{
    app::surface::request_of,
    problem::Problem,
    wire::{
        self,
        import::{ImportRowView, Said},
    },
};

/// What is registered of a space, and what the last file said of it.
pub(super) struct Known {
    id: SurfaceId,
    version: i64,
    now: Registered,
    /// Whether somebody has drawn it, or a file has.
    is_drawn: bool,
    before: Option<Registered>,
}

/// Surfaces by their external names.
pub(super) type Register = BTreeMap<ExternalName, Known>;

/// The surfaces that have names of a file, with what the last file said of each.
///
/// # Errors
/// `internal` for a text that is not what was written.
pub(super) fn register(
    rows: &[SurfaceRow],
    said: &BTreeMap<SurfaceId, String>,
) -> Result<Register, Problem> {
    let mut register = Register::new();
    for row in rows {
        let external = name_of(row);
        let before = said.get(&row.id).map(|text| wire::stored::<Said>(text));
        let before = before.transpose()?;
        let known = Known {
            id: row.id,
            version: row.version,
            now: Registered {
                external: external.clone(),
                name: row.name.clone(),
                storey: row.storey.clone(),
                material: row.material.clone(),
                area: row.area,
                perimeter: row.perimeter,
            },
            is_drawn: request_of(row)?.outline.is_some(),
            before: before.map(|said| said.into_registered(external.clone())),
        };
        register.insert(external, known);
    }
    Ok(register)
}

/// What is registered, for the judge of a file.
pub(super) fn registered(register: &Register) -> Vec<Registered> {
    register.values().map(|known| known.now.clone()).collect()
}

/// A space with what becomes of it, and what is to be written.
pub(super) struct Step {
    pub(super) view: ImportRowView,
    /// What the file says of the surface.
    pub(super) said: Option<Registered>,
    /// The item of the batch, where anything is written.
    pub(super) item: Option<Value>,
}

/// What becomes of each space, and what is to be written for it.
pub(super) fn steps(
    site_id: &str,
    found: &Handover,
    judged: Reconciled,
    register: &Register,
) -> Vec<Step> {
    let rows = found.spaces.iter().zip(judged.rows);
    let step = |(space, decided): (&FoundSpace, Decided)| {
        let external = space.external.as_ref();
        let known = external.and_then(|name| register.get(name));
        step(site_id, space, decided, known)
    };
    rows.map(step).collect()
}

fn step(site_id: &str, space: &FoundSpace, mut decided: Decided, known: Option<&Known>) -> Step {
    let Some(said) = decided.surface.clone() else {
        let mut view = ImportRowView::new(space, &decided);
        view.surface_id = known.map(|known| known.id.to_string());
        return Step {
            view,
            said: None,
            item: None,
        };
    };
    let Some(known) = known else {
        return Step {
            view: ImportRowView::new(space, &decided),
            item: Some(created(site_id, space, &said)),
            said: Some(said),
        };
    };
    // A table that came out of the register is no word of the building's files: it is what somebody made of the register.
    let of_register = space.surface.as_ref();
    let before = known.before.as_ref().filter(|_| of_register.is_none());
    let mut merged = merge(&said, &known.now, before);
    // A file without drawings takes none away.
    let undraws =
        |member: &Member| *member == Member::Size && known.is_drawn && space.outline.is_none();
    if let Some(at) = merged.changes.iter().position(undraws) {
        merged.conflicts.push(merged.changes.remove(at));
    }
    let had = of_register.and_then(|surface| surface.version);
    let is_stale = of_register.is_some() && had != Some(known.version);
    let open = if merged.changes.is_empty() {
        None
    } else if is_stale {
        Some(overtaken(space, (had, known.version)))
    } else {
        is_nameless(&known.now.external).then(|| nameless(space))
    };
    let item = if let Some(why) = open {
        decided.fate = Fate::NeedsAttention;
        decided.why.push(why);
        merged.changes.clear();
        None
    } else if !merged.conflicts.is_empty() {
        decided.fate = Fate::NeedsAttention;
        decided.why.push(in_conflict(space, &merged.conflicts));
        None
    } else if merged.changes.is_empty() {
        decided.fate = Fate::Unchanged;
        None
    } else {
        decided.fate = Fate::Updated;
        Some(updated(site_id, space, &said, &merged.changes))
    };
    let mut view = ImportRowView::new(space, &decided);
    view.surface_id = Some(known.id.to_string());
    view.external.take_if(|_| is_nameless(&known.now.external));
    view.changed(&merged.changes, &merged.kept);
    Step {
        view,
        // What is in conflict was not taken.
        said: Some(said).filter(|_| of_register.is_none() && merged.conflicts.is_empty()),
        item,
    }
}

fn in_conflict(space: &FoundSpace, members: &[Member]) -> Why {
    let words: Vec<&str> = members.iter().map(|member| member.word()).collect();
    let words = words.join(", ");
    Why {
        code: Reason::ChangedByBoth.word(),
        detail: format!(
            "The file says something else of {words} than the register, where it was put right: change the surface, or the source of the file."
        ),
        place: space.place.clone(),
    }
}

/// Why nothing is changed by a row that is older than its surface.
fn overtaken(space: &FoundSpace, (had, has): (Option<i64>, i64)) -> Why {
    let had = had.map_or_else(|| "no version".to_owned(), |had| format!("version {had}"));
    Why {
        code: Reason::ChangedByBoth.word(),
        detail: format!(
            "The surface has version {has}, the row is of {had} and says something else: export the table anew."
        ),
        place: space.place.clone(),
    }
}

/// Why nothing is changed of a surface that no other system has a name for.
fn nameless(space: &FoundSpace) -> Why {
    let detail =
        "The surface has no external name, and files change only surfaces that have one: PATCH it.";
    Why {
        code: Reason::ExternalMissing.word(),
        detail: detail.to_owned(),
        place: space.place.clone(),
    }
}

fn named(site_id: &str, said: &Registered) -> Map<String, Value> {
    let external = json!({"system": said.external.system, "id": said.external.id});
    Map::from_iter([
        ("external".to_owned(), external),
        ("site_id".to_owned(), site_id.into()),
    ])
}

fn put(item: &mut Map<String, Value>, member: &str, value: impl Into<Value>) {
    item.insert(member.to_owned(), value.into());
}

fn size(item: &mut Map<String, Value>, space: &FoundSpace, said: &Registered) {
    let rings: Vec<Value> = space
        .rings
        .iter()
        .map(|ring| ring.iter().map(|point| json!([point.x, point.y])).collect())
        .collect();
    if space.outline.is_some() {
        put(item, "outline", rings);
        return;
    }
    put(item, "area_m2", said.area.m2());
    if let Some(edge) = said.perimeter {
        put(item, "perimeter_m", edge.m());
    }
}

fn created(site_id: &str, space: &FoundSpace, said: &Registered) -> Value {
    let mut item = named(site_id, said);
    put(&mut item, "name", said.name.as_str());
    put(&mut item, "storey", said.storey.as_str());
    put(&mut item, "material", said.material.as_str());
    size(&mut item, space, said);
    Value::Object(item)
}

fn updated(site_id: &str, space: &FoundSpace, said: &Registered, changes: &[Member]) -> Value {
    let mut item = named(site_id, said);
    for member in changes {
        match member {
            Member::Name => put(&mut item, "name", said.name.as_str()),
            Member::Storey => put(&mut item, "storey", said.storey.as_str()),
            Member::Material => {
                put(&mut item, "material", said.material.as_str());
                put(&mut item, "finish", Value::Null);
            }
            Member::Size => {
                for stale in ["area_m2", "perimeter_m", "outline"] {
                    put(&mut item, stale, Value::Null);
                }
                size(&mut item, space, said);
            }
        }
    }
    Value::Object(item)
}

//! Surfaces that a file names by their ids here, because it came out of the register; and texts in the form that is kept.

use std::collections::{BTreeMap, BTreeSet};

use domain::{
    handover::{Concern, ExternalName, FoundSpace, Handover},
    id::{SiteId, SurfaceId},
};
use infra::{
    row::{External, SurfaceRow},
    store::Tx,
};
use unicode_normalization::UnicodeNormalization as _;

use crate::problem::Problem;

/// Under which system surfaces without an external name are told apart while a file is judged: no surface has this one, because
/// it is empty.
const NAMELESS: &str = "";

/// The name by which a surface is known while a file is judged.
pub(super) fn name_of(row: &SurfaceRow) -> ExternalName {
    match &row.external {
        Some(External { system, id }) => ExternalName {
            system: system.clone(),
            id: id.clone(),
        },
        None => ExternalName {
            system: NAMELESS.to_owned(),
            id: row.id.to_string(),
        },
    }
}

/// Whether a name is none that anybody gave.
pub(super) fn is_nameless(name: &ExternalName) -> bool {
    name.system == NAMELESS
}

/// Brings names to the form in which they are kept (Unicode NFC), so that a list that is asked for a storey finds its floors.
pub(super) fn compose(found: &mut Handover) {
    let nfc = |text: &mut String| *text = text.nfc().collect();
    for space in &mut found.spaces {
        let others = space.number.iter_mut().chain(&mut space.storey);
        others.chain([&mut space.name]).for_each(nfc);
    }
}

/// Gives the spaces that name surfaces of a site the external names of these; says which surfaces those are.
///
/// # Errors
/// Those of the store.
pub(super) async fn resolve(
    tx: &Tx,
    site: SiteId,
    found: &mut Handover,
) -> Result<Vec<SurfaceRow>, Problem> {
    let id_of = |space: &FoundSpace| space.surface.as_ref()?.id.parse::<SurfaceId>().ok();
    let ids: Vec<SurfaceId> = found.spaces.iter().filter_map(id_of).collect();
    if ids.is_empty() {
        return Ok(Vec::new());
    }
    let mut rows = tx.surfaces().get_many(&ids).await?;
    rows.retain(|row| row.site_id == site);
    let by_id: BTreeMap<SurfaceId, &SurfaceRow> = rows.iter().map(|row| (row.id, row)).collect();
    let mut seen = BTreeSet::new();
    for space in &mut found.spaces {
        if let Some(row) = id_of(space).and_then(|id| by_id.get(&id)) {
            space.external = Some(name_of(row));
        }
        let Some(name) = space.external.clone() else {
            continue;
        };
        if !seen.insert(name) {
            space.remark(
                Concern::ExternalDuplicate,
                "Another row is this surface already.",
            );
        }
    }
    Ok(rows)
}

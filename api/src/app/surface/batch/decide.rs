//! What becomes of each item of a batch, given what is stored: a pure function.

use std::collections::{BTreeMap, BTreeSet};

use domain::{id::SiteId, knowledge::Products};
use infra::row::{External, SurfaceRow};

use crate::{
    app::surface::{
        classify::{Draft, Refusal, at, draft},
        succession::Succession,
        write::{is_said_by, other_site},
    },
    body::Fault,
    problem::Problem,
    wire::surface::{Outcome, SurfaceItem},
};

/// What becomes of an item.
#[derive(Debug)]
pub(super) enum Decision<'r> {
    /// It is registered.
    Create(Draft),
    /// It replaces what was said of a surface.
    Update(Draft, &'r SurfaceRow),
    /// It says what was said already.
    Keep(Draft, &'r SurfaceRow),
    /// It is not stored; the surface with its name, if there is one, stays as it is.
    Refuse(Refusal, Option<&'r SurfaceRow>),
}

impl Decision<'_> {
    /// The outcome that the caller is told.
    pub(super) const fn outcome(&self) -> Outcome {
        match self {
            Self::Create(_) => Outcome::Created,
            Self::Update(..) => Outcome::Updated,
            Self::Keep(..) => Outcome::Unchanged,
            Self::Refuse(refusal, _) => refusal.outcome,
        }
    }

    /// Why it is not stored.
    pub(super) fn faults(&self) -> &[Fault] {
        match self {
            Self::Refuse(refusal, _) => &refusal.faults,
            Self::Create(_) | Self::Update(..) | Self::Keep(..) => &[],
        }
    }
}

/// Decides every item; `found` are the surfaces that have the external names of items.
///
/// # Errors
/// `internal` for a stored surface that cannot be read.
pub(super) fn decide<'r>(
    known: Products<'_>,
    items: &[SurfaceItem],
    (sites, successors): (&BTreeSet<SiteId>, &mut Succession),
    found: &'r [SurfaceRow],
) -> Result<Vec<Decision<'r>>, Problem> {
    let found: BTreeMap<&External, &SurfaceRow> = found
        .iter()
        .filter_map(|row| Some((row.external.as_ref()?, row)))
        .collect();
    let mut first_at: BTreeMap<External, usize> = BTreeMap::new();
    let mut decisions = Vec::with_capacity(items.len());
    for (index, item) in items.iter().enumerate() {
        let external = External::from(&item.external);
        let stored = found.get(&external).copied();
        let first = *first_at.entry(external).or_insert(index);
        let root = format!("#/items/{index}");
        let mut faults = Vec::new();
        if first != index {
            let detail = format!("Item {first} has this external name already.");
            faults.push(at(&root, "external", "duplicate", detail));
        }
        faults.extend(version_fault(item, stored, &root));
        faults.extend(successors.fault(
            stored.map(|row| row.id),
            &item.site_id,
            item.replaced_by.as_ref(),
            &root,
        ));
        let request = item.clone().into_request();
        let draft = draft(known, &request, &root, |id| sites.contains(&id));
        decisions.push(one(draft, stored, faults, &root)?);
    }
    Ok(decisions)
}

fn one<'r>(
    draft: Result<Draft, Refusal>,
    stored: Option<&'r SurfaceRow>,
    mut faults: Vec<Fault>,
    root: &str,
) -> Result<Decision<'r>, Problem> {
    let draft = match draft {
        Ok(draft) => draft,
        Err(mut refusal) => {
            // A soft floor is a soft floor, however often it is named.
            if refusal.outcome == Outcome::NeedsAttention {
                refusal.faults.extend(faults);
            }
            return Ok(Decision::Refuse(refusal, stored));
        }
    };
    if stored.is_some_and(|row| row.site_id != draft.site_id) {
        faults.push(other_site(root));
    }
    if !faults.is_empty() {
        return Ok(Decision::Refuse(Refusal::attention(faults), stored));
    }
    Ok(match stored {
        None => Decision::Create(draft),
        Some(row) if is_said_by(&draft, row)? => Decision::Keep(draft, row),
        Some(row) => Decision::Update(draft, row),
    })
}

/// Why the version that the item expects is not the one that is there.
fn version_fault(item: &SurfaceItem, stored: Option<&SurfaceRow>, root: &str) -> Option<Fault> {
    let expected = item.if_version?;
    let detail = match stored {
        Some(row) if row.version == expected => return None,
        Some(row) => format!(
            "The surface has version {}: read it again and decide anew.",
            row.version
        ),
        None => "There is no surface with this external name.".to_owned(),
    };
    Some(at(root, "if_version", "stale_version", detail))
}

#[cfg(test)]
mod tests;

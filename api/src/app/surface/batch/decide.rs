//! What becomes of each item of a batch, given what is stored: a pure function.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use domain::knowledge::Products;
use infra::row::{External, SurfaceRow};

use super::asked::Asked;
use crate::{
    app::surface::{
        classify::{Draft, Refusal, at, draft},
        place::Places,
        seen,
        succession::Succession,
        write::{is_said_by, other_site},
    },
    body::Fault,
    wire::surface::{Outcome, SurfaceRequest},
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

/// Decides every item.
pub(super) fn decide<'r>(
    known: Products<'_>,
    asked: &[Asked<'r>],
    (places, successors): (&Places, &mut Succession),
    now: DateTime<Utc>,
) -> Vec<Decision<'r>> {
    let mut first_at: BTreeMap<External, usize> = BTreeMap::new();
    let mut decisions = Vec::with_capacity(asked.len());
    for (index, item) in asked.iter().enumerate() {
        let external = External::from(&item.external);
        let first = *first_at.entry(external).or_insert(index);
        let root = format!("#/items/{index}");
        let row = item.stored.as_ref().map(|(row, _)| *row);
        let mut faults = Vec::new();
        if first != index {
            let detail = format!("Item {first} has this external name already.");
            faults.push(at(&root, "external", "duplicate", detail));
        }
        faults.extend(version_fault(item.if_version, row, &root));
        let request = match &item.request {
            Ok(request) => request,
            Err(found) => {
                faults.extend_from_slice(found);
                decisions.push(Decision::Refuse(Refusal::attention(faults), row));
                continue;
            }
        };
        faults.extend(seen::fault(request, now, &root));
        let named = request.replaced_by.as_ref();
        let id = row.map(|row| row.id);
        faults.extend(successors.fault(id, &request.site_id, named, &root));
        if row.is_none() {
            faults.extend(places.fault(&request.site_id, &root));
        }
        let draft = draft(known, request, &root, |id| places.has(id));
        decisions.push(one(draft, item.stored.as_ref(), faults, &root));
    }
    decisions
}

fn one<'r>(
    draft: Result<Draft, Refusal>,
    stored: Option<&(&'r SurfaceRow, SurfaceRequest)>,
    mut faults: Vec<Fault>,
    root: &str,
) -> Decision<'r> {
    let row = stored.map(|(row, _)| *row);
    let draft = match draft {
        Ok(draft) => draft,
        Err(mut refusal) => {
            // A soft floor is a soft floor, however often it is named.
            if refusal.outcome == Outcome::NeedsAttention {
                refusal.faults.extend(faults);
            }
            return Decision::Refuse(refusal, row);
        }
    };
    if row.is_some_and(|row| row.site_id != draft.site_id) {
        faults.push(other_site(root));
    }
    if !faults.is_empty() {
        return Decision::Refuse(Refusal::attention(faults), row);
    }
    match stored {
        None => Decision::Create(draft),
        Some((row, before)) if is_said_by(&draft, row, before) => Decision::Keep(draft, row),
        Some((row, _)) => Decision::Update(draft, row),
    }
}

/// Why the version that the item expects is not the one that is there.
fn version_fault(expected: Option<i64>, stored: Option<&SurfaceRow>, root: &str) -> Option<Fault> {
    let expected = expected?;
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

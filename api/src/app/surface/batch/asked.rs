//! What a batch asks of each surface, beside what is stored.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use infra::row::{External, SurfaceRow};
use serde_json::{Map, Value};

use crate::{
    app::surface::{patchable, request_of, seen},
    body::{Fault, Sent, into_typed},
    patch::merge,
    problem::Problem,
    wire::{self, surface::SurfaceBatch, surface::SurfaceRequest},
};

/// The most faults that are told of one item.
const MAX_FAULTS: usize = 20;

/// What is asked of one surface.
#[derive(Debug)]
pub(super) struct Asked<'r> {
    /// Its name in the other system.
    pub(super) external: wire::external::External,
    /// The version that must be there.
    pub(super) if_version: Option<i64>,
    /// All that is to be said of it, or why nothing can be.
    pub(super) request: Result<SurfaceRequest, Vec<Fault>>,
    /// The surface that has the name, and what it says.
    pub(super) stored: Option<(&'r SurfaceRow, SurfaceRequest)>,
}

/// The external names of a batch.
///
/// # Errors
/// `internal` for a body that its schema should not have let through.
pub(super) fn externals(batch: &SurfaceBatch) -> Result<Vec<wire::external::External>, Problem> {
    match batch {
        SurfaceBatch::Whole(batch) => Ok(batch
            .items
            .iter()
            .map(|item| item.external.clone())
            .collect()),
        SurfaceBatch::Merge(batch) => {
            let named = batch.items.iter().map(|item| item.get("external").cloned());
            let read = named.map(|named| serde_json::from_value(named.unwrap_or_default()));
            let read: Result<_, serde_json::Error> = read.collect();
            read.map_err(|error| Problem::internal(&error))
        }
    }
}

/// What a batch asks of each surface; `found` are the surfaces that have the external names of items.
///
/// # Errors
/// `internal` for a stored surface that cannot be read.
pub(super) fn ask(
    batch: SurfaceBatch,
    externals: Vec<wire::external::External>,
    found: &[SurfaceRow],
    now: DateTime<Utc>,
) -> Result<Vec<Asked<'_>>, Problem> {
    let found: BTreeMap<&External, &SurfaceRow> = found
        .iter()
        .filter_map(|row| Some((row.external.as_ref()?, row)))
        .collect();
    let stored = |external: &wire::external::External| {
        let row = found.get(&External::from(external)).copied();
        row.map(|row| Ok::<_, Problem>((row, request_of(row)?)))
            .transpose()
    };
    let mut asked = Vec::with_capacity(externals.len());
    match batch {
        SurfaceBatch::Whole(batch) => {
            for (external, item) in externals.into_iter().zip(batch.items) {
                asked.push(Asked {
                    stored: stored(&external)?,
                    external,
                    if_version: item.if_version,
                    request: Ok(item.into_request()),
                });
            }
        }
        SurfaceBatch::Merge(batch) => {
            let items = externals.into_iter().zip(batch.items).enumerate();
            for (index, (external, mut item)) in items {
                let stored = stored(&external)?;
                let members = item.as_object_mut();
                let if_version = members.and_then(|members| members.remove("if_version"));
                asked.push(Asked {
                    external,
                    if_version: if_version.and_then(|version| version.as_i64()),
                    request: merged(index, stored.as_ref().map(|(row, _)| *row), item)?,
                    stored,
                });
            }
        }
    }
    for one in &mut asked {
        if let Ok(request) = &mut one.request {
            seen::date(request, one.stored.as_ref().map(|(_, before)| before), now);
        }
    }
    Ok(asked)
}

/// What a surface says after a change, as valid as a new one; or every fault of it.
fn merged(
    index: usize,
    stored: Option<&SurfaceRow>,
    change: Value,
) -> Result<Result<SurfaceRequest, Vec<Fault>>, Problem> {
    let mut document = match stored {
        Some(row) => serde_json::to_value(patchable(row)?),
        None => Ok(Value::Object(Map::new())),
    }
    .map_err(|error| Problem::internal(&error))?;
    merge(&mut document, change);
    let typed = into_typed(&format!("#/items/{index}"), Sent::sound(document));
    Ok(typed.map_err(|problem| problem.faults().iter().take(MAX_FAULTS).cloned().collect()))
}

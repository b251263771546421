//! Surfaces that took the place of others when a floor was replaced: at the same site, and never in a circle.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use domain::id::{SiteId, SurfaceId};
use infra::{row::SurfaceRow, store::Tx};

use super::classify::at;
use crate::{
    body::{Fault, Faults},
    problem::Problem,
    wire::surface::{ReplacedBy, replaced_by},
};

/// Who follows whom, as far as the named surfaces lead.
#[derive(Debug, Default)]
pub(super) struct Succession {
    known: BTreeMap<SurfaceId, (SiteId, Option<SurfaceId>)>,
}

impl Succession {
    /// Reads the named surfaces and all that follow them.
    ///
    /// They are locked first, in the order of their ids: two callers who each name the other's surface cannot both
    /// be told that there is no circle.
    ///
    /// # Errors
    /// Those of the store.
    pub(super) async fn load<'r>(
        tx: &Tx,
        named: impl IntoIterator<Item = Option<&'r ReplacedBy>>,
    ) -> Result<Self, Problem> {
        let named = named.into_iter().flatten();
        let mut next: Vec<SurfaceId> = named.filter_map(id_of).collect();
        let mut known = BTreeMap::new();
        while !next.is_empty() {
            next.sort_unstable();
            next.dedup();
            for id in &next {
                tx.surfaces().lock(*id).await?;
            }
            let rows = tx.surfaces().get_many(&next).await?;
            next.clear();
            for row in rows {
                let follows = replaced_by(&row.document)?.as_ref().and_then(id_of);
                known.insert(row.id, (row.site_id, follows));
                next.extend(follows);
            }
            next.retain(|id| !known.contains_key(id));
        }
        Ok(Self { known })
    }

    /// What is wrong with a successor; one that is right is remembered as that of `id`.
    pub(super) fn fault(
        &mut self,
        id: Option<SurfaceId>,
        site_id: &str,
        named: Option<&ReplacedBy>,
        root: &str,
    ) -> Option<Fault> {
        let successor = named.and_then(id_of);
        let fault = |code, detail| Some(at(root, "replaced_by/surface_id", code, detail));
        if named.is_some() {
            let found = successor.and_then(|id| self.known.get(&id));
            let Some((site, _follows)) = found else {
                return fault("reference_not_found", "There is no such surface.");
            };
            if site.to_string() != site_id {
                return fault("other_site", "The surface lies at another site.");
            }
            if self.leads_to(successor, id) {
                let detail = "The surface is replaced by this one, at once or in the end.";
                return fault("circle", detail);
            }
        }
        if let Some((id, site)) = id.zip(site_id.parse().ok()) {
            self.known.insert(id, (site, successor));
        }
        None
    }

    /// Whether following from `start` one comes to `end`.
    fn leads_to(&self, start: Option<SurfaceId>, end: Option<SurfaceId>) -> bool {
        let Some(end) = end else { return false };
        let follows = |id: &SurfaceId| self.known.get(id).and_then(|(_site, next)| *next);
        // No chain is longer than the known surfaces and one that they lead to.
        let most = self.known.len().saturating_add(1);
        let mut chain = std::iter::successors(start, follows).take(most);
        chain.any(|id| id == end)
    }
}

/// The id that a successor names.
fn id_of(named: &ReplacedBy) -> Option<SurfaceId> {
    named.surface_id.parse().ok()
}

/// What has taken the place of a surface by `day`.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn successor(row: &SurfaceRow, day: NaiveDate) -> Result<Option<ReplacedBy>, Problem> {
    let named = replaced_by(&row.document)?;
    Ok(named.filter(|named| named.on <= day))
}

/// Whether another surface has taken the place of this one by `day`; if so, that is a fault at `pointer`.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn is_replaced(
    row: &SurfaceRow,
    day: NaiveDate,
    pointer: &str,
    faults: &mut Faults,
) -> Result<bool, Problem> {
    let Some(ReplacedBy { surface_id, on }) = successor(row, day)? else {
        return Ok(false);
    };
    let detail = format!("On {on} the surface {surface_id} took its place: name that one.");
    faults.push(pointer, "surface_replaced", detail);
    Ok(true)
}

//! Surfaces that are there no more: retired, or replaced by others of the same site, and never in a circle.

use std::{collections::BTreeMap, fmt};

use chrono::NaiveDate;
use domain::id::{SiteId, SurfaceId};
use infra::{
    row::{External, SurfaceRow},
    store::Tx,
};

use super::classify::at;
use crate::{
    body::{Fault, Faults},
    problem::Problem,
    wire::surface::{ReplacedBy, SurfaceRequest, end},
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
                let follows = end(&row.document)?.replaced_by.as_ref().and_then(id_of);
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
        let external = named.and_then(|named| named.external.as_ref());
        let member = external.map_or("replaced_by/surface_id", |_| "replaced_by/external");
        let fault = |code, detail| Some(at(root, member, code, detail));
        if named.is_some_and(|named| named.external.is_some() == named.surface_id.is_some()) {
            let detail = "Name the surface by `surface_id` or by `external`, and not by both.";
            return fault("alternatives", detail);
        }
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
    named.surface_id.as_ref()?.parse().ok()
}

/// Puts ids in the place of the external names of successors; a name that nothing has stays.
///
/// # Errors
/// Those of the store.
pub(super) async fn resolve<'r>(
    tx: &Tx,
    requests: impl IntoIterator<Item = &'r mut SurfaceRequest>,
) -> Result<(), Problem> {
    let named = requests.into_iter().filter_map(|request| {
        let named = request.replaced_by.as_mut()?;
        let external = External::from(named.external.as_ref()?);
        named.surface_id.is_none().then_some((external, named))
    });
    let mut named: Vec<(External, &mut ReplacedBy)> = named.collect();
    if named.is_empty() {
        return Ok(());
    }
    let externals: Vec<External> = named.iter().map(|(external, _)| external.clone()).collect();
    let found = tx.surfaces().find_external_many(&externals).await?;
    let found: BTreeMap<&External, SurfaceId> = found
        .iter()
        .filter_map(|row| Some((row.external.as_ref()?, row.id)))
        .collect();
    for (external, named) in &mut named {
        if let Some(id) = found.get(external) {
            named.surface_id = Some(id.to_string());
            named.external = None;
        }
    }
    Ok(())
}

/// Why a surface is there no more.
#[derive(Debug)]
pub(crate) enum Gone {
    /// Another took its place.
    Replaced(ReplacedBy),
    /// From this day on nothing did.
    Retired(NaiveDate),
}

impl Gone {
    /// The stable word of the fault of naming it.
    pub(crate) const fn code(&self) -> &'static str {
        match self {
            Self::Replaced(_) => "surface_replaced",
            Self::Retired(_) => "surface_retired",
        }
    }
}

impl fmt::Display for Gone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Replaced(by) => {
                let other = by.surface_id.as_deref().unwrap_or_default();
                let on = by.on;
                write!(
                    f,
                    "On {on} the surface {other} took its place: name that one."
                )
            }
            Self::Retired(on) => write!(
                f,
                "It is there no more since {on}: take `retired_on` away by a patch if that is wrong."
            ),
        }
    }
}

/// The first day on which a surface is there no more; `None` where nobody named one.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn gone_on(row: &SurfaceRow) -> Result<Option<NaiveDate>, Problem> {
    let end = end(&row.document)?;
    let replaced = end.replaced_by.map(|by| by.on);
    Ok(replaced.into_iter().chain(end.retired_on).min())
}

/// Why a surface is there no more by `day`; `None` if it is.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn gone_by(row: &SurfaceRow, day: NaiveDate) -> Result<Option<Gone>, Problem> {
    ended_by(&row.document, day)
}

/// Why the surface of this survey is there no more by `day`; `None` if it is.
///
/// # Errors
/// As [`gone_by`].
pub(crate) fn ended_by(document: &str, day: NaiveDate) -> Result<Option<Gone>, Problem> {
    let end = end(document)?;
    let replaced = end.replaced_by.filter(|by| by.on <= day);
    let retired = end.retired_on.filter(|on| *on <= day);
    Ok(replaced.map(Gone::Replaced).or(retired.map(Gone::Retired)))
}

/// Whether a surface is there no more by `day`; if so, that is a fault at `pointer`.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn is_gone(
    row: &SurfaceRow,
    day: NaiveDate,
    pointer: &str,
    faults: &mut Faults,
) -> Result<bool, Problem> {
    let gone = gone_by(row, day)?;
    if let Some(gone) = &gone {
        faults.push(pointer, gone.code(), gone.to_string());
    }
    Ok(gone.is_some())
}

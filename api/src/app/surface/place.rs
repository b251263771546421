//! The sites at which surfaces are said to lie: which of them there are, and where nothing new is registered any more.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, NaiveDate, Utc};
use domain::id::SiteId;
use infra::store::Tx;

use super::classify::at;
use crate::{app::site, body::Fault, problem::Problem, wire};

/// Sites that exist, each with the day since which its floors are looked after no more.
pub(super) struct Places(BTreeMap<SiteId, Option<NaiveDate>>);

impl Places {
    /// Those of the named sites that exist.
    ///
    /// # Errors
    /// Those of the store; `internal` for a document that is not what was written.
    pub(super) async fn load<'a>(
        tx: &Tx,
        named: impl Iterator<Item = &'a str>,
        now: DateTime<Utc>,
    ) -> Result<Self, Problem> {
        let named: BTreeSet<SiteId> = named.filter_map(|id| id.parse().ok()).collect();
        let named: Vec<SiteId> = named.into_iter().collect();
        let mut places = BTreeMap::new();
        for row in tx.sites().get_many(&named).await? {
            let retired_on = wire::site::stored(&row.document)?.retired_on();
            let today = site::day_of(&row, now);
            places.insert(row.id, retired_on.filter(|on| *on <= today));
        }
        Ok(Self(places))
    }

    /// Sites of which none is retired.
    #[cfg(test)]
    pub(super) fn of(sites: impl IntoIterator<Item = SiteId>) -> Self {
        Self(sites.into_iter().map(|id| (id, None)).collect())
    }

    /// Whether there is such a site.
    pub(super) fn has(&self, id: SiteId) -> bool {
        self.0.contains_key(&id)
    }

    /// Why no new surface is registered at a site, where none is.
    pub(super) fn fault(&self, id: &str, root: &str) -> Option<Fault> {
        let retired_on = (*self.0.get(&id.parse().ok()?)?)?;
        let detail = site::retired_since(retired_on);
        Some(at(root, "site_id", "site_retired", detail))
    }
}

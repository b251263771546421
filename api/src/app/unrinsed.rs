//! What was used on floors lately and not rinsed off, from the completions: one query for each few hundred floors.

use std::collections::BTreeMap;

use chrono::{DateTime, TimeDelta, Utc};
use domain::{
    id::SurfaceId,
    unrinsed::{EarlierWork, unrinsed},
};
use infra::{row::SurfaceRow, store::Tx};

use crate::{context::Context, problem::Problem, wire::unrinsed::earlier_work};

/// The products that still lie on floors, by surface.
#[derive(Debug, Default)]
pub(crate) struct Unrinsed(BTreeMap<SurfaceId, Vec<String>>);

impl Unrinsed {
    /// Reads what was done on these floors in the days that count.
    ///
    /// # Errors
    /// Those of the store; `internal` for a document that is not what was written.
    pub(crate) async fn load(
        ctx: &Context,
        tx: &Tx,
        floors: &[SurfaceRow],
        now: DateTime<Utc>,
    ) -> Result<Self, Problem> {
        let surfaces: Vec<SurfaceId> = floors.iter().map(|floor| floor.id).collect();
        let days = TimeDelta::days(ctx.knowledge.factors.unrinsed_days);
        let since = now - days;
        let mut done: BTreeMap<SurfaceId, Vec<EarlierWork>> = BTreeMap::new();
        for row in tx.completions().finished_since(&surfaces, since).await? {
            let work = earlier_work(&row.process, &row.document)?;
            done.entry(row.surface_id).or_default().push(work);
        }
        let left = done.into_iter();
        let left = left.map(|(surface, work)| (surface, unrinsed(ctx.knowledge, work)));
        Ok(Self(left.collect()))
    }

    /// The keys of the products that still lie on a surface.
    pub(crate) fn on(&self, surface: SurfaceId) -> Vec<String> {
        self.0.get(&surface).cloned().unwrap_or_default()
    }
}

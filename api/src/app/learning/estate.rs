//! What was learnt at many sites at once: a forecast asks of all of them, with as many questions as of one.

use std::collections::{BTreeMap, BTreeSet, btree_map::Entry};

use chrono::{DateTime, Utc};
use domain::{
    card::RateCard,
    knowledge::KnowledgeBase,
    learning::{Kind, Learnt, LearntFigures},
};
use infra::{
    row::{CompletionPaceRow, SiteRow},
    store::Tx,
};

use super::{enough, latest, learnt, put};
use crate::{app::site, problem::Problem};

/// What the last jobs of a tenant tell, of every kind.
#[derive(Debug, Default)]
pub(crate) struct Estate {
    rows: Vec<(Kind, Vec<CompletionPaceRow>)>,
}

/// What they tell by the month in which they are asked of: sites lie in different time zones.
#[derive(Debug, Default)]
pub(crate) struct LearntByMonth(BTreeMap<String, Vec<(Kind, Learnt)>>);

impl Estate {
    /// Reads the last jobs: one question for each kind.
    ///
    /// # Errors
    /// Those of the store.
    pub(crate) async fn load(tx: &Tx) -> Result<Self, Problem> {
        let mut rows = Vec::new();
        for kind in Kind::ALL {
            let told = latest(tx, *kind, None).await?;
            if !told.is_empty() {
                rows.push((*kind, told));
            }
        }
        Ok(Self { rows })
    }

    /// Puts onto the card of a site what enough jobs there have told of figures that the card says nothing of and the site
    /// wants learnt; how many figures.
    pub(crate) fn onto(
        &self,
        base: &KnowledgeBase,
        known: &mut LearntByMonth,
        (site, not_learnt): (&SiteRow, &[String]),
        (now, card): (DateTime<Utc>, &mut RateCard),
    ) -> usize {
        let month = site::month_of(site, now);
        let learnt = match known.0.entry(month) {
            Entry::Occupied(known) => known.into_mut(),
            Entry::Vacant(free) => {
                let month = free.key().clone();
                let of_kind = |(kind, rows): &(Kind, Vec<CompletionPaceRow>)| {
                    (*kind, learnt(base, *kind, (rows, &month)))
                };
                free.insert(self.rows.iter().map(of_kind).collect())
            }
        };
        let mut figures = LearntFigures::default();
        for ((kind, learnt), (_kind, rows)) in learnt.iter().zip(&self.rows) {
            let here = rows.iter().filter(|row| row.site_id == site.id);
            // Most sites have told of little, and asking of a figure reads all jobs.
            let told: BTreeSet<&String> = here.map(|row| &row.subject).collect();
            for subject in told {
                if let Some(figure) = enough(learnt, subject, site.id) {
                    figures.insert(*kind, subject.clone(), figure);
                }
            }
        }
        put(&figures, not_learnt, card)
    }
}

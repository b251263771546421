//! What was learnt lately at sites, so that not every plan asks all jobs of a tenant again.

use std::{
    collections::HashMap,
    sync::{Mutex, PoisonError},
};

use chrono::{DateTime, TimeDelta, Utc};
use domain::{
    id::{SiteId, TenantId},
    learning::LearntFigures,
};
use infra::store::ToldFigure;

/// How long it is believed at most. New jobs of the tenant are seen at once, and so is a void at the site; only work that was
/// voided at another of its sites, which moves a rate by little, may go on counting for so long.
const MEMORY: TimeDelta = TimeDelta::seconds(60);
/// Of how many sites it is remembered; when there are more, all are forgotten.
const MAX_REMEMBERED: usize = 10_000;

/// What figures were learnt from: any other, and they are learnt anew.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct LearntFrom {
    /// The month that jobs are as old as they are in.
    pub(super) month: String,
    /// The figures that are told of, with how many jobs tell of each.
    pub(super) told: Vec<ToldFigure>,
}

#[derive(Debug)]
struct Kept {
    from: LearntFrom,
    at: DateTime<Utc>,
    figures: LearntFigures,
}

/// What was learnt lately, by site.
#[derive(Debug, Default)]
pub(crate) struct Lately(Mutex<HashMap<(TenantId, SiteId), Kept>>);

impl Lately {
    /// What was learnt at a site, if it was from the same and not long ago.
    pub(super) fn recall(
        &self,
        at: (TenantId, SiteId),
        from: &LearntFrom,
        now: DateTime<Utc>,
    ) -> Option<LearntFigures> {
        // A poisoned lock is an earlier panic elsewhere; the map itself is whole between two statements.
        let known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let kept = known.get(&at).filter(|kept| kept.from == *from)?;
        let age = now.signed_duration_since(kept.at);
        (TimeDelta::zero() <= age && age < MEMORY).then(|| kept.figures.clone())
    }

    /// Remembers what was learnt.
    pub(super) fn keep(
        &self,
        at: (TenantId, SiteId),
        from: LearntFrom,
        (now, figures): (DateTime<Utc>, LearntFigures),
    ) {
        let kept = Kept {
            from,
            at: now,
            figures,
        };
        let mut known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if known.len() >= MAX_REMEMBERED && !known.contains_key(&at) {
            known.clear();
        }
        known.insert(at, kept);
    }
}

#[cfg(test)]
mod tests {
    use domain::{id::CompletionId, learning::Kind};
    use uuid::Uuid;

    use super::*;

    fn from(n_jobs: i64, newest: u128) -> LearntFrom {
        LearntFrom {
            month: "2026-03".to_owned(),
            told: vec![ToldFigure {
                kind: Kind::Rate,
                subject: "strip_machine".to_owned(),
                n_jobs,
                newest: CompletionId::from_uuid(Uuid::from_u128(newest)),
            }],
        }
    }

    #[test]
    fn what_was_learnt_counts_for_a_minute_and_as_long_as_nothing_was_told_since() {
        let lately = Lately::default();
        let site = SiteId::from_uuid(Uuid::from_u128(1));
        let at = (TenantId::from_uuid(Uuid::from_u128(7)), site);
        let other = (TenantId::from_uuid(Uuid::from_u128(8)), site);
        let now = DateTime::UNIX_EPOCH;
        let later = |seconds| now + TimeDelta::seconds(seconds);
        assert!(lately.recall(at, &from(5, 1), now).is_none());
        lately.keep(at, from(5, 1), (now, LearntFigures::default()));
        assert!(lately.recall(at, &from(5, 1), later(59)).is_some());
        assert!(lately.recall(at, &from(5, 1), later(60)).is_none());
        // A clock that was set back makes nothing younger.
        assert!(lately.recall(at, &from(5, 1), later(-1)).is_none());
        let voided = from(4, 1);
        let reported = from(5, 2);
        let next_month = LearntFrom {
            month: "2026-04".to_owned(),
            ..from(5, 1)
        };
        for other in [voided, reported, next_month] {
            assert!(lately.recall(at, &other, now).is_none(), "{other:?}");
        }
        assert!(lately.recall(other, &from(5, 1), now).is_none());
    }
}

//! The best schedule of each objective. Each is the least by its figure and then by all others, so that none beats another in
//! all respects.

use super::decode::Snapshot;
use super::measure::{Measures, measures};
use super::{Objective, Workload};

/// The best schedules found, each by the key of one objective.
pub(super) struct Champions<'w>([Option<(Measures, Snapshot<'w>)>; 4]);

impl<'w> Champions<'w> {
    pub(super) fn new() -> Self {
        Self([const { None }; 4])
    }

    /// Takes a schedule in where it is better than what is known.
    pub(super) fn offer(&mut self, workload: &Workload, snapshot: &Snapshot<'w>) {
        let value = measures(workload, &snapshot.start);
        for (objective, best) in Objective::ALL.into_iter().zip(&mut self.0) {
            let better = best
                .as_ref()
                .is_none_or(|(old, _)| value.key(objective) < old.key(objective));
            if better {
                *best = Some((value, snapshot.clone()));
            }
        }
    }

    /// The best for an objective.
    pub(super) fn of(&self, objective: Objective) -> Option<&(Measures, Snapshot<'w>)> {
        let all = Objective::ALL.into_iter().zip(&self.0);
        all.filter(|(o, _)| *o == objective)
            .find_map(|(_, best)| best.as_ref())
    }
}

//! Workloads of which only waits and steady capacities bind the steps, with longest waits or negative ones.

use super::super::check::MAX_LAGGED;
use super::super::decode::Snapshot;
use super::super::lags::{Contradicted, LagSearch, Lags, Least, Worth};
use super::super::measure::openings;
use super::super::network::{Network, has_lags};
use super::super::reason::{Obstacle, Reason, Remedy};
use super::super::rng::{Purpose, Rng};
use super::super::{Objective, Time};
use super::Run;

/// The part of the work, in hundredths, that goes into the search by blocks where links leave an order. What is left improves
/// its schedule. On made-up chains of eight steps, up to forty of them, that beat all of it and half of it by either.
pub(super) const BY_BLOCKS: u64 = 90;

/// The distances of a network that has them, and what holds up to its horizon; or the proof that there is no schedule.
pub(super) fn of(net: &Network<'_>) -> Result<Option<(Lags, Least)>, Reason> {
    if net.n() > MAX_LAGGED || !has_lags(net.workload) || !net.is_steady() {
        return Ok(None);
    }
    let lags = Lags::new(net).map_err(|contradicted| reason(net, contradicted))?;
    let least = lags.by(net.workload.horizon).map_err(|crowded| Reason {
        obstacle: Obstacle::Crowded { steps: crowded.0 },
        remedies: Vec::new(),
    })?;
    Ok(Some((lags, least)))
}

fn reason(net: &Network<'_>, contradicted: Contradicted) -> Reason {
    match contradicted {
        Contradicted::Circle { steps, by } => {
            let last = steps.last().copied().into_iter();
            let waits: Vec<(usize, usize)> = last
                .chain(steps.iter().copied())
                .zip(steps.iter().copied())
                .collect();
            // A longest wait holds back the step that it begins at.
            let links = net.workload.links.iter().enumerate();
            let remedies = links.filter_map(|(at, link)| {
                let max_lag = link.max_lag? + by;
                let is_of_it = waits.contains(&(link.to, link.from));
                is_of_it.then_some(Remedy::LongestWait { link: at, max_lag })
            });
            Reason {
                remedies: remedies.collect(),
                obstacle: Obstacle::Circle {
                    steps,
                    short_by: by,
                },
            }
        }
        Contradicted::Horizon { chain, by } => Reason {
            obstacle: Obstacle::Horizon {
                chain,
                short_by: by,
            },
            remedies: vec![Remedy::Until(net.workload.horizon + by)],
        },
    }
}

impl Run<'_, '_, '_> {
    /// Searches by distances between starts, from the best schedule that there is.
    pub(super) fn lags(&mut self, (lags, least): &(Lags, Least), budget: u64) {
        let is_weighted = self.objective == Objective::WeightedReopening;
        let (workload, durations) = (self.net.workload, &self.net.duration);
        let weighted = |starts: &[Time]| openings(workload, starts, durations).1;
        let worth: Option<Worth<'_>> = is_weighted.then_some(&weighted);
        let rng = Rng::new(self.effort.seed, Purpose::Search, 4);
        let mut search = LagSearch::new(lags, least, worth, rng);
        let aim = if is_weighted {
            Objective::WeightedReopening
        } else {
            Objective::EarliestReopening
        };
        let known = self.champions.of(aim);
        if let Some((_, snapshot)) = known {
            search.begin_at(&snapshot.start);
        }
        let (before, per_schedule) = (self.spent, self.net.n() as u64);
        let total = budget.max(1) * per_schedule;
        let mut is_bounded = false;
        let mut rounds = 0_u64;
        while search.work() < total {
            if let Some((value, starts)) = &search.best {
                if !is_bounded {
                    let (end, _) = openings(workload, starts, durations);
                    let least = self.bound.0.last_reopening;
                    self.bound.0.last_reopening = lags.raise(least, end);
                    is_bounded = true;
                }
                if *value <= self.bound.0.of(aim) {
                    break;
                }
            }
            search.step();
            rounds += 1;
            if rounds.is_multiple_of(32) {
                self.spent = before + search.work() / per_schedule;
                let best = search.best.as_ref().map(|(_, starts)| starts.as_slice());
                if !self.goes_on(best) {
                    break;
                }
            }
        }
        self.spent = before + search.work().div_ceil(per_schedule);
        if let Some((_, starts)) = search.best {
            self.champions.offer(workload, &Snapshot::at(starts));
        }
    }
}

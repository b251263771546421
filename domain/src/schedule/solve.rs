//! The door of the engine: check, prove what cannot be, search, verify, say how far from the best it may be.

mod lagged;

use super::bound::{self, Reach};
use super::champions::Champions;
use super::check::Fault;
use super::critical::{CriticalStep, chain_to, last_step};
use super::decode::Decoder;
use super::measure::Measures;
use super::network::Network;
use super::plain_search::PlainSearch;
use super::reason::{Reason, deadlines, obstacles};
use super::rng::{Purpose, Rng};
use super::search::Search;
use super::shape::Shape;
use super::target::by_key;
use super::thrift::{self, Thrift};
use super::{Breach, Objective, Schedule, Time, Workload, destructive, verify};

/// How much work is spent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Effort {
    /// So many schedules are made, or as many steps placed as these have.
    pub schedules: u64,
    /// Where the random numbers start.
    pub seed: u64,
}

/// How far the search is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress<'a> {
    /// Schedules made so far.
    pub schedules: u64,
    /// Starts of the best so far, by the objective.
    pub best: Option<&'a [Time]>,
    /// The last reopening of it.
    pub last_reopening: Option<Time>,
}

/// Whether the search goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Go {
    /// It does.
    On,
    /// Somebody does not want it any more.
    Cancel,
    /// Its time is up.
    Deadline,
}

/// Why the search ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StoppedBy {
    /// The budget is spent.
    Budget,
    /// The best schedule is as good as the bound: no search finds a better one.
    Optimum,
    /// It was cancelled.
    Cancelled,
    /// Its time was up.
    Deadline,
}

/// What no schedule of this workload can beat, per figure. These are bounds, not estimates of what is within reach.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bounds(pub Measures);

/// One schedule of an answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// The objectives for which it is the best found.
    pub best_for: Vec<Objective>,
    /// The schedule, verified.
    pub schedule: Schedule,
    /// Its figures.
    pub measures: Measures,
    /// The steps that lead to its last end.
    pub critical: Vec<CriticalStep>,
}

/// One to three schedules of which none is beaten by another in all figures.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// The best found for the objective first.
    pub choices: Vec<Choice>,
    /// What none can beat.
    pub bounds: Bounds,
    /// Deadlines that none can keep.
    pub missed: Vec<Reason>,
    /// Why the search ended.
    pub stopped_by: StoppedBy,
    /// Schedules made.
    pub schedules: u64,
}

/// Why there is no schedule.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoSchedule {
    /// The workload is faulty.
    #[error("the workload has {} faults", .0.len())]
    Faulty(Vec<Fault>),
    /// It is proven that it cannot be done.
    #[error("it cannot be done for {} reasons", .0.len())]
    Impossible(Vec<Reason>),
    /// None was found, which proves nothing.
    #[error("none was found in {schedules} schedules")]
    NotFound {
        /// Schedules tried.
        schedules: u64,
    },
    /// What was found breaks the workload: a mistake of the engine, caught before it is returned.
    #[error("the schedule found has {} breaches", .0.len())]
    Unsound(Vec<Breach>),
}

impl Answer {
    /// By how much a choice may at most be above the possible minimum of a figure, in thousandths rounded up; `None` where
    /// the bound is nothing and says nothing.
    pub fn at_most_above(&self, choice: &Choice, objective: Objective) -> Option<i64> {
        let (value, bound) = (choice.measures.of(objective), self.bounds.0.of(objective));
        if value <= bound {
            return Some(0);
        }
        (bound > 0).then(|| ((value - bound) * 1_000 + bound - 1) / bound)
    }
}

struct Run<'n, 'w, 'f> {
    net: &'n Network<'w>,
    objective: Objective,
    effort: Effort,
    bound: Bounds,
    spent: u64,
    champions: Champions<'w>,
    watch: &'f mut dyn FnMut(&Progress<'_>) -> Go,
    stopped_by: Option<StoppedBy>,
}

/// Schedules a workload. `watch` is called now and then with the best so far and may end the search.
///
/// # Errors
///
/// [`NoSchedule`]: faults, proofs that there is none, or none found.
pub fn solve(
    workload: &Workload,
    objective: Objective,
    effort: Effort,
    watch: &mut dyn FnMut(&Progress<'_>) -> Go,
) -> Result<Answer, NoSchedule> {
    let net = Network::of_any(workload).map_err(NoSchedule::Faulty)?;
    let reasons = obstacles(&net);
    if !reasons.is_empty() {
        return Err(NoSchedule::Impossible(reasons));
    }
    let lagged = lagged::of(&net).map_err(|reason| NoSchedule::Impossible(vec![reason]))?;
    let none = NoSchedule::NotFound { schedules: 0 };
    let reach = match &lagged {
        Some((lags, _)) => lags.reach(),
        None => Reach::new(&net).ok_or(none)?,
    };
    let bound = Bounds(bound::bounds(&net, &reach));
    let mut run = Run {
        net: &net,
        objective,
        effort,
        bound,
        spent: 0,
        champions: Champions::new(),
        watch,
        stopped_by: None,
    };
    let saves = net.is_ordered && thrift::is_worth_while(&net);
    let for_calls = matches!(objective, Objective::FewestShifts | Objective::LeastCost);
    let share = |percent: u64| effort.schedules * percent / 100;
    let main = match (saves, for_calls) {
        (false, _) => 100,
        (true, false) => 75,
        (true, true) => 35,
    };
    let plain = net.is_plain() && objective != Objective::WeightedReopening;
    if plain {
        run.plain(&reach, share(main));
    }
    let by_blocks = match (&lagged, net.is_ordered) {
        (None, _) => share(main),
        (Some(_), true) => share(main * lagged::BY_BLOCKS / 100),
        (Some(_), false) => 0,
    };
    if net.is_ordered && (!plain || run.champions.of(objective).is_none()) {
        run.windows(&reach, by_blocks);
    }
    if let Some(lagged) = &lagged
        && run.stopped_by.is_none()
    {
        run.lags(lagged, share(main).saturating_sub(run.spent));
    }
    if saves && run.champions.of(objective).is_some() {
        run.thrift();
    }
    run.answer(deadlines(&net, &reach))
}

impl Run<'_, '_, '_> {
    /// Asks whether to go on.
    fn goes_on(&mut self, snapshot: Option<&[Time]>) -> bool {
        let end = |starts: &[Time]| {
            let ends = starts.iter().zip(&self.net.duration).map(|(s, d)| s + d);
            ends.max().unwrap_or(0)
        };
        let progress = Progress {
            schedules: self.spent,
            best: snapshot,
            last_reopening: snapshot.map(end),
        };
        self.stopped_by = match (self.watch)(&progress) {
            Go::On => None,
            Go::Cancel => Some(StoppedBy::Cancelled),
            Go::Deadline => Some(StoppedBy::Deadline),
        };
        self.stopped_by.is_none()
    }

    fn plain(&mut self, reach: &Reach, budget: u64) {
        let rng = Rng::new(self.effort.seed, Purpose::Search, 0);
        let mut search = PlainSearch::new(self.net, rng);
        let least = self.bound.0.last_reopening;
        let raised = destructive::raise(self.net, reach, least, search.best as Time);
        self.bound.0.last_reopening = raised;
        let mut rounds = 0_u64;
        while search.schedules() < budget && search.best as Time > raised {
            search.step();
            rounds += 1;
            if rounds.is_multiple_of(64) {
                self.spent = search.schedules();
                let best: Vec<Time> = search.best_start.iter().map(|s| *s as Time).collect();
                if !self.goes_on(Some(&best)) {
                    break;
                }
            }
        }
        self.spent = search.schedules();
        let starts: Vec<f64> = search.best_start.iter().map(|s| *s as f64).collect();
        // The steps of a plain network are blocks of their own; the list of starts gives the same schedule or a better one.
        let block = |block: &Vec<usize>| starts[block[0]];
        let key: Vec<f64> = self.net.blocks.iter().map(block).collect();
        let mut decoder = Decoder::new(self.net);
        if decoder.decode(&by_key(self.net, &key)) {
            self.champions.offer(self.net.workload, &decoder.snapshot());
        }
    }

    fn windows(&mut self, reach: &Reach, budget: u64) {
        let rng = Rng::new(self.effort.seed, Purpose::Search, 1);
        let shape = Shape::new(self.net, &reach.tail);
        let per_schedule = self.net.n() as u64;
        let total = budget.max(1) * per_schedule;
        let mut search = Search::new(self.net, &shape, self.objective, rng, total);
        let aim = match self.objective {
            Objective::WeightedReopening => Objective::WeightedReopening,
            _ => Objective::EarliestReopening,
        };
        let least = self.bound.0.of(aim);
        let mut rounds = 0_u64;
        let before = self.spent;
        // The lists by rule are made: where there is more to do, who watches learns of the first schedule at once.
        self.spent = before + search.work().div_ceil(per_schedule);
        let first = search
            .best
            .as_ref()
            .map(|(_, _, found)| found.start.clone());
        let mut is_on = search.work() < total && self.goes_on(first.as_deref());
        while is_on
            && search.work() < total
            && search
                .best
                .as_ref()
                .is_none_or(|(value, _, _)| *value > least)
        {
            search.step(1.0 - search.work() as f64 / total as f64);
            rounds += 1;
            if rounds.is_multiple_of(32) {
                self.spent = before + search.work() / per_schedule;
                let best = search
                    .best
                    .as_ref()
                    .map(|(_, _, snapshot)| snapshot.start.as_slice());
                is_on = self.goes_on(best);
            }
        }
        self.spent = before + search.work().div_ceil(per_schedule);
        if let Some((_, _, snapshot)) = &search.best {
            self.champions.offer(self.net.workload, snapshot);
        }
    }

    fn thrift(&mut self) {
        let per_schedule = self.net.n() as u64;
        let second = match self.objective {
            Objective::FewestShifts => Objective::LeastCost,
            _ => Objective::FewestShifts,
        };
        let first = match self.objective {
            Objective::FewestShifts => Objective::FewestShifts,
            Objective::EarliestReopening | Objective::WeightedReopening | Objective::LeastCost => {
                Objective::LeastCost
            }
        };
        let left = self.effort.schedules.saturating_sub(self.spent);
        for (index, goal) in [(2, first), (3, second)] {
            let Some((_, from)) = self.champions.of(goal).cloned() else {
                return;
            };
            let rng = Rng::new(self.effort.seed, Purpose::Search, index);
            let mut thrift = Thrift::new(self.net, &from, goal, rng);
            let before = self.spent;
            let mut idle = 0;
            while thrift.work < left / 2 * per_schedule && idle < 400 && self.stopped_by.is_none() {
                idle += 1;
                let found = thrift.step().map(|(_, snapshot)| snapshot.clone());
                if let Some(snapshot) = found {
                    idle = 0;
                    self.champions.offer(self.net.workload, &snapshot);
                }
                self.spent = before + thrift.work.div_ceil(per_schedule);
                let best = self
                    .champions
                    .of(self.objective)
                    .map(|(_, s)| s.start.clone());
                self.goes_on(best.as_deref());
            }
        }
    }

    /// Verifies what was found and puts the answer together.
    fn answer(self, missed: Vec<Reason>) -> Result<Answer, NoSchedule> {
        let mut order = vec![self.objective];
        order.extend(Objective::ALL.into_iter().filter(|o| *o != self.objective));
        let mut choices: Vec<Choice> = Vec::new();
        for objective in order {
            let Some((value, snapshot)) = self.champions.of(objective) else {
                continue;
            };
            if let Some(same) = choices.iter_mut().find(|c| c.measures == *value) {
                same.best_for.push(objective);
                continue;
            }
            if choices.len() == 3 {
                continue;
            }
            let schedule = Schedule {
                starts: snapshot.start.clone(),
                units: snapshot.units(),
            };
            let breaches = verify(self.net.workload, &schedule);
            if !breaches.is_empty() {
                return Err(NoSchedule::Unsound(breaches));
            }
            choices.push(Choice {
                best_for: vec![objective],
                critical: chain_to(
                    self.net,
                    &schedule.starts,
                    last_step(self.net, &schedule.starts),
                ),
                schedule,
                measures: *value,
            });
        }
        let Some(first) = choices.first() else {
            return Err(NoSchedule::NotFound {
                schedules: self.spent,
            });
        };
        let at_bound = first.measures.of(self.objective) <= self.bound.0.of(self.objective);
        let stopped_by = self.stopped_by.unwrap_or(if at_bound {
            StoppedBy::Optimum
        } else {
            StoppedBy::Budget
        });
        Ok(Answer {
            choices,
            bounds: self.bound,
            missed,
            stopped_by,
            schedules: self.spent,
        })
    }
}

//! The search: what can stay stays, what cannot is put as near to its old time as may be, and what is in its way is moved as well.

use std::collections::BTreeSet;

use super::Change;
use super::settle::Settled;
use crate::schedule::decode::Decoder;
use crate::schedule::network::Network;
use crate::schedule::rng::{Purpose, Rng};
use crate::schedule::target::by_key;
use crate::schedule::{Effort, Objective, Schedule, Time};

/// After so many tries in a row that find nothing better the search ends.
const IDLE: u32 = 150;

/// What a schedule is compared by: tasks moved, minutes in all, the objective and the other figures.
type Key = (usize, Time, [i64; 5]);

/// The best schedule so far.
#[derive(Debug, Clone)]
pub(super) struct Best {
    key: Key,
    pub(super) schedule: Schedule,
}

impl Best {
    /// How many tasks it moves.
    pub(super) fn n_moved(&self) -> usize {
        self.key.0
    }
}

/// Where a block is put that cannot stay.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Put {
    /// As near to its old time as may be.
    Near,
    /// As early as may be.
    Early,
}

/// The state of the search.
pub(super) struct Mender<'n, 'w> {
    pub(super) net: &'n Network<'w>,
    settled: &'n Settled,
    pub(super) was: &'n [Time],
    pub(super) counted: &'n [bool],
    objective: Objective,
    pub(super) decoder: Decoder<'n, 'w>,
    pub(super) rng: Rng,
    limit: u64,
    beside: u64,
    /// Blocks that stand, in the order of their starts.
    fixed: Vec<usize>,
    /// The others, in the order of their old starts.
    pub(super) free: Vec<usize>,
    pub(super) best: Option<Best>,
    pub(super) is_fewest: bool,
}

impl<'n, 'w> Mender<'n, 'w> {
    pub(super) fn new(
        net: &'n Network<'w>,
        settled: &'n Settled,
        change: &Change<'n>,
        (objective, effort): (Objective, Effort),
    ) -> Self {
        let of = |stands: bool| {
            let blocks = (0..net.blocks.len())
                .filter(move |block| settled.stands[net.blocks[*block][0]].is_some() == stands);
            blocks.collect::<Vec<_>>()
        };
        let (mut fixed, mut free) = (of(true), of(false));
        free.retain(|block| !settled.is_passed(net.blocks[*block][0]));
        fixed.sort_by_key(|block| (settled.stands[net.blocks[*block][0]], net.blocks[*block][0]));
        free.sort_by_key(|block| (change.was[net.blocks[*block][0]], *block));
        Self {
            net,
            settled,
            was: change.was,
            counted: change.counted,
            objective,
            decoder: Decoder::new(net),
            rng: Rng::new(effort.seed, Purpose::Search, 4),
            limit: effort.schedules.saturating_mul(net.n() as u64),
            beside: 0,
            fixed,
            free,
            best: None,
            is_fewest: false,
        }
    }

    /// How many schedules were tried, by the steps that were placed.
    pub(super) fn schedules(&self) -> u64 {
        self.beside + self.decoder.work.div_ceil(self.net.n().max(1) as u64)
    }

    /// Counts schedules that were tried elsewhere.
    pub(super) fn spend(&mut self, schedules: u64) {
        self.beside += schedules;
    }

    /// Whether so many per cent of the budget are spent.
    pub(super) fn is_spent(&self, percent: u64) -> bool {
        self.decoder.work >= self.limit / 100 * percent
    }

    /// Searches until the budget is spent, or nothing more is found.
    pub(super) fn run(&mut self) {
        for put in [Put::Near, Put::Early] {
            let key = self.in_turn();
            self.attempt(BTreeSet::new(), &[], (&key, put));
        }
        self.prove();
        let mut idle = 0;
        while idle < IDLE && !self.is_spent(100) && self.n_moved() > Some(0) {
            let before = self.best.as_ref().map(|best| best.key);
            self.vary();
            let better = self.best.as_ref().map(|best| best.key) < before;
            idle = if better { 0 } else { idle + 1 };
        }
        self.is_fewest |= self.n_moved() == Some(0);
    }

    pub(super) fn n_moved(&self) -> Option<usize> {
        self.best.as_ref().map(Best::n_moved)
    }

    fn in_turn(&self) -> Vec<f64> {
        let starts = self.net.blocks.iter();
        starts.map(|block| self.was[block[0]] as f64).collect()
    }

    /// Another order, another block that stays or goes.
    fn vary(&mut self) {
        let Some(best) = self.best.clone() else {
            return;
        };
        let has_moved = |block: &usize| {
            let mut steps = self.net.blocks[*block].iter();
            steps.any(|step| best.schedule.starts[*step] != self.was[*step])
        };
        let mut moved: Vec<usize> = self.free.iter().copied().filter(has_moved).collect();
        let mut first = Vec::new();
        if moved.is_empty() {
            return;
        }
        match self.rng.below(4) {
            0 | 1 => {}
            2 => first.push(moved.swap_remove(self.rng.below(moved.len()))),
            _ => {
                let kept: Vec<usize> = self
                    .free
                    .iter()
                    .copied()
                    .filter(|b| !has_moved(b))
                    .collect();
                if !kept.is_empty() {
                    moved.push(kept[self.rng.below(kept.len())]);
                }
            }
        }
        let key: Vec<f64> = match self.rng.below(3) {
            0 => self.in_turn(),
            1 => self.in_turn().into_iter().map(|key| -key).collect(),
            _ => (0..self.net.blocks.len())
                .map(|_| self.rng.unit())
                .collect(),
        };
        let put = if self.rng.chance(3, 4) {
            Put::Near
        } else {
            Put::Early
        };
        self.attempt(moved.into_iter().collect(), &first, (&key, put));
    }

    /// Keeps all but these where they were, these first that are named, and puts the others in; what is in their way goes too.
    fn attempt(
        &mut self,
        mut moved: BTreeSet<usize>,
        first: &[usize],
        (key, put): (&[f64], Put),
    ) -> bool {
        let order = by_key(self.net, key);
        for _ in 0..=self.free.len() {
            self.begin();
            let rest: Vec<usize> = self
                .free
                .iter()
                .copied()
                .filter(|b| !first.contains(b))
                .collect();
            for block in first.iter().copied().chain(rest) {
                if !moved.contains(&block) && !self.stay(block) {
                    moved.insert(block);
                }
            }
            let inside: Vec<usize> = order
                .iter()
                .copied()
                .filter(|b| moved.contains(b))
                .collect();
            let stuck = inside.iter().copied().find(|block| !self.put(*block, put));
            let Some(stuck) = stuck else {
                self.tidy(&inside);
                self.offer_placed();
                return true;
            };
            let before = moved.len();
            self.make_room(stuck, &mut moved);
            if moved.len() == before || self.is_spent(100) {
                return false;
            }
        }
        false
    }

    /// Puts what need not be elsewhere back to its old time, and the rest nearer to it.
    fn tidy(&mut self, moved: &[usize]) {
        for _ in 0..2 {
            let mut changed = false;
            for block in moved {
                let steps = &self.net.blocks[*block];
                let now: Vec<Time> = steps.iter().map(|step| self.decoder.start[*step]).collect();
                if steps
                    .iter()
                    .zip(&now)
                    .all(|(step, now)| self.was[*step] == *now)
                {
                    continue;
                }
                self.decoder.remove(*block);
                if self.stay(*block) || self.put(*block, Put::Near) {
                    let head = self.decoder.start[steps[0]];
                    if (head - self.was[steps[0]]).abs() <= (now[0] - self.was[steps[0]]).abs() {
                        changed |= head != now[0];
                        continue;
                    }
                    self.decoder.remove(*block);
                }
                self.back(*block, &now);
            }
            if !changed {
                return;
            }
        }
    }

    /// Puts a block back to where it was a moment ago.
    fn back(&mut self, block: usize, starts: &[Time]) {
        let net = self.net;
        for (step, start) in net.blocks[block].iter().zip(starts) {
            self.decoder.hold(*step, *start);
        }
        let _placed = self.decoder.try_place(block);
    }

    /// Takes everything out but what stands.
    pub(super) fn begin(&mut self) {
        self.decoder.clear();
        let (fixed, settled) = (std::mem::take(&mut self.fixed), self.settled);
        for block in &fixed {
            for step in &self.net.blocks[*block] {
                self.decoder.hold(*step, settled.stands[*step].unwrap_or(0));
            }
            let _placed = self.decoder.try_place(*block);
        }
        self.fixed = fixed;
    }

    /// Puts a block where it was; false, and nothing is put, where it cannot be there.
    pub(super) fn stay(&mut self, block: usize) -> bool {
        let net = self.net;
        let steps = &net.blocks[block];
        for step in steps {
            self.decoder.hold(*step, self.was[*step]);
        }
        if self.decoder.try_place(block).is_err() {
            return false;
        }
        let same = |step: &usize| self.decoder.start[*step] == self.was[*step];
        if steps.iter().all(same) {
            return true;
        }
        self.decoder.remove(block);
        false
    }

    /// Puts a block in; false, and nothing is put, where it has no place.
    pub(super) fn put(&mut self, block: usize, put: Put) -> bool {
        if put == Put::Early {
            return self.from(block, 0).is_some();
        }
        let old = self.was[self.net.blocks[block][0]];
        let later = self.from(block, old);
        if later.is_some() {
            self.decoder.remove(block);
        }
        let earliest = self.from(block, 0);
        if earliest.is_some() {
            self.decoder.remove(block);
        }
        // The later it is sought from the later it is found, so halving leads to the last place before the old time.
        let mut best = later;
        if let Some(mut low) = earliest.filter(|start| *start < old) {
            let mut high = old - 1;
            while low < high {
                let middle = low + (high - low + 1) / 2;
                let found = self.from(block, middle);
                if found.is_some() {
                    self.decoder.remove(block);
                }
                match found.filter(|start| *start < old) {
                    Some(start) => low = start,
                    None => high = middle - 1,
                }
            }
            if later.is_none_or(|later| old - low <= later - old) {
                best = Some(low);
            }
        }
        best.is_some_and(|start| self.from(block, start).is_some())
    }

    /// Puts a block at its earliest time from then on, and says when that is.
    fn from(&mut self, block: usize, from: Time) -> Option<Time> {
        let net = self.net;
        let steps = &net.blocks[block];
        for step in steps {
            self.decoder.hold(*step, 0);
        }
        self.decoder.hold(steps[0], from);
        let placed = self.decoder.try_place(block).is_ok();
        placed.then(|| self.decoder.start[steps[0]])
    }

    /// Takes what is placed over where it is better than what is known.
    pub(super) fn offer_placed(&mut self) {
        let snapshot = self.decoder.snapshot();
        let schedule = Schedule {
            units: snapshot.units(),
            starts: snapshot.start,
        };
        self.offer(&schedule);
    }

    /// Takes a schedule over where it is better than what is known.
    pub(super) fn offer(&mut self, schedule: &Schedule) {
        let (mut n_moved, mut shift) = (0, 0);
        let starts = schedule.starts.iter().zip(self.was);
        for (at, (start, was)) in starts.enumerate() {
            let apart = (start - was).abs();
            if self.counted[at] && self.settled.stands[at].is_none() && apart > 0 {
                n_moved += 1;
                shift += apart;
            }
        }
        let known = self.best.as_ref().map(|best| best.key);
        if known.is_some_and(|(n, s, _)| (n, s) < (n_moved, shift)) {
            return;
        }
        let mut schedule = schedule.clone();
        self.settled.follow(&mut schedule.starts);
        let figures = self.settled.measures(&schedule.starts);
        let key = (n_moved, shift, figures.key(self.objective));
        if known.is_none_or(|known| key < known) {
            self.best = Some(Best { key, schedule });
        }
    }
}

//! Iterated local search on plain workloads, each list improved by justification.

use super::network::Network;
use super::plain::{Pair, Plain, positions};
use super::rng::Rng;

/// Moves without gain after which the search starts afresh.
const PATIENCE: u32 = 1_500;

/// The state of the search.
pub(super) struct PlainSearch {
    pair: Pair,
    rng: Rng,
    list: Vec<usize>,
    current: usize,
    trial: Vec<usize>,
    start: Vec<usize>,
    best_list: Vec<usize>,
    /// Starts of the best schedule so far.
    pub(super) best_start: Vec<usize>,
    /// Its makespan.
    pub(super) best: usize,
    idle: u32,
    scratch: Scratch,
}

#[derive(Default)]
struct Scratch {
    inside: Vec<bool>,
    waits: Vec<usize>,
    ready: Vec<usize>,
}

impl PlainSearch {
    /// Starts from the best list of the rules.
    pub(super) fn new(net: &Network<'_>, rng: Rng) -> Self {
        let n = net.n();
        let mut search = Self {
            pair: Pair::new(net),
            rng,
            list: Vec::new(),
            current: usize::MAX,
            trial: Vec::new(),
            start: vec![0; n],
            best_list: Vec::new(),
            best_start: Vec::new(),
            best: usize::MAX,
            idle: 0,
            scratch: Scratch {
                inside: vec![false; n],
                waits: vec![0; n],
                ready: Vec::new(),
            },
        };
        for rule in 0..search.pair.rules.len() {
            search.trial.clone_from(&net.order);
            search.resample(0, n, Some(rule), true);
            search.assess();
        }
        search
    }

    /// Schedules made so far.
    pub(super) fn schedules(&self) -> u64 {
        self.pair.schedules
    }

    /// Makes one more list.
    pub(super) fn step(&mut self) {
        self.trial.clone_from(&self.list);
        let n = self.list.len();
        if self.rng.chance(1, 2) {
            let width = (n * (8 + self.rng.below(26)) / 100).clamp(2.min(n), n);
            let from = self.rng.below(n - width + 1);
            let rule = self.random_rule();
            self.resample(from, from + width, rule, false);
        } else {
            for _ in 0..=self.rng.below(4) {
                self.shift();
            }
        }
        self.assess();
    }

    fn random_rule(&mut self) -> Option<usize> {
        let greedy = self.rng.chance(2, 3);
        greedy.then(|| self.rng.below(self.pair.rules.len()))
    }

    /// Decodes the trial and takes it over if it is good enough.
    fn assess(&mut self) {
        let makespan = self.pair.improve(&mut self.trial, &mut self.start);
        let near = self.current.saturating_add(self.current / 50);
        if makespan <= self.current || (makespan <= near && self.rng.chance(1, 200)) {
            self.current = makespan;
            std::mem::swap(&mut self.list, &mut self.trial);
            if makespan < self.best {
                self.best = makespan;
                self.best_list.clone_from(&self.list);
                self.best_start.clone_from(&self.start);
                self.idle = 0;
                return;
            }
        }
        self.idle += 1;
        if self.idle > PATIENCE {
            self.restart();
        }
    }

    fn restart(&mut self) {
        self.idle = 0;
        if self.rng.chance(2, 3) {
            self.list.clone_from(&self.best_list);
            self.current = self.best;
            return;
        }
        self.trial.clone_from(&self.list);
        let rule = self.random_rule();
        self.resample(0, self.list.len(), rule, false);
        self.current = self.pair.improve(&mut self.trial, &mut self.start);
        std::mem::swap(&mut self.list, &mut self.trial);
    }

    /// Draws the order of a stretch of the trial anew: by a rule, mostly, or evenly.
    fn resample(&mut self, from: usize, to: usize, rule: Option<usize>, strict: bool) {
        let Scratch {
            inside,
            waits,
            ready,
        } = &mut self.scratch;
        let net: &Plain = &self.pair.forward;
        let stretch = &mut self.trial[from..to];
        for j in stretch.iter() {
            inside[*j] = true;
        }
        ready.clear();
        for j in stretch.iter() {
            waits[*j] = net.before[*j].iter().filter(|(i, _)| inside[*i]).count();
            if waits[*j] == 0 {
                ready.push(*j);
            }
        }
        for slot in stretch.iter_mut() {
            let greedy = rule.filter(|_| strict || self.rng.chance(1, 2));
            let at = match greedy {
                None => self.rng.below(ready.len()),
                Some(rule) => {
                    let priority = &self.pair.rules[rule];
                    let best = (0..ready.len()).max_by(|a, b| {
                        let (a, b) = (ready[*a], ready[*b]);
                        priority[a].total_cmp(&priority[b]).then(b.cmp(&a))
                    });
                    best.unwrap_or(0)
                }
            };
            let j = ready.swap_remove(at);
            *slot = j;
            inside[j] = false;
            for next in &net.after[j] {
                if inside[*next] {
                    waits[*next] -= 1;
                    if waits[*next] == 0 {
                        ready.push(*next);
                    }
                }
            }
        }
    }

    /// Moves one step to another place between what it waits for and what waits for it.
    fn shift(&mut self) {
        let place = positions(&self.trial);
        let net = &self.pair.forward;
        let at = self.rng.below(self.trial.len());
        let j = self.trial[at];
        let low = net.before[j].iter().map(|(i, _)| place[*i] + 1).max();
        let high = net.after[j].iter().map(|i| place[*i] - 1).min();
        let (low, high) = (low.unwrap_or(0), high.unwrap_or(self.trial.len() - 1));
        let to = low + self.rng.below(high - low + 1);
        if to > at {
            self.trial[at..=to].rotate_left(1);
        } else {
            self.trial[to..=at].rotate_right(1);
        }
    }
}

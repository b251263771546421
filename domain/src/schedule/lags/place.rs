//! From keys to a schedule: each step in turn at its earliest, and unscheduling where that is too late for others.

use super::super::profile::{Need, Profile};
use super::Lags;
use super::matrix::Matrix;
use super::prove::Least;

/// The start of a step that has none.
const NOWHERE: i32 = i32::MIN;
/// How often steps are taken away again before a list is given up.
const TRIES: u32 = 60;

/// Generates schedules in one direction of time.
#[derive(Debug, Clone)]
pub(super) struct Placer {
    is_mirrored: bool,
    duration: Vec<i32>,
    need: Vec<Need>,
    profile: Profile,
    /// Distances between starts, and the same the other way round; the last row is the moment zero.
    ahead: Matrix,
    behind: Matrix,
    makespan: i32,
    /// Steps that are linked and certainly start after a step: they are not placed before it.
    after: Vec<Vec<usize>>,
    n_before: Vec<u32>,
    /// Earliest and latest starts given what is placed; the least starts that are known or were found out.
    early: Vec<i32>,
    late: Vec<i32>,
    floor: Vec<i32>,
    list: Vec<usize>,
    ready: Vec<usize>,
    waits: Vec<u32>,
    /// The starts of the last schedule, counted from its end if it is mirrored.
    pub(super) start: Vec<i32>,
    /// Steps placed so far, the measure of work.
    pub(super) work: u64,
}

impl Placer {
    /// Places within what is known; mirrored in time, it places from the end.
    pub(super) fn new(lags: &Lags, least: &Least, is_mirrored: bool) -> Self {
        let n = lags.n();
        let mut placer = Self {
            is_mirrored,
            duration: lags.duration.clone(),
            need: lags.need.clone(),
            profile: lags.profile.clone(),
            ahead: least.distances.clone(),
            behind: least.distances.clone(),
            makespan: least.makespan,
            after: vec![Vec::new(); n],
            n_before: vec![0; n],
            early: vec![0; n],
            late: vec![0; n],
            floor: vec![0; n],
            list: Vec::new(),
            ready: Vec::new(),
            waits: Vec::new(),
            start: vec![NOWHERE; n],
            work: 0,
        };
        placer.know(least);
        let certain = |i: usize, j: usize| placer.ahead.at(i, j) >= 0 && placer.ahead.at(j, i) < 0;
        let both = lags.arcs.iter().flat_map(|(i, j, _)| [(*i, *j), (*j, *i)]);
        let mut pairs: Vec<(usize, usize)> = both.filter(|(i, j)| certain(*i, *j)).collect();
        pairs.sort_unstable();
        pairs.dedup();
        for (i, j) in pairs {
            placer.after[i].push(j);
            placer.n_before[j] += 1;
        }
        placer
    }

    /// Takes over what is known of shorter makespans.
    pub(super) fn know(&mut self, least: &Least) {
        self.makespan = least.makespan;
        self.ahead = if self.is_mirrored {
            least.distances.mirrored(&self.duration, least.makespan)
        } else {
            least.distances.clone()
        };
        self.behind = self.ahead.turned();
    }

    /// Places all steps, those with small keys first, to end by `by` and by the makespan that is known of; whether they do.
    pub(super) fn place(&mut self, keys: &[f64], by: i32) -> bool {
        self.sort(keys);
        let by = by.min(self.makespan);
        self.profile.clear();
        self.start.fill(NOWHERE);
        let n = self.duration.len();
        self.floor.copy_from_slice(&self.ahead.row(n)[..n]);
        self.open(by);
        let (mut at, mut tried) = (0, 0);
        while let Some(step) = self.list.get(at).copied() {
            at += 1;
            if self.start[step] != NOWHERE {
                continue;
            }
            self.work += 1;
            let Some(start) = self.earliest(step, by) else {
                return false;
            };
            if start <= self.late[step] {
                self.put(step, start);
                continue;
            }
            tried += 1;
            if tried > TRIES || !self.make_room(step, start, by) {
                return false;
            }
            at = 0;
        }
        true
    }

    /// The earliest start at which a step has its resources.
    fn earliest(&self, step: usize, by: i32) -> Option<i32> {
        let (early, need) = (self.early[step], &self.need[step]);
        if need.0.is_empty() {
            return Some(early);
        }
        let duration = self.duration[step] as usize;
        let found = self
            .profile
            .earliest(need, early as usize, duration, by as usize);
        found.map(|start| start as i32)
    }

    fn put(&mut self, step: usize, start: i32) {
        self.start[step] = start;
        let duration = self.duration[step] as usize;
        self.profile
            .take(&self.need[step], start as usize, duration);
        self.narrow(step, start);
    }

    /// Steps start no earlier and no later than the start of one of them allows.
    fn narrow(&mut self, step: usize, start: i32) {
        for (early, least) in self.early.iter_mut().zip(self.ahead.row(step)) {
            *early = (*early).max(start + least);
        }
        for (late, least) in self.late.iter_mut().zip(self.behind.row(step)) {
            *late = (*late).min(start - least);
        }
    }

    /// The latest start of a step, whatever is placed.
    fn latest(&self, step: usize, by: i32) -> i32 {
        by - self.makespan - self.behind.at(self.duration.len(), step)
    }

    /// Opens the earliest and latest starts, nothing being placed.
    fn open(&mut self, by: i32) {
        self.early.copy_from_slice(&self.floor);
        for step in 0..self.late.len() {
            self.late[step] = self.latest(step, by);
        }
    }

    /// A step finds its resources only when it is too late for others: they must not start before they may then, and all
    /// that starts no earlier than the first of them is taken away.
    fn make_room(&mut self, step: usize, start: i32, by: i32) -> bool {
        let n = self.duration.len();
        let mut from = i32::MAX;
        for other in (0..n).filter(|other| self.start[*other] != NOWHERE) {
            let needed = start + self.ahead.at(step, other);
            if needed > self.start[other] {
                if needed > self.latest(other, by) {
                    return false;
                }
                from = from.min(self.start[other]);
                self.floor[other] = self.floor[other].max(needed);
            }
        }
        if from == i32::MAX {
            return false;
        }
        self.open(by);
        for other in 0..n {
            let start = self.start[other];
            if start == NOWHERE {
                continue;
            }
            if start < from {
                self.narrow(other, start);
                continue;
            }
            let duration = self.duration[other] as usize;
            self.profile
                .give(&self.need[other], start as usize, duration);
            self.start[other] = NOWHERE;
            let floor = self.floor[other];
            for (early, least) in self.early.iter_mut().zip(self.ahead.row(other)) {
                *early = (*early).max(floor + least);
            }
        }
        // What stays may leave no room for what was found out.
        let mut each = self.early.iter().zip(&self.late);
        each.all(|(early, late)| early <= late)
    }

    /// Steps by their keys, none before one that certainly starts before it.
    fn sort(&mut self, keys: &[f64]) {
        self.waits.clone_from(&self.n_before);
        self.list.clear();
        self.ready.clear();
        let free = (0..keys.len()).filter(|j| self.n_before[*j] == 0);
        self.ready.extend(free);
        while !self.ready.is_empty() {
            let first = (0..self.ready.len()).min_by(|a, b| {
                let (a, b) = (self.ready[*a], self.ready[*b]);
                keys[a].total_cmp(&keys[b]).then(a.cmp(&b))
            });
            let step = self.ready.swap_remove(first.unwrap_or(0));
            self.list.push(step);
            for next in &self.after[step] {
                self.waits[*next] -= 1;
                if self.waits[*next] == 0 {
                    self.ready.push(*next);
                }
            }
        }
    }
}

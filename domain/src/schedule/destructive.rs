//! LB2: a makespan is refuted if its windows of start and end, propagated, leave a step or a resource without room.

use super::bound::Reach;
use super::network::Network;
use super::{Time, check::MAX_STEPS};

/// The most steps for which it is worth its time.
pub(super) const MOST_STEPS: usize = 200;
/// The longest makespan for which it is worth its time.
pub(super) const LONGEST: Time = 20_000;

/// When steps may start and end if a makespan is to be kept.
pub(super) struct Windows<'a> {
    duration: &'a [Time],
    demand: Vec<Vec<Time>>,
    capacity: Vec<Time>,
    arcs: Vec<(usize, usize, Time)>,
    pairs: Vec<(usize, usize)>,
    early: Vec<Time>,
    late: Vec<Time>,
    usage: Vec<Time>,
}

/// A step or a resource is left without room.
pub(super) struct Refuted;

/// The least makespan from `from` on, up to `to`, that is not refuted. Every makespan below it is.
pub(super) fn raise(net: &Network<'_>, reach: &Reach, from: Time, to: Time) -> Time {
    let n = net.n();
    if n > MOST_STEPS.min(MAX_STEPS) || to > LONGEST || !net.is_plain() {
        return from;
    }
    let mut windows = Windows::new(net);
    let mut makespan = from;
    while makespan < to {
        windows.early.clone_from(&reach.head);
        windows.late = reach.tail.iter().map(|tail| makespan - tail).collect();
        if windows.propagate(makespan).is_ok() && windows.energy().is_ok() {
            break;
        }
        makespan += 1;
    }
    makespan
}

impl<'a> Windows<'a> {
    fn new(net: &'a Network<'_>) -> Self {
        let n = net.n();
        let resources = 0..net.workload.resources.len();
        let demand = |r| (0..n).map(|j| net.demand(j, r) as Time).collect();
        let capacity = |r: usize| {
            net.workload.resources[r]
                .periods
                .first()
                .map_or(0, |p| Time::from(p.units))
        };
        let arcs = |j: usize| net.after[j].iter().map(move |arc| (j, arc.step, arc.min));
        let mut path = vec![vec![false; n]; n];
        for j in net.order.iter().rev() {
            for arc in &net.after[*j] {
                let further = path[arc.step].clone();
                path[*j][arc.step] = true;
                path[*j]
                    .iter_mut()
                    .zip(further)
                    .for_each(|(known, new)| *known |= new);
            }
        }
        let mut windows = Self {
            duration: &net.duration,
            demand: resources.clone().map(demand).collect(),
            capacity: resources.map(capacity).collect(),
            arcs: net.order.iter().flat_map(|j| arcs(*j)).collect(),
            pairs: Vec::new(),
            early: Vec::new(),
            late: Vec::new(),
            usage: Vec::new(),
        };
        let too_much = |i: usize, j: usize| {
            let mut each = windows.demand.iter().zip(&windows.capacity);
            each.any(|(demand, capacity)| demand[i] + demand[j] > *capacity)
        };
        let pairs = (0..n).flat_map(|i| (i + 1..n).map(move |j| (i, j)));
        let apart = |(i, j): &(usize, usize)| !path[*i][*j] && !path[*j][*i] && too_much(*i, *j);
        windows.pairs = pairs.filter(apart).collect();
        windows
    }

    /// Steps that take resources, without windows yet and without links.
    pub(super) fn of(duration: &'a [Time], demand: &[Vec<Time>], capacity: &[Time]) -> Self {
        Self {
            duration,
            demand: demand.to_vec(),
            capacity: capacity.to_vec(),
            arcs: Vec::new(),
            pairs: Vec::new(),
            early: Vec::new(),
            late: Vec::new(),
            usage: Vec::new(),
        }
    }

    /// Sets the earliest starts and the latest ends.
    pub(super) fn set(&mut self, early: &[Time], late: &[Time]) {
        (self.early, self.late) = (early.to_vec(), late.to_vec());
    }

    /// The earliest start and the latest end of a step.
    pub(super) fn of_step(&self, step: usize) -> (Time, Time) {
        (self.early[step], self.late[step])
    }

    /// Narrows all windows once by what is certainly taken of each resource.
    pub(super) fn resources(&mut self, makespan: Time) -> Result<(), Refuted> {
        (0..self.capacity.len()).try_for_each(|resource| self.time_table(resource, makespan))
    }

    /// Narrows all windows until nothing changes.
    fn propagate(&mut self, makespan: Time) -> Result<(), Refuted> {
        loop {
            let before: Time = self.early.iter().sum::<Time>() - self.late.iter().sum::<Time>();
            self.links();
            self.apart()?;
            for resource in 0..self.capacity.len() {
                self.time_table(resource, makespan)?;
            }
            let room = |j: usize| self.early[j] + self.duration[j] <= self.late[j];
            if !(0..self.early.len()).all(room) {
                return Err(Refuted);
            }
            let after: Time = self.early.iter().sum::<Time>() - self.late.iter().sum::<Time>();
            if before == after {
                return Ok(());
            }
        }
    }

    fn links(&mut self) {
        for (i, j, lag) in &self.arcs {
            self.early[*j] = self.early[*j].max(self.early[*i] + self.duration[*i] + lag);
        }
        for (i, j, lag) in self.arcs.iter().rev() {
            self.late[*i] = self.late[*i].min(self.late[*j] - self.duration[*j] - lag);
        }
    }

    /// Two steps that cannot run together: if one cannot be first, the other is.
    fn apart(&mut self) -> Result<(), Refuted> {
        for (i, j) in &self.pairs {
            let (i, j) = (*i, *j);
            let first = |a: usize, b: usize, s: &Self| {
                s.early[a] + s.duration[a] + s.duration[b] <= s.late[b]
            };
            let (i_first, j_first) = (first(i, j, self), first(j, i, self));
            let (a, b) = match (i_first, j_first) {
                (true, true) => continue,
                (false, false) => return Err(Refuted),
                (true, false) => (i, j),
                (false, true) => (j, i),
            };
            self.early[b] = self.early[b].max(self.early[a] + self.duration[a]);
            self.late[a] = self.late[a].min(self.late[b] - self.duration[b]);
        }
        Ok(())
    }

    /// Steps move out of the way of what others certainly take.
    fn time_table(&mut self, resource: usize, makespan: Time) -> Result<(), Refuted> {
        let (demand, capacity) = (&self.demand[resource], self.capacity[resource]);
        self.usage.clear();
        self.usage.resize(makespan.max(0) as usize + 1, 0);
        let n = self.early.len();
        let certain = |early: Time, late: Time, duration: Time| (late - duration, early + duration);
        for j in (0..n).filter(|j| demand[*j] > 0) {
            let (from, to) = certain(self.early[j], self.late[j], self.duration[j]);
            if self.late[j] > makespan || self.late[j] < self.early[j] + self.duration[j] {
                return Err(Refuted);
            }
            for at in from..to {
                self.usage[at as usize] += demand[j];
            }
        }
        if self.usage.iter().any(|used| *used > capacity) {
            return Err(Refuted);
        }
        for j in (0..n).filter(|j| demand[*j] > 0) {
            let duration = self.duration[j];
            let own = certain(self.early[j], self.late[j], duration);
            let full = |at: Time| {
                let mine = if own.0 <= at && at < own.1 {
                    demand[j]
                } else {
                    0
                };
                self.usage[at as usize] - mine + demand[j] > capacity
            };
            let mut early = self.early[j];
            while early + duration <= self.late[j] {
                match (early..early + duration).rev().find(|at| full(*at)) {
                    Some(at) => early = at + 1,
                    None => break,
                }
            }
            let mut late = self.late[j];
            while late - duration >= early {
                match (late - duration..late).find(|at| full(*at)) {
                    Some(at) => late = at,
                    None => break,
                }
            }
            if early + duration > late {
                return Err(Refuted);
            }
            (self.early[j], self.late[j]) = (early, late);
        }
        Ok(())
    }

    /// In no stretch of time may steps need more than there is, each moved out of it as far as it can.
    pub(super) fn energy(&self) -> Result<(), Refuted> {
        for (demand, capacity) in self.demand.iter().zip(&self.capacity) {
            let takers: Vec<usize> = (0..demand.len())
                .filter(|j| demand[*j] * self.duration[*j] > 0)
                .collect();
            for from in takers.iter().map(|j| self.early[*j]) {
                for to in takers.iter().map(|j| self.late[*j]).filter(|to| *to > from) {
                    let inside = |j: &usize| {
                        let ahead = self.early[*j] + self.duration[*j] - from;
                        let behind = to - (self.late[*j] - self.duration[*j]);
                        let least = ahead.min(behind).min(self.duration[*j]).min(to - from);
                        least.max(0) * demand[*j]
                    };
                    if takers.iter().map(inside).sum::<Time>() > capacity * (to - from) {
                        return Err(Refuted);
                    }
                }
            }
        }
        Ok(())
    }
}

//! Least and longest waits between any steps, whatever their sign, where nothing but steady capacities binds besides.
//!
//! All waits are distances between starts. Their closure tells which steps contradict each other and between which times each
//! one starts; with the pairs that exclude each other it refutes makespans. Schedules are generated serially with unscheduling
//! after Franck, Neumann and Schwindt (2001, OR Spektrum 23, 297-324) and searched for by small changes of their starts.

mod matrix;
mod place;
mod prove;
mod search;

use super::Time;
use super::bound::Reach;
use super::network::Network;
use super::profile::{Need, Profile};
use matrix::Matrix;

pub(super) use prove::Least;
pub(super) use search::{LagSearch, Worth};

/// Why no schedule keeps the waits, whatever there is of resources.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Contradicted {
    /// Waits around a circle of steps add up to more than nothing.
    Circle {
        /// Each waits for the one before, and the first for the last.
        steps: Vec<usize>,
        /// Their sum.
        by: Time,
    },
    /// A chain of waits is longer than the horizon.
    Horizon { chain: Vec<usize>, by: Time },
}

/// Steps for which there is no room; none if it is a resource that has none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Contradiction(pub(super) Vec<usize>);

/// Distances between starts, and what the steps take.
#[derive(Debug, Clone)]
pub(super) struct Lags {
    duration: Vec<i32>,
    need: Vec<Need>,
    profile: Profile,
    /// Units by resource and step, and units that there are.
    demand: Vec<Vec<Time>>,
    capacity: Vec<Time>,
    /// Steps that need too much together to be done at once.
    apart: Vec<(usize, usize)>,
    /// Least distances of starts, and their closure.
    arcs: Vec<(usize, usize, i32)>,
    paths: Matrix,
    /// The earliest starts, and what lies at least between each start and the end of all.
    head: Vec<i32>,
    tail: Vec<i32>,
}

impl Lags {
    /// Closes the waits of a network, or tells what contradicts itself.
    pub(super) fn new(net: &Network<'_>) -> Result<Self, Contradicted> {
        let n = net.n();
        let workload = net.workload;
        let mut arcs = Vec::new();
        for link in &workload.links {
            let duration = net.duration[link.from];
            arcs.push((link.from, link.to, duration + link.min_lag));
            let max = link.max_lag;
            arcs.extend(max.map(|max| (link.to, link.from, -duration - max)));
        }
        let release = workload.steps.iter().map(|step| step.release).collect();
        let (head, before) = longest(release, &arcs.iter().copied())?;
        let turned = arcs.iter().map(|(i, j, least)| (*j, *i, *least));
        let (tail, behind) = longest(net.duration.clone(), &turned)?;
        let worst = (0..n).max_by_key(|j| head[*j] + tail[*j]).unwrap_or(0);
        let by = head[worst] + tail[worst] - workload.horizon;
        if by > 0 {
            let back = std::iter::successors(Some(worst), |j| before[*j]);
            let mut chain: Vec<usize> = back.collect();
            chain.reverse();
            chain.extend(std::iter::successors(behind[worst], |j| behind[*j]));
            return Err(Contradicted::Horizon { chain, by });
        }
        let resources = 0..workload.resources.len();
        let of_resource = |r| (0..n).map(|j| net.demand(j, r) as Time).collect();
        let demand: Vec<Vec<Time>> = resources.map(of_resource).collect();
        let units = |r: &super::Resource| r.periods.iter().map(|p| Time::from(p.units)).max();
        let capacity = workload.resources.iter().map(|r| units(r).unwrap_or(0));
        let capacity: Vec<Time> = capacity.collect();
        let too_much = |i: usize, j: usize| {
            let mut each = demand.iter().zip(&capacity);
            each.any(|(demand, units)| demand[i] + demand[j] > *units)
        };
        let pairs = (0..n).flat_map(|i| (i + 1..n).map(move |j| (i, j)));
        let apart = pairs.filter(|(i, j)| too_much(*i, *j)).collect();
        let small = |times: &[Time]| times.iter().map(|time| *time as i32).collect::<Vec<i32>>();
        let arcs: Vec<(usize, usize, i32)> = arcs
            .into_iter()
            .map(|(i, j, least)| (i, j, least as i32))
            .collect();
        Ok(Self {
            paths: Matrix::new(n + 1, &arcs),
            duration: small(&net.duration),
            need: net.need.clone(),
            profile: net.profile.clone(),
            head: small(&head),
            tail: small(&tail),
            demand,
            capacity,
            apart,
            arcs,
        })
    }

    fn n(&self) -> usize {
        self.duration.len()
    }

    /// Earliest starts, and what must follow after each end.
    pub(super) fn reach(&self) -> Reach {
        let behind = self.tail.iter().zip(&self.duration);
        Reach {
            head: self.head.iter().map(|head| Time::from(*head)).collect(),
            tail: behind.map(|(tail, d)| Time::from(tail - d)).collect(),
        }
    }
}

/// Lengths of paths, and the step before each on its own.
type Longest = (Vec<Time>, Vec<Option<usize>>);

/// The longest paths from what is given (Bellman and Ford).
fn longest(
    mut from: Vec<Time>,
    arcs: &(impl Iterator<Item = (usize, usize, Time)> + Clone),
) -> Result<Longest, Contradicted> {
    let n = from.len();
    let mut before = vec![None; n];
    for _ in 0..=n {
        let mut last = None;
        for (i, j, least) in arcs.clone() {
            if from[i] + least > from[j] {
                from[j] = from[i] + least;
                before[j] = Some(i);
                last = Some(j);
            }
        }
        let Some(last) = last else {
            return Ok((from, before));
        };
        // A path that still grows when it cannot have more steps goes in a circle.
        if let Some(steps) = circle(last, &before) {
            let by = (0..steps.len()).map(|at| {
                let pair = (steps[(at + steps.len() - 1) % steps.len()], steps[at]);
                let own = arcs.clone().filter(|(i, j, _)| (*i, *j) == pair);
                own.map(|(_, _, least)| least).max().unwrap_or(0)
            });
            let by = by.sum();
            return Err(Contradicted::Circle { steps, by });
        }
    }
    Ok((from, before))
}

/// The circle that a step hangs on, if it does: only a positive one makes the steps before it lead back to themselves.
fn circle(last: usize, before: &[Option<usize>]) -> Option<Vec<usize>> {
    let mut inside = last;
    for _ in before {
        inside = before[inside]?;
    }
    let mut steps = vec![inside];
    let mut at = before[inside]?;
    while at != inside {
        steps.push(at);
        at = before[at]?;
    }
    steps.reverse();
    Some(steps)
}

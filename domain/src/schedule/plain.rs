//! Plain workloads, without windows, shifts and longest waits: serial generation and its mirror image.

use super::Time;
use super::network::Network;
use super::profile::{Need, Profile};

/// A plain network in one direction of time.
#[derive(Debug, Clone)]
pub(super) struct Plain {
    pub(super) duration: Vec<usize>,
    pub(super) before: Vec<Vec<(usize, usize)>>,
    pub(super) after: Vec<Vec<usize>>,
    need: Vec<Need>,
    profile: Profile,
}

/// Both directions, and what lists are made from.
#[derive(Debug, Clone)]
pub(super) struct Pair {
    pub(super) forward: Plain,
    pub(super) backward: Plain,
    /// Priorities of the rules; the larger goes first.
    pub(super) rules: Vec<Vec<f64>>,
    /// Schedules made, the measure of work.
    pub(super) schedules: u64,
}

impl Plain {
    /// Places all steps in the order of a list; the time at which the last one ends.
    pub(super) fn decode(&mut self, list: &[usize], start: &mut [usize]) -> usize {
        self.profile.clear();
        let mut makespan = 0;
        for step in list {
            let mut from = 0;
            for (before, lag) in &self.before[*step] {
                from = from.max(start[*before] + self.duration[*before] + lag);
            }
            let (need, duration) = (&self.need[*step], self.duration[*step]);
            if !need.0.is_empty() {
                let found = self.profile.earliest(need, from, duration, usize::MAX);
                // The profile is as long as all steps one after another.
                from = found.unwrap_or(from);
                self.profile.take(need, from, duration);
            }
            start[*step] = from;
            makespan = makespan.max(from + duration);
        }
        makespan
    }
}

impl Pair {
    pub(super) fn new(net: &Network<'_>) -> Self {
        let size = |time: Time| time as usize;
        let n = net.n();
        let lags = net.before.iter().flatten().map(|arc| size(arc.min));
        let slots = net.duration.iter().map(|d| size(*d)).sum::<usize>() + lags.sum::<usize>() + 1;
        let workload = net.workload;
        let units = |r: usize| workload.resources[r].periods.first().map_or(0, |p| p.units);
        let resources = workload.resources.len();
        let pieces = (0..resources).map(|r| (r, 0..slots, units(r)));
        let profile = Profile::new(resources, slots, pieces);
        let arcs = |arcs: &[Vec<super::network::Arc>]| -> Vec<Vec<(usize, usize)>> {
            let of = |arcs: &Vec<super::network::Arc>| {
                arcs.iter().map(|a| (a.step, size(a.min))).collect()
            };
            arcs.iter().map(of).collect()
        };
        let ends = |arcs: &[Vec<(usize, usize)>]| -> Vec<Vec<usize>> {
            let of = |arcs: &Vec<(usize, usize)>| arcs.iter().map(|(step, _)| *step).collect();
            arcs.iter().map(of).collect()
        };
        let (before, after) = (arcs(&net.before), arcs(&net.after));
        let forward = Plain {
            duration: net.duration.iter().map(|d| size(*d)).collect(),
            after: ends(&after),
            need: net.need.clone(),
            profile,
            before: before.clone(),
        };
        let backward = Plain {
            after: ends(&before),
            before: after.clone(),
            ..forward.clone()
        };
        let mut tail = vec![0; n];
        let mut weight = vec![0.0; n];
        let mut follow = vec![vec![false; n]; n];
        for step in net.order.iter().rev() {
            for (next, lag) in &after[*step] {
                tail[*step] = tail[*step].max(forward.duration[*next] + lag + tail[*next]);
                weight[*step] += forward.duration[*next] as f64;
                let further = follow[*next].clone();
                follow[*step][*next] = true;
                for (known, new) in follow[*step].iter_mut().zip(further) {
                    *known |= new;
                }
            }
            weight[*step] += forward.duration[*step] as f64;
        }
        let count = |step: usize| follow[step].iter().filter(|f| **f).count() as f64;
        let late_finish = (0..n).map(|j| tail[j] as f64).collect();
        let late_start = (0..n)
            .map(|j| (tail[j] + forward.duration[j]) as f64)
            .collect();
        let rules = vec![late_finish, late_start, (0..n).map(count).collect(), weight];
        Self {
            forward,
            backward,
            rules,
            schedules: 0,
        }
    }

    /// Generates a schedule from a list and justifies it to the right and back to the left; the list becomes the order
    /// of its starts.
    pub(super) fn improve(&mut self, list: &mut [usize], start: &mut [usize]) -> usize {
        self.schedules += 1;
        let first = self.forward.decode(list, start);
        self.justify(list, start, first)
    }

    fn justify(&mut self, list: &mut [usize], start: &mut [usize], makespan: usize) -> usize {
        let place = positions(list);
        let duration = &self.forward.duration;
        list.sort_by_key(|j| std::cmp::Reverse((start[*j] + duration[*j], place[*j])));
        let mirrored = self.backward.decode(list, start);
        let duration = &self.forward.duration;
        list.sort_by_key(|j| {
            (
                mirrored - start[*j] - duration[*j],
                std::cmp::Reverse(start[*j]),
                place[*j],
            )
        });
        self.schedules += 2;
        self.forward.decode(list, start).min(makespan)
    }
}

/// Where each item of a list stands.
pub(super) fn positions(list: &[usize]) -> Vec<usize> {
    let mut place = vec![0; list.len()];
    for (at, item) in list.iter().enumerate() {
        place[*item] = at;
    }
    place
}

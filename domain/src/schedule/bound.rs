//! What no schedule can beat: critical path, energy with heads and tails, and the same with access windows.

use super::measure::Measures;
use super::network::{Network, is_crew};
use super::{Time, Workload};

/// Units are told apart from openings in one sum by their size: an opening counts one, a unit this much.
const UNIT: i64 = 1 << 32;
/// So many tails are tried for each resource.
const MOST_TAILS: usize = 64;

/// Earliest starts and what must follow after each end, resources left aside.
#[derive(Debug, Clone)]
pub(super) struct Reach {
    pub(super) head: Vec<Time>,
    pub(super) tail: Vec<Time>,
}

impl Reach {
    /// Heads go through the windows; tails count work and waits only. `None` if something cannot end by the horizon.
    pub(super) fn new(net: &Network<'_>) -> Option<Self> {
        let n = net.n();
        let mut head = vec![0; n];
        for step in &net.order {
            head[*step] = net.alone(*step, earliest_by_links(net, &head, *step))?;
        }
        let mut tail = vec![0; n];
        for step in net.order.iter().rev() {
            for arc in &net.after[*step] {
                let behind = arc.min + net.duration[arc.step] + tail[arc.step];
                tail[*step] = tail[*step].max(behind);
            }
        }
        Some(Self { head, tail })
    }

    /// LB0: the longest chain.
    pub(super) fn longest(&self, net: &Network<'_>) -> Time {
        let ends = (0..net.n()).map(|j| self.head[j] + net.duration[j] + self.tail[j]);
        ends.max().unwrap_or(0)
    }
}

/// When what a step waits for allows it to start.
pub(super) fn earliest_by_links(net: &Network<'_>, start: &[Time], step: usize) -> Time {
    let arcs = net.before[step].iter();
    let ends = arcs.map(|arc| start[arc.step] + net.duration[arc.step] + arc.min);
    ends.fold(net.workload.steps[step].release, Time::max)
}

/// LB1: the work of steps that start no earlier than `a` and have `q` behind them needs its resource long enough.
fn energy(net: &Network<'_>, reach: &Reach) -> Time {
    let all = 0..net.workload.resources.len();
    all.map(|resource| energy_of(net, reach, resource))
        .max()
        .unwrap_or(0)
}

fn energy_of(net: &Network<'_>, reach: &Reach, resource: usize) -> Time {
    let taker = |step: usize| {
        let work = net.demand(step, resource) as Time * net.duration[step];
        (work > 0).then_some((reach.head[step], reach.tail[step], work, step))
    };
    let mut takers: Vec<(Time, Time, Time, usize)> = (0..net.n()).filter_map(taker).collect();
    takers.sort_unstable();
    let mut tails: Vec<Time> = takers.iter().map(|t| t.1).collect();
    tails.sort_unstable();
    tails.dedup();
    // Each tail gives a bound of its own; of very many some are left out.
    let every = tails.len().div_ceil(MOST_TAILS).max(1);
    let Some(supply) = Supply::new(net, resource, &takers) else {
        return 0;
    };
    let mut best = 0;
    for tail in tails.into_iter().step_by(every) {
        let mut work = 0;
        for (head, behind, energy, _) in takers.iter().rev() {
            if *behind >= tail {
                work += energy;
                best = best.max(supply.done(*head, work) + tail);
            }
        }
    }
    best
}

/// How much of a resource there is up to each moment at which at least one of its takers may work.
#[derive(Debug)]
struct Supply {
    /// Start, units, and the sum up to the start.
    pieces: Vec<(Time, Time, Time)>,
}

impl Supply {
    fn new(
        net: &Network<'_>,
        resource: usize,
        takers: &[(Time, Time, Time, usize)],
    ) -> Option<Self> {
        let workload: &Workload = net.workload;
        let mut edges: Vec<(Time, i64)> = Vec::new();
        let mut seen = vec![false; net.opens.len()];
        let mut anywhere = false;
        for (_, _, _, step) in takers {
            match net.open[*step] {
                None => anywhere = true,
                Some(at) => seen[at] = true,
            }
        }
        if anywhere {
            edges.extend([(0, 1), (workload.horizon, -1)]);
        }
        for (open, _) in net.opens.iter().zip(seen).filter(|(_, seen)| *seen) {
            let both = |w: &super::Window| [(w.from, 1), (w.to, -1)];
            edges.extend(open.0.iter().flat_map(both));
        }
        for period in &workload.resources[resource].periods {
            let units = i64::from(period.units) * UNIT;
            edges.extend([(period.window.from, units), (period.window.to, -units)]);
        }
        edges.sort_unstable();
        let (mut pieces, mut level, mut sum, mut since, mut rate) = (Vec::new(), 0, 0, 0, 0);
        for (at, change) in edges {
            sum += rate * (at - since);
            since = at;
            level += change;
            let open = level & (UNIT - 1) > 0;
            rate = if open { level >> 32 } else { 0 };
            match pieces.last_mut() {
                Some((last, units, _)) if *last == at => *units = rate,
                _ => pieces.push((at, rate, sum)),
            }
        }
        (!pieces.is_empty()).then_some(Self { pieces })
    }

    /// The earliest moment by which so much work that starts at `from` may be done.
    fn done(&self, from: Time, work: Time) -> Time {
        let at = self.pieces.partition_point(|p| p.0 <= from);
        let before = match at.checked_sub(1).map(|i| self.pieces[i]) {
            Some((start, rate, sum)) => sum + rate * (from - start),
            None => 0,
        };
        let goal = before + work;
        let after = self.pieces.partition_point(|p| p.2 < goal);
        let Some((start, rate, sum)) = after.checked_sub(1).map(|i| self.pieces[i]) else {
            return from;
        };
        if rate == 0 {
            return start;
        }
        start + (goal - sum + rate - 1) / rate
    }
}

/// The fewest crew-shifts: the work of each crew against its longest shifts, and the most units any step asks for.
fn shifts(net: &Network<'_>) -> i64 {
    let crews = (0..net.workload.resources.len()).filter(|r| is_crew(net.workload, *r));
    crews.map(|resource| calls(net, resource)).sum()
}

/// The least cost: work at the cheapest rate and the fewest calls at the cheapest price, for each resource by itself.
fn cost(net: &Network<'_>) -> i64 {
    let each = (0..net.workload.resources.len()).map(|resource| {
        let periods = &net.workload.resources[resource].periods;
        let rate = periods.iter().map(|p| p.per_time).min().unwrap_or(0);
        let call = periods.iter().map(|p| p.per_call).min().unwrap_or(0);
        work(net, resource) * rate + calls(net, resource) * call
    });
    each.sum()
}

fn work(net: &Network<'_>, resource: usize) -> i64 {
    let of = |step: usize| net.demand(step, resource) as i64 * net.duration[step];
    (0..net.n()).map(of).sum()
}

/// The fewest units that must be called to do the work of a resource.
fn calls(net: &Network<'_>, resource: usize) -> i64 {
    let mut left = work(net, resource);
    let most = (0..net.n()).map(|step| net.demand(step, resource)).max();
    let mut lengths: Vec<(Time, i64)> = net.workload.resources[resource]
        .periods
        .iter()
        .map(|p| (p.window.to - p.window.from, i64::from(p.units)))
        .collect();
    lengths.sort_unstable_by(|a, b| b.cmp(a));
    let mut called = 0;
    for (length, units) in lengths {
        let needed = (left + length - 1).div_euclid(length).clamp(0, units);
        called += needed;
        left -= needed * length;
    }
    called.max(most.unwrap_or(0) as i64)
}

/// What no schedule can beat, per figure.
pub(super) fn bounds(net: &Network<'_>, reach: &Reach) -> Measures {
    let end = |step: &usize| reach.head[*step] + net.duration[*step];
    let weighted = net
        .workload
        .spaces
        .iter()
        .map(|space| space.weight * space.opens_after.iter().map(end).max().unwrap_or(0));
    Measures {
        last_reopening: reach.longest(net).max(energy(net, reach)),
        weighted_reopening: weighted.sum(),
        crew_shifts: shifts(net),
        cost: cost(net),
    }
}

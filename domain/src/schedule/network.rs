//! A workload made ready for scheduling: blocks of tightly lagged steps, effective windows, packed demands.

use std::collections::BTreeMap;

use super::check::{Fault, Place, Wrong, faults};
use super::profile::{Need, Profile};
use super::{ResourceKind, Time, Window, Workload};

/// A link as seen from one of its steps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Arc {
    /// The step at the other end.
    pub(super) step: usize,
    pub(super) min: Time,
    pub(super) max: Option<Time>,
}

/// Windows that a step may lie in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Open(pub(super) Vec<Window>);

impl Open {
    /// The earliest start of work of this length without regard to resources.
    pub(super) fn earliest(&self, from: Time, duration: Time) -> Option<Time> {
        let first = self.0.partition_point(|w| w.to < from + duration);
        self.0[first..]
            .iter()
            .map(|w| (w.from.max(from), w.to))
            .find(|(start, to)| start + duration <= *to)
            .map(|(start, _)| start)
    }

    /// The latest start of work of this length that ends by `by`.
    pub(super) fn latest(&self, by: Time, duration: Time) -> Option<Time> {
        let last = self.0.partition_point(|w| w.from + duration <= by);
        self.0[..last]
            .iter()
            .rev()
            .map(|w| (w.from, w.to.min(by) - duration))
            .find(|(from, start)| from <= start)
            .map(|(_, start)| start)
    }

    pub(super) fn longest(&self) -> Time {
        self.0.iter().map(|w| w.to - w.from).max().unwrap_or(0)
    }
}

/// The compiled workload.
#[derive(Debug, Clone)]
pub(super) struct Network<'w> {
    pub(super) workload: &'w Workload,
    pub(super) duration: Vec<Time>,
    pub(super) need: Vec<Need>,
    /// Index into `opens`; `None` for a step that may lie anywhere.
    pub(super) open: Vec<Option<usize>>,
    pub(super) opens: Vec<Open>,
    pub(super) before: Vec<Vec<Arc>>,
    pub(super) after: Vec<Vec<Arc>>,
    /// Steps in an order that respects all links.
    pub(super) order: Vec<usize>,
    /// Chains of steps that are placed together, in an order that respects all links.
    pub(super) blocks: Vec<Vec<usize>>,
    pub(super) block_of: Vec<usize>,
    /// Blocks that wait for a block, and that it waits for.
    pub(super) block_after: Vec<Vec<usize>>,
    pub(super) block_before: Vec<Vec<usize>>,
    /// The bay of a block: its space, or a number of its own.
    pub(super) bay_of: Vec<usize>,
    pub(super) n_bays: usize,
    pub(super) profile: Profile,
}

/// Pieces of a profile: resource, stretch of slots, units.
pub(super) fn pieces(
    workload: &Workload,
) -> impl Iterator<Item = (usize, std::ops::Range<usize>, u32)> {
    let all = workload.resources.iter().enumerate();
    all.flat_map(|(resource, r)| {
        let periods = r.periods.iter();
        periods.map(move |p| {
            (
                resource,
                p.window.from as usize..p.window.to as usize,
                p.units,
            )
        })
    })
}

impl<'w> Network<'w> {
    /// Checks and compiles a workload.
    pub(super) fn new(workload: &'w Workload) -> Result<Self, Vec<Fault>> {
        let found = faults(workload);
        if !found.is_empty() {
            return Err(found);
        }
        let n = workload.steps.len();
        let (mut before, mut after) = (vec![Vec::new(); n], vec![Vec::new(); n]);
        for link in &workload.links {
            let arc = |step| Arc {
                step,
                min: link.min_lag,
                max: link.max_lag,
            };
            before[link.to].push(arc(link.from));
            after[link.from].push(arc(link.to));
        }
        let (open, opens) = opens(workload);
        let order = sorted(n, |step| after[step].iter().map(|arc| arc.step)).map_err(|stuck| {
            let fault = |step| Fault {
                place: Place::Step(step),
                wrong: Wrong::Circle,
            };
            stuck.into_iter().map(fault).collect::<Vec<_>>()
        })?;
        let longest =
            |step: usize| open[step].map_or(workload.horizon, |at: usize| opens[at].longest());
        let chained = |step: usize, arc: &Arc| arc.max.is_some_and(|max| max <= longest(step));
        let chains = chains(&order, &before, &after, chained);
        let (blocks, block_of, block_after, block_before) = block_order(&chains, &after)?;
        let n_spaces = workload.spaces.len();
        let mut n_bays = n_spaces;
        let bay_of = blocks.iter().map(|block| {
            let space = block.iter().find_map(|step| workload.steps[*step].space);
            space.unwrap_or_else(|| {
                n_bays += 1;
                n_bays - 1
            })
        });
        let bay_of = bay_of.collect();
        let need = |step: &super::Step| {
            let units = step.demands.iter().map(|d| (d.resource, d.units));
            Need::new(units.filter(|_| step.duration > 0))
        };
        Ok(Self {
            duration: workload.steps.iter().map(|step| step.duration).collect(),
            need: workload.steps.iter().map(need).collect(),
            open,
            opens,
            before,
            after,
            order,
            blocks,
            block_of,
            block_after,
            block_before,
            bay_of,
            n_bays,
            profile: Profile::new(
                workload.resources.len(),
                workload.horizon as usize,
                pieces(workload),
            ),
            workload,
        })
    }

    /// The number of steps.
    pub(super) fn n(&self) -> usize {
        self.duration.len()
    }

    /// The windows of a step.
    pub(super) fn open(&self, step: usize) -> Option<&Open> {
        self.open[step].map(|at| &self.opens[at])
    }

    /// How many units of a resource a step takes; none for a milestone.
    pub(super) fn demand(&self, step: usize, resource: usize) -> usize {
        let step = &self.workload.steps[step];
        let demand = step.demands.iter().find(|d| d.resource == resource);
        demand
            .filter(|_| step.duration > 0)
            .map_or(0, |d| d.units as usize)
    }

    /// The earliest start of a step in an empty house.
    pub(super) fn alone(&self, step: usize, from: Time) -> Option<Time> {
        let duration = self.duration[step];
        match self.open(step) {
            Some(open) => open.earliest(from, duration),
            None => (from + duration <= self.workload.horizon).then_some(from),
        }
    }

    /// Whether nothing but links and steady capacities binds, so that a schedule may be mirrored in time.
    pub(super) fn is_plain(&self) -> bool {
        let steady = self.workload.resources.iter().all(|r| {
            let all_time =
                |p: &super::Period| p.window.from == 0 && p.window.to == self.workload.horizon;
            r.gaps.is_empty() && matches!(r.periods.as_slice(), [p] if all_time(p))
        });
        let free = |open: &Option<usize>| {
            open.is_none_or(|at| {
                self.opens[at].0.len() == 1 && self.opens[at].longest() == self.workload.horizon
            })
        };
        steady
            && self.open.iter().all(free)
            && self.workload.steps.iter().all(|step| step.release == 0)
            && self
                .workload
                .links
                .iter()
                .all(|link| link.max_lag.is_none())
    }
}

/// A calendar, and the demands whose shifts must not be crossed.
type OpenKey = (Option<usize>, Vec<(usize, u32)>);

/// Windows of each step: its calendar, cut by the shifts that it must not cross.
fn opens(workload: &Workload) -> (Vec<Option<usize>>, Vec<Open>) {
    let mut known: BTreeMap<OpenKey, usize> = BTreeMap::new();
    let mut opens = Vec::new();
    let mut of_step = |step: &super::Step| {
        if step.duration == 0 {
            return None;
        }
        let shifts: Vec<(usize, u32)> = step
            .demands
            .iter()
            .map(|d| (d.resource, d.units))
            .filter(|(resource, _)| workload.resources[*resource].whole_shift)
            .collect();
        if step.calendar.is_none() && shifts.is_empty() {
            return None;
        }
        let index =
            known
                .entry((step.calendar, shifts))
                .or_insert_with_key(|(calendar, shifts)| {
                    let all = Window {
                        from: 0,
                        to: workload.horizon,
                    };
                    let mut windows = match calendar {
                        Some(at) => workload.calendars[*at].windows.clone(),
                        None => vec![all],
                    };
                    for (resource, units) in shifts {
                        let periods = workload.resources[*resource].periods.iter();
                        let enough = periods.filter(|p| p.units >= *units).map(|p| p.window);
                        windows = both(&windows, &enough.collect::<Vec<_>>());
                    }
                    opens.push(Open(windows));
                    opens.len() - 1
                });
        Some(*index)
    };
    let open = workload.steps.iter().map(&mut of_step).collect();
    (open, opens)
}

/// Where two lists of windows are open at once.
pub(super) fn both(a: &[Window], b: &[Window]) -> Vec<Window> {
    let (mut i, mut j, mut found) = (0, 0, Vec::new());
    while let (Some(x), Some(y)) = (a.get(i), b.get(j)) {
        let (from, to) = (x.from.max(y.from), x.to.min(y.to));
        if from < to {
            found.push(Window { from, to });
        }
        if x.to <= y.to {
            i += 1;
        } else {
            j += 1;
        }
    }
    found
}

/// Items in an order in which each comes before those after it, the lowest index first; those in a circle if there is one.
fn sorted<I: Iterator<Item = usize>>(
    n: usize,
    after: impl Fn(usize) -> I,
) -> Result<Vec<usize>, Vec<usize>> {
    let mut waits = vec![0_usize; n];
    for item in 0..n {
        after(item).for_each(|next| waits[next] += 1);
    }
    let mut ready: std::collections::BTreeSet<usize> = (0..n).filter(|i| waits[*i] == 0).collect();
    let mut order = Vec::with_capacity(n);
    while let Some(item) = ready.pop_first() {
        order.push(item);
        for next in after(item) {
            waits[next] -= 1;
            if waits[next] == 0 {
                ready.insert(next);
            }
        }
    }
    if order.len() == n {
        return Ok(order);
    }
    Err((0..n).filter(|i| waits[*i] > 0).collect())
}

/// Steps joined by longest waits that must be met in one go.
fn chains(
    order: &[usize],
    before: &[Vec<Arc>],
    after: &[Vec<Arc>],
    chained: impl Fn(usize, &Arc) -> bool,
) -> Vec<Vec<usize>> {
    let mut chains = Vec::new();
    for head in order {
        if before[*head].iter().any(|arc| chained(*head, arc)) {
            continue;
        }
        let mut chain = vec![*head];
        let mut last = *head;
        while let Some(next) = after[last].iter().find(|arc| chained(arc.step, arc)) {
            last = next.step;
            chain.push(last);
        }
        chains.push(chain);
    }
    chains
}

type Blocks = (
    Vec<Vec<usize>>,
    Vec<usize>,
    Vec<Vec<usize>>,
    Vec<Vec<usize>>,
);

/// Blocks in an order that respects all links.
fn block_order(chains: &[Vec<usize>], after: &[Vec<Arc>]) -> Result<Blocks, Vec<Fault>> {
    let index = |blocks: &[Vec<usize>]| {
        let mut block_of = vec![0; after.len()];
        for (at, block) in blocks.iter().enumerate() {
            for step in block {
                block_of[*step] = at;
            }
        }
        block_of
    };
    let next = |blocks: &[Vec<usize>], block_of: &[usize]| -> Vec<Vec<usize>> {
        let of = |(at, block): (usize, &Vec<usize>)| {
            let arcs = block.iter().flat_map(|step| &after[*step]);
            let mut next: Vec<usize> = arcs.map(|arc| block_of[arc.step]).collect();
            next.retain(|other| *other != at);
            next.sort_unstable();
            next.dedup();
            next
        };
        blocks.iter().enumerate().map(of).collect()
    };
    let block_of = index(chains);
    let block_after = next(chains, &block_of);
    let order = sorted(chains.len(), |b| block_after[b].iter().copied());
    let order = order.map_err(|stuck| {
        let steps = stuck.into_iter().flat_map(|b| chains[b].iter().copied());
        let fault = |step| Fault {
            place: Place::Step(step),
            wrong: Wrong::Interlocked,
        };
        steps.map(fault).collect::<Vec<_>>()
    })?;
    let blocks: Vec<Vec<usize>> = order.into_iter().map(|b| chains[b].clone()).collect();
    let block_of = index(&blocks);
    let block_after = next(&blocks, &block_of);
    let mut block_before = vec![Vec::new(); blocks.len()];
    for (block, next) in block_after.iter().enumerate() {
        for other in next {
            block_before[*other].push(block);
        }
    }
    Ok((blocks, block_of, block_after, block_before))
}

/// Whether a resource is counted in crew-shifts.
pub(super) fn is_crew(workload: &Workload, resource: usize) -> bool {
    workload.resources[resource].kind == ResourceKind::Crew
}

//! A workload made ready for scheduling: blocks of tightly lagged steps, effective windows, packed demands.

use std::collections::BTreeMap;

use super::blocks::{Blocks, block_order, chains, sorted};
use super::check::{Fault, MAX_LAGGED, Place, Wrong, faults};
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
    /// Whether links leave an order of the steps. If not, each step is a block, and orders are those of the workload.
    pub(super) is_ordered: bool,
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
        let found = faults(workload, false);
        if !found.is_empty() {
            return Err(found);
        }
        let n = workload.steps.len();
        let (before, after) = arcs(workload);
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
        let blocks = block_order(&chains, &after)?;
        let parts = (before, after, open, opens);
        Ok(Self::of(workload, parts, Some(order), blocks))
    }

    /// Checks and compiles a workload whatever order its waits leave, if nothing but them and steady capacities binds it.
    ///
    /// # Errors
    ///
    /// The faults of one that has none of both.
    pub(super) fn of_any(workload: &'w Workload) -> Result<Self, Vec<Fault>> {
        let found = match Self::new(workload) {
            Ok(net) => return Ok(net),
            Err(found) => found,
        };
        let n = workload.steps.len();
        if n > MAX_LAGGED || !has_lags(workload) || !faults(workload, true).is_empty() {
            return Err(found);
        }
        let (before, after) = arcs(workload);
        let (open, opens) = opens(workload);
        let none = vec![Vec::new(); n];
        let single = (0..n).map(|step| vec![step]).collect();
        let blocks = (single, (0..n).collect(), none.clone(), none);
        let net = Self::of(workload, (before, after, open, opens), None, blocks);
        if net.is_steady() { Ok(net) } else { Err(found) }
    }

    fn of(
        workload: &'w Workload,
        (before, after, open, opens): Parts,
        order: Option<Vec<usize>>,
        (blocks, block_of, block_after, block_before): Blocks,
    ) -> Self {
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
        Self {
            duration: workload.steps.iter().map(|step| step.duration).collect(),
            need: workload.steps.iter().map(need).collect(),
            open,
            opens,
            before,
            after,
            is_ordered: order.is_some(),
            order: order.unwrap_or_else(|| (0..workload.steps.len()).collect()),
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
        }
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
        self.is_steady()
            && self.is_ordered
            && self.workload.steps.iter().all(|step| step.release == 0)
            && self
                .workload
                .links
                .iter()
                .all(|link| link.max_lag.is_none())
    }

    /// Whether there are no windows, shifts and travelling units: all time is alike.
    pub(super) fn is_steady(&self) -> bool {
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
        steady && self.open.iter().all(free)
    }
}

/// Arcs before and after each step, and its windows.
type Parts = (Vec<Vec<Arc>>, Vec<Vec<Arc>>, Vec<Option<usize>>, Vec<Open>);

/// Whether waits bind a step to another that is before it in time as well.
pub(super) fn has_lags(workload: &Workload) -> bool {
    let mut links = workload.links.iter();
    links.any(|link| link.max_lag.is_some() || link.min_lag < 0)
}

/// Links as seen from their two steps.
fn arcs(workload: &Workload) -> (Vec<Vec<Arc>>, Vec<Vec<Arc>>) {
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
    (before, after)
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

/// Whether a resource is counted in crew-shifts.
pub(super) fn is_crew(workload: &Workload, resource: usize) -> bool {
    workload.resources[resource].kind == ResourceKind::Crew
}

//! What a schedule is worth: reopenings, crew-shifts, cost.

use super::{Objective, Resource, ResourceKind, Schedule, Step, Time, Workload};

/// The figures by which schedules are compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Measures {
    /// When the last step or space is done.
    pub last_reopening: Time,
    /// Sum over the spaces of weight times reopening.
    pub weighted_reopening: i64,
    /// Operatives called, counted once for each of their shifts.
    pub crew_shifts: i64,
    /// Calls and time at work at the prices of the resources.
    pub cost: i64,
}

impl Measures {
    /// The figure of an objective.
    pub fn of(&self, objective: Objective) -> i64 {
        match objective {
            Objective::EarliestReopening => self.last_reopening,
            Objective::WeightedReopening => self.weighted_reopening,
            Objective::FewestShifts => self.crew_shifts,
            Objective::LeastCost => self.cost,
        }
    }

    /// The figures with that of one objective first: the least of them is beaten by no other in all respects.
    pub(super) fn key(&self, objective: Objective) -> [i64; 5] {
        let rest = Objective::ALL.map(|other| self.of(other));
        [self.of(objective), rest[0], rest[1], rest[2], rest[3]]
    }
}

/// When each space is open again.
pub fn reopenings(workload: &Workload, schedule: &Schedule) -> Vec<Time> {
    let end = |step: &usize| schedule.starts[*step] + workload.steps[*step].duration;
    let spaces = workload.spaces.iter();
    spaces
        .map(|space| space.opens_after.iter().map(end).max().unwrap_or(0))
        .collect()
}

/// The reopening figures, which are cheap.
pub(super) fn openings(workload: &Workload, starts: &[Time], durations: &[Time]) -> (Time, i64) {
    let end = |step: usize| starts[step] + durations[step];
    let last = (0..starts.len()).map(end).max().unwrap_or(0);
    let weighted = workload.spaces.iter().map(|space| {
        let open = space.opens_after.iter().map(|step| end(*step)).max();
        space.weight * open.unwrap_or(0)
    });
    (last, weighted.sum())
}

/// All figures of a schedule.
pub fn measures(workload: &Workload, starts: &[Time]) -> Measures {
    let durations: Vec<Time> = workload.steps.iter().map(|step| step.duration).collect();
    let (last_reopening, weighted_reopening) = openings(workload, starts, &durations);
    let (mut crew_shifts, mut cost) = (0, 0);
    for (at, resource) in workload.resources.iter().enumerate() {
        let is_crew = resource.kind == ResourceKind::Crew;
        if !is_crew && !is_priced(resource) {
            continue;
        }
        let called = calls(workload, at, starts);
        for (period, units) in resource.periods.iter().zip(&called) {
            crew_shifts += if is_crew { *units } else { 0 };
            cost += units * period.per_call;
        }
        cost += at_work(workload, at, starts);
    }
    Measures {
        last_reopening,
        weighted_reopening,
        crew_shifts,
        cost,
    }
}

/// Whether a resource costs anything.
pub(super) fn is_priced(resource: &Resource) -> bool {
    let mut periods = resource.periods.iter();
    periods.any(|p| p.per_call > 0 || p.per_time > 0)
}

fn takers(workload: &Workload, resource: usize) -> impl Iterator<Item = (usize, &Step, i64)> {
    let steps = workload
        .steps
        .iter()
        .enumerate()
        .filter(|(_, step)| step.duration > 0);
    steps.filter_map(move |(at, step)| {
        let demand = step.demands.iter().find(|d| d.resource == resource)?;
        Some((at, step, i64::from(demand.units)))
    })
}

/// The most units of a resource that are at work at once in each of its periods.
pub(super) fn calls(workload: &Workload, resource: usize, starts: &[Time]) -> Vec<i64> {
    let mut events: Vec<(Time, i64)> = Vec::new();
    for (at, step, units) in takers(workload, resource) {
        events.extend([(starts[at], units), (starts[at] + step.duration, -units)]);
    }
    events.sort_unstable();
    let (mut next, mut level) = (0, 0);
    let periods = workload.resources[resource].periods.iter();
    let most = periods.map(|period| {
        while events
            .get(next)
            .is_some_and(|(at, _)| *at <= period.window.from)
        {
            level += events[next].1;
            next += 1;
        }
        let mut most = level;
        while events
            .get(next)
            .is_some_and(|(at, _)| *at < period.window.to)
        {
            level += events[next].1;
            next += 1;
            most = most.max(level);
        }
        most
    });
    most.collect()
}

fn at_work(workload: &Workload, resource: usize, starts: &[Time]) -> i64 {
    let periods = &workload.resources[resource].periods;
    let mut cost = 0;
    for (at, step, units) in takers(workload, resource) {
        let (from, to) = (starts[at], starts[at] + step.duration);
        let first = periods.partition_point(|p| p.window.to <= from);
        for period in periods[first..].iter().take_while(|p| p.window.from < to) {
            let time = period.window.to.min(to) - period.window.from.max(from);
            cost += units * time * period.per_time;
        }
    }
    cost
}

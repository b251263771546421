//! Whether a schedule keeps all that its workload asks for, found out without any part of the scheduler.
//!
//! One sweep over starts and ends for each resource, one binary search for each step: O(n log n) altogether.

use super::{Schedule, Step, Time, Window, Workload};

/// A way in which a schedule breaks its workload.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Breach {
    /// It does not have as many starts as there are steps.
    Count,
    /// A step starts before zero or before its release.
    Early(usize),
    /// A step ends after the horizon.
    Beyond(usize),
    /// A step lies in no window of its calendar.
    Closed(usize),
    /// A step crosses the end of a shift, or lies where too few are on it.
    Shift {
        /// The step.
        step: usize,
        /// The resource.
        resource: usize,
    },
    /// A step starts too soon after another: the link.
    TooSoon(usize),
    /// A step starts too late after another: the link.
    TooLate(usize),
    /// More units are taken than there are.
    Capacity {
        /// The resource.
        resource: usize,
        /// From then on.
        at: Time,
    },
    /// A step has not as many travelling units as it demands, or one that does not exist, or one twice.
    Units {
        /// The step.
        step: usize,
        /// The resource.
        resource: usize,
    },
    /// A travelling unit is not there in time.
    Travel {
        /// The step that it is late for.
        step: usize,
        /// The resource.
        resource: usize,
    },
}

/// All breaches of a schedule; none means that it may be returned.
pub fn verify(workload: &Workload, schedule: &Schedule) -> Vec<Breach> {
    let starts = schedule.starts.as_slice();
    if starts.len() != workload.steps.len() {
        return vec![Breach::Count];
    }
    let mut found = Vec::new();
    for (at, step) in workload.steps.iter().enumerate() {
        own_time(workload, at, step, starts[at], &mut found);
    }
    for (at, link) in workload.links.iter().enumerate() {
        let end = i128::from(starts[link.from]) + i128::from(workload.steps[link.from].duration);
        let waits = i128::from(starts[link.to]) - end;
        if waits < i128::from(link.min_lag) {
            found.push(Breach::TooSoon(at));
        }
        if link.max_lag.is_some_and(|max| waits > i128::from(max)) {
            found.push(Breach::TooLate(at));
        }
    }
    if found
        .iter()
        .any(|b| matches!(b, Breach::Early(_) | Breach::Beyond(_)))
    {
        return found;
    }
    for resource in 0..workload.resources.len() {
        capacity(workload, starts, resource, &mut found);
        if !workload.resources[resource].gaps.is_empty() {
            travel(workload, schedule, resource, &mut found);
        }
    }
    found
}

fn own_time(workload: &Workload, at: usize, step: &Step, start: Time, found: &mut Vec<Breach>) {
    if start < step.release.max(0) {
        found.push(Breach::Early(at));
        return;
    }
    let Some(end) = start
        .checked_add(step.duration)
        .filter(|end| *end <= workload.horizon)
    else {
        found.push(Breach::Beyond(at));
        return;
    };
    if step.duration == 0 {
        return;
    }
    let holds = |window: &Window| window.from <= start && end <= window.to;
    if let Some(calendar) = step.calendar {
        let windows = &workload.calendars[calendar].windows;
        let after = windows.partition_point(|window| window.from <= start);
        if after == 0 || !holds(&windows[after - 1]) {
            found.push(Breach::Closed(at));
        }
    }
    for demand in &step.demands {
        let resource = &workload.resources[demand.resource];
        if !resource.whole_shift {
            continue;
        }
        let after = resource.periods.partition_point(|p| p.window.from <= start);
        let fits = after > 0 && {
            let period = &resource.periods[after - 1];
            holds(&period.window) && period.units >= demand.units
        };
        if !fits {
            found.push(Breach::Shift {
                step: at,
                resource: demand.resource,
            });
        }
    }
}

/// Steps that take units of a resource, and how many.
fn takers(workload: &Workload, resource: usize) -> impl Iterator<Item = (usize, i64)> + '_ {
    let steps = workload
        .steps
        .iter()
        .enumerate()
        .filter(|(_, step)| step.duration > 0);
    steps.filter_map(move |(at, step)| {
        let demand = step.demands.iter().find(|d| d.resource == resource)?;
        (demand.units > 0).then_some((at, i64::from(demand.units)))
    })
}

fn capacity(workload: &Workload, starts: &[Time], resource: usize, found: &mut Vec<Breach>) {
    let mut events: Vec<(Time, i64)> = Vec::new();
    for period in &workload.resources[resource].periods {
        let units = i64::from(period.units);
        events.extend([(period.window.from, units), (period.window.to, -units)]);
    }
    for (step, units) in takers(workload, resource) {
        let end = starts[step] + workload.steps[step].duration;
        events.extend([(starts[step], -units), (end, units)]);
    }
    events.sort_unstable();
    let mut free = 0;
    for (i, (at, change)) in events.iter().enumerate() {
        free += change;
        let settled = events.get(i + 1).is_none_or(|(next, _)| next != at);
        if settled && free < 0 {
            found.push(Breach::Capacity { resource, at: *at });
            return;
        }
    }
}

fn travel(workload: &Workload, schedule: &Schedule, resource: usize, found: &mut Vec<Breach>) {
    let own = schedule.units.iter().filter(|(of, _, _)| *of == resource);
    let mut jobs: Vec<(usize, Time, usize)> = own
        .filter(|(_, _, step)| *step < schedule.starts.len())
        .map(|(_, unit, step)| (*unit, schedule.starts[*step], *step))
        .collect();
    jobs.sort_unstable();
    let periods = workload.resources[resource].periods.iter();
    let n_units = periods.map(|p| p.units as usize).max().unwrap_or(0);
    let mut given = vec![0_i64; workload.steps.len()];
    for (unit, _, step) in &jobs {
        given[*step] += 1;
        if *unit >= n_units {
            found.push(Breach::Units {
                step: *step,
                resource,
            });
        }
    }
    let mut demanded = vec![0_i64; workload.steps.len()];
    takers(workload, resource).for_each(|(step, units)| demanded[step] = units);
    for step in 0..given.len() {
        if given[step] != demanded[step] {
            found.push(Breach::Units { step, resource });
        }
    }
    // What needs no unit is no job of theirs, and its place none that they know.
    jobs.retain(|(_, _, step)| demanded[*step] > 0);
    let gaps = &workload.resources[resource].gaps;
    for pair in jobs.windows(2) {
        let ((unit, start, step), (same, next, to)) = (pair[0], pair[1]);
        let (here, there) = (&workload.steps[step], &workload.steps[to]);
        let there_at = start + here.duration + gaps[here.place][there.place];
        if unit == same && next < there_at {
            found.push(Breach::Travel { step: to, resource });
        }
    }
}

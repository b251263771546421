//! What has happened is not judged: it takes only the units that were there, as far as anybody knows.

use crate::schedule::fleet::{Fleet, Job};
use crate::schedule::{Demand, Period, Resource, Time, Window, Workload};

/// What stands takes only what is there: what has happened is not judged.
///
/// Tasks come first. What only keeps units busy, such as an absence or a wet floor, and finds them taken, keeps its end and begins
/// when enough of them are free: it must not be lost because somebody was at work when it began.
pub(super) fn relax(workload: &mut Workload, stands: &mut [Option<Time>], counted: &[bool]) {
    let mut order: Vec<usize> = (0..stands.len())
        .filter(|at| stands[*at].is_some())
        .collect();
    order.sort_by_key(|at| (!counted[*at], stands[*at], *at));
    let mut taken: Vec<Vec<(Time, Time, u32)>> = vec![Vec::new(); workload.resources.len()];
    for at in order {
        let Some(start) = stands[at] else { continue };
        let end = start + workload.steps[at].duration;
        let demands = std::mem::take(&mut workload.steps[at].demands);
        let first = |demand: &Demand| {
            let own = &taken[demand.resource];
            let resource = &workload.resources[demand.resource];
            let ends = own.iter().map(|(_, to, _)| *to);
            let later = ends.filter(|to| !counted[at] && start < *to);
            let mut starts: Vec<Time> = later.chain([start]).filter(|from| *from < end).collect();
            starts.sort_unstable();
            starts.dedup();
            let fits = |from: &Time| is_there(resource, own, (*from, end), demand.units);
            starts.into_iter().find(fits)
        };
        let found: Vec<(Demand, Time)> = demands
            .into_iter()
            .filter_map(|demand| Some((demand, first(&demand)?)))
            .collect();
        let begins = found.iter().map(|(_, from)| *from).max().unwrap_or(start);
        for (demand, _) in &found {
            taken[demand.resource].push((begins, end, demand.units));
        }
        let step = &mut workload.steps[at];
        step.demands = found.into_iter().map(|(demand, _)| demand).collect();
        step.duration = end - begins;
        stands[at] = Some(begins);
    }
}

/// A unit that has worked in two places is there in time for the second: where that was not so, nobody tells who it was.
pub(super) fn relax_ways(workload: &mut Workload, stands: &[Option<Time>]) {
    let mut order: Vec<usize> = (0..stands.len())
        .filter(|at| stands[*at].is_some())
        .collect();
    order.sort_by_key(|at| (stands[*at], *at));
    for resource in 0..workload.resources.len() {
        let late: Vec<usize> = {
            let Some(mut fleet) = Fleet::new(workload, resource) else {
                continue;
            };
            let is_late = |at: &&usize| {
                let (step, start) = (&workload.steps[**at], stands[**at].unwrap_or(0));
                let own = step.demands.iter().find(|d| d.resource == resource);
                let Some(own) = own.filter(|_| step.duration > 0) else {
                    return false;
                };
                let count = own.units as usize;
                let found = fleet.earliest(count, start, step.duration, step.place);
                if found != Some(start) {
                    return true;
                }
                let job = Job {
                    start,
                    end: start + step.duration,
                    place: step.place,
                    step: **at,
                };
                fleet.take(count, job);
                false
            };
            order.iter().filter(is_late).copied().collect()
        };
        for at in late {
            workload.steps[at]
                .demands
                .retain(|d| d.resource != resource);
        }
    }
}

fn is_there(
    resource: &Resource,
    taken: &[(Time, Time, u32)],
    (start, end): (Time, Time),
    units: u32,
) -> bool {
    let holds = |window: &Window| window.from <= start && end <= window.to;
    let in_one = |p: &Period| holds(&p.window) && p.units >= units;
    if resource.whole_shift && !resource.periods.iter().any(in_one) {
        return false;
    }
    let inside = |at: &Time| start <= *at && *at < end;
    let bounds = resource
        .periods
        .iter()
        .flat_map(|p| [p.window.from, p.window.to]);
    let begun = taken.iter().map(|(from, _, _)| *from);
    let mut moments = bounds.chain(begun).filter(inside).chain([start]);
    moments.all(|at| {
        let there = resource.periods.iter();
        let there = there.filter(|p| p.window.from <= at && at < p.window.to);
        let there: u32 = there.map(|p| p.units).sum();
        let used = taken.iter().filter(|(from, to, _)| *from <= at && at < *to);
        let used: u32 = used.map(|(_, _, units)| units).sum();
        used.saturating_add(units) <= there
    })
}

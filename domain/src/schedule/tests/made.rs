//! Workloads made up from a seed, and an obvious check of schedules, slot by slot.

use crate::schedule::rng::{Purpose, Rng};
use crate::schedule::{Answer, NoSchedule, Reason};
use crate::schedule::{
    Calendar, Demand, Effort, Go, Link, Objective, Period, Resource, ResourceKind, Schedule, Space,
    Step, Time, Window, Workload, solve,
};

pub(super) fn window(from: Time, to: Time) -> Window {
    Window { from, to }
}

pub(super) fn period(from: Time, to: Time, units: u32) -> Period {
    Period {
        window: window(from, to),
        units,
        per_call: 0,
        per_time: 0,
    }
}

pub(super) fn demand(resource: usize, units: u32) -> Demand {
    Demand { resource, units }
}

pub(super) fn step(duration: Time, demands: &[(usize, u32)]) -> Step {
    Step {
        duration,
        demands: demands
            .iter()
            .map(|(r, units)| demand(*r, *units))
            .collect(),
        ..Step::default()
    }
}

pub(super) fn link(from: usize, to: usize, min_lag: Time, max_lag: Option<Time>) -> Link {
    Link {
        from,
        to,
        min_lag,
        max_lag,
        spread: None,
    }
}

pub(super) fn calendar(windows: &[(Time, Time)]) -> Calendar {
    Calendar {
        name: "nights".to_owned(),
        windows: windows
            .iter()
            .map(|(from, to)| window(*from, *to))
            .collect(),
    }
}

pub(super) fn space(opens_after: usize, deadline: Option<Time>) -> Space {
    Space {
        name: format!("space behind {opens_after}"),
        weight: 1,
        deadline,
        opens_after: vec![opens_after],
    }
}

pub(super) fn solved(
    workload: &Workload,
    objective: Objective,
    schedules: u64,
    seed: u64,
) -> Result<Answer, NoSchedule> {
    solve(workload, objective, Effort { schedules, seed }, &mut |_| {
        Go::On
    })
}

/// A few steps and a short horizon: small enough to try every schedule.
pub(super) fn tiny(seed: u64, plain: bool) -> Workload {
    let mut rng = Rng::new(seed, Purpose::Search, 7);
    let n = 3 + rng.below(2);
    let horizon = if plain { 40 } else { 13 };
    let mut draw = |n: usize| Time::try_from(rng.below(n)).unwrap();
    let mut workload = Workload {
        horizon,
        ..Workload::default()
    };
    for name in ["crew", "machine"] {
        let units = u32::try_from(1 + draw(2)).unwrap();
        let mut resource = Resource::steady(name, ResourceKind::Crew, units, horizon);
        if !plain && draw(2) == 0 {
            let cut = 4 + draw(5);
            resource.periods = vec![period(0, cut, units), period(cut, horizon, 2)];
            resource.whole_shift = draw(2) == 0;
        }
        if !plain && draw(3) == 0 {
            resource.gaps = vec![vec![0, 1 + draw(2)], vec![1 + draw(3), 0]];
        }
        workload.resources.push(resource);
    }
    workload
        .calendars
        .push(calendar(&[(0, 3 + draw(4)), (7, 9 + draw(5))]));
    for at in 0..n {
        let crew = u32::try_from(draw(3)).unwrap();
        let machine = u32::try_from(draw(2)).unwrap();
        let mut made = step(draw(5), &[(0, crew), (1, machine)]);
        made.place = usize::try_from(draw(2)).unwrap();
        if !plain {
            made.calendar = (draw(3) > 0).then_some(0);
            made.release = draw(3);
        }
        workload.steps.push(made);
        if at > 0 && draw(3) > 0 {
            let min_lag = draw(3);
            let before = workload.links.last().map_or(at - 1, |link| link.to);
            let max_lag = (!plain && draw(2) == 0).then_some(min_lag + draw(4));
            workload.links.push(link(before, at, min_lag, max_lag));
        }
    }
    workload.spaces = vec![space(n - 1, None), space(0, None)];
    workload
}

/// Bays with chains of steps under nights, shifts with prices and travelling machines.
pub(super) fn made_up(seed: u64) -> Workload {
    let mut rng = Rng::new(seed, Purpose::Search, 8);
    let mut draw = |n: usize| Time::try_from(rng.below(n)).unwrap();
    let nights = 14;
    let day = 100;
    let horizon = nights * day;
    let mut crew = Resource::steady("crew", ResourceKind::Crew, 2, horizon);
    crew.periods = (0..nights)
        .map(|night| Period {
            per_call: 50 + draw(20),
            per_time: 1 + draw(2),
            ..period(night * day + 40, night * day + 90, 2)
        })
        .collect();
    crew.whole_shift = draw(2) == 0;
    let mut machine = Resource::steady("machine", ResourceKind::Machine, 2, horizon);
    machine.gaps = vec![vec![0, 3], vec![2, 0]];
    let mut workload = Workload {
        horizon,
        resources: vec![crew, machine],
        ..Workload::default()
    };
    for floor in 0..2 {
        let windows =
            (0..nights).map(|night| (night * day + 42 + floor, night * day + 80 + draw(10)));
        workload
            .calendars
            .push(calendar(&windows.collect::<Vec<_>>()));
    }
    for bay in 0..2 + usize::try_from(draw(3)).unwrap() {
        let first = workload.steps.len();
        let chain = [
            (6, 1, None),
            (5, 1, None),
            (4, 0, Some(6)),
            (5, 0, Some(4)),
            (6, 12, Some(150)),
        ];
        for (at, (most, wait, longest)) in chain.into_iter().enumerate() {
            let mut made = step(
                1 + draw(most),
                &[(0, 1), (1, u32::try_from(draw(2)).unwrap())],
            );
            made.calendar = Some(bay % 2);
            made.place = bay % 2;
            made.space = Some(bay);
            workload.steps.push(made);
            if at > 0 {
                workload
                    .links
                    .push(link(first + at - 1, first + at, wait, longest));
            }
        }
        let done = workload.steps.len();
        workload.steps.push(Step {
            space: Some(bay),
            ..Step::default()
        });
        workload.links.push(link(done - 1, done, 20, None));
        workload.spaces.push(space(done, None));
    }
    workload
}

/// Whether a schedule keeps everything, looked at slot by slot; ways of travelling units are tried, not taken from it.
pub(super) fn keeps(workload: &Workload, starts: &[Time]) -> bool {
    let end = |at: usize| starts[at] + workload.steps[at].duration;
    let inside = |at: usize, w: &Window| w.from <= starts[at] && end(at) <= w.to;
    let own = |at: usize| {
        let step = &workload.steps[at];
        let shifts = || {
            step.demands.iter().all(|d| {
                let resource = &workload.resources[d.resource];
                let mut periods = resource.periods.iter();
                !resource.whole_shift
                    || periods.any(|p| inside(at, &p.window) && p.units >= d.units)
            })
        };
        let open = |calendar: usize| {
            workload.calendars[calendar]
                .windows
                .iter()
                .any(|w| inside(at, w))
        };
        starts[at] >= step.release
            && end(at) <= workload.horizon
            && (step.duration == 0 || (step.calendar.is_none_or(open) && shifts()))
    };
    let waits = |link: &Link| {
        let wait = starts[link.to] - end(link.from);
        wait >= link.min_lag && link.max_lag.is_none_or(|max| wait <= max)
    };
    let enough = |resource: usize| {
        (0..workload.horizon).all(|slot| {
            let periods = workload.resources[resource].periods.iter();
            let there: u32 = periods
                .filter(|p| p.window.from <= slot && slot < p.window.to)
                .map(|p| p.units)
                .sum();
            let active = (0..starts.len()).filter(|at| starts[*at] <= slot && slot < end(*at));
            let taken = active
                .flat_map(|at| &workload.steps[at].demands)
                .filter(|d| d.resource == resource);
            taken.map(|d| d.units).sum::<u32>() <= there
        })
    };
    (0..starts.len()).all(own)
        && workload.links.iter().all(waits)
        && (0..workload.resources.len()).all(|r| enough(r) && travels(workload, starts, r))
}

/// Whether the units of a resource can make their ways, every assignment tried.
fn travels(workload: &Workload, starts: &[Time], resource: usize) -> bool {
    let gaps = &workload.resources[resource].gaps;
    if gaps.is_empty() {
        return true;
    }
    let n = workload.resources[resource]
        .periods
        .iter()
        .map(|p| p.units)
        .max()
        .unwrap_or(0);
    let mut jobs: Vec<usize> = Vec::new();
    for (at, step) in workload
        .steps
        .iter()
        .enumerate()
        .filter(|(_, step)| step.duration > 0)
    {
        let demand = step.demands.iter().find(|d| d.resource == resource);
        jobs.extend((0..demand.map_or(0, |d| d.units)).map(|_| at));
    }
    jobs.sort_by_key(|at| starts[*at]);
    let mut last = vec![None; n as usize];
    assign(workload, starts, gaps, &jobs, &mut last)
}

fn assign(
    workload: &Workload,
    starts: &[Time],
    gaps: &[Vec<Time>],
    jobs: &[usize],
    last: &mut Vec<Option<usize>>,
) -> bool {
    let Some((job, rest)) = jobs.split_first() else {
        return true;
    };
    (0..last.len()).any(|unit| {
        let before = last[unit];
        let there = before.is_none_or(|other| {
            let (from, to) = (&workload.steps[other], &workload.steps[*job]);
            starts[other] + from.duration + gaps[from.place][to.place] <= starts[*job]
        });
        if !there {
            return false;
        }
        last[unit] = Some(*job);
        let done = assign(workload, starts, gaps, rest, last);
        last[unit] = before;
        done
    })
}

pub(super) fn schedule(starts: &[Time]) -> Schedule {
    Schedule {
        starts: starts.to_vec(),
        units: Vec::new(),
    }
}

/// Why a workload cannot be done.
pub(super) fn reasons(workload: &Workload) -> Vec<Reason> {
    match solved(workload, Objective::EarliestReopening, 20, 1) {
        Err(NoSchedule::Impossible(reasons)) => reasons,
        other => panic!("{other:?}"),
    }
}

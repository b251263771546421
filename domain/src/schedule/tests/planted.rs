//! The verifier finds every kind of mistake that is planted in a sound schedule.

use super::made::{calendar, link, period, schedule, step};
use crate::schedule::{Breach, Resource, ResourceKind, Schedule, Time, Workload, verify};

/// A small workload in which each rule binds somewhere.
fn workload() -> Workload {
    let mut crew = Resource::steady("crew", ResourceKind::Crew, 2, 200);
    crew.periods = vec![period(0, 80, 2), period(80, 200, 3)];
    crew.whole_shift = true;
    let mut machine = Resource::steady("machine", ResourceKind::Machine, 2, 200);
    machine.gaps = vec![vec![0, 5], vec![5, 0]];
    let zone = Resource::steady("zone", ResourceKind::Zone, 1, 150);
    let mut steps = vec![
        step(10, &[(0, 2)]),
        step(10, &[(0, 1), (1, 1)]),
        step(10, &[(0, 1), (1, 1)]),
        step(0, &[]),
        step(20, &[(0, 3)]),
        step(10, &[(2, 1)]),
        step(10, &[(1, 1)]),
    ];
    for night in &mut steps[..3] {
        night.calendar = Some(0);
    }
    steps[0].release = 11;
    steps[2].place = 1;
    Workload {
        horizon: 200,
        calendars: vec![calendar(&[(10, 60), (100, 160)])],
        resources: vec![crew, machine, zone],
        steps,
        links: vec![link(0, 1, 5, Some(20)), link(1, 3, 30, None)],
        spaces: Vec::new(),
    }
}

fn sound() -> Schedule {
    Schedule {
        units: vec![(1, 0, 1), (1, 1, 2), (1, 0, 6)],
        ..schedule(&[12, 27, 27, 67, 80, 0, 37])
    }
}

#[test]
fn a_sound_schedule_has_no_breach() {
    assert_eq!(verify(&workload(), &sound()), Vec::new());
}

type Planted = (&'static str, fn(&mut Schedule), Breach);

fn check(planted: &[Planted]) {
    for (what, plant, breach) in planted {
        let mut schedule = sound();
        plant(&mut schedule);
        let found = verify(&workload(), &schedule);
        assert!(found.contains(breach), "{what}: {found:?}");
    }
}

#[test]
fn planted_faults_of_time_are_found() {
    check(&[
        (
            "a start is missing",
            |s| s.starts.truncate(6),
            Breach::Count,
        ),
        ("a start too many", |s| s.starts.push(3), Breach::Count),
        ("before zero", |s| s.starts[5] = -1, Breach::Early(5)),
        ("before its release", |s| s.starts[0] = 10, Breach::Early(0)),
        (
            "after the horizon",
            |s| s.starts[5] = 191,
            Breach::Beyond(5),
        ),
        (
            "beyond all numbers",
            |s| s.starts[5] = Time::MAX,
            Breach::Beyond(5),
        ),
        ("before its window", |s| s.starts[2] = 9, Breach::Closed(2)),
        ("past its window", |s| s.starts[2] = 51, Breach::Closed(2)),
        (
            "between two windows",
            |s| s.starts[2] = 70,
            Breach::Closed(2),
        ),
        (
            "after all windows",
            |s| s.starts[2] = 170,
            Breach::Closed(2),
        ),
        (
            "across the end of a shift",
            |s| s.starts[4] = 70,
            Breach::Shift {
                step: 4,
                resource: 0,
            },
        ),
        (
            "in a shift of too few",
            |s| s.starts[4] = 40,
            Breach::Shift {
                step: 4,
                resource: 0,
            },
        ),
    ]);
}

#[test]
fn planted_faults_of_waits_and_capacity_are_found() {
    check(&[
        ("too soon", |s| s.starts[1] = 26, Breach::TooSoon(0)),
        (
            "the milestone too soon",
            |s| s.starts[3] = 66,
            Breach::TooSoon(1),
        ),
        ("too late", |s| s.starts[1] = 43, Breach::TooLate(0)),
        (
            "too many of the crew",
            |s| s.starts[2] = 21,
            Breach::Capacity {
                resource: 0,
                at: 21,
            },
        ),
        (
            "where the resource is no more",
            |s| s.starts[5] = 145,
            Breach::Capacity {
                resource: 2,
                at: 150,
            },
        ),
    ]);
}

#[test]
fn planted_faults_of_units_are_found() {
    check(&[
        (
            "no unit for a step",
            |s| s.units.truncate(2),
            Breach::Units {
                step: 6,
                resource: 1,
            },
        ),
        (
            "a unit too many",
            |s| s.units.push((1, 1, 6)),
            Breach::Units {
                step: 6,
                resource: 1,
            },
        ),
        (
            "a unit that does not exist",
            |s| s.units[2].1 = 2,
            Breach::Units {
                step: 6,
                resource: 1,
            },
        ),
        (
            "a unit for no demand",
            |s| s.units.push((1, 0, 5)),
            Breach::Units {
                step: 5,
                resource: 1,
            },
        ),
        (
            "no time for the way",
            |s| s.units[2].1 = 1,
            Breach::Travel {
                step: 6,
                resource: 1,
            },
        ),
        (
            "a unit in two places",
            |s| s.units[1].1 = 0,
            Breach::Travel {
                step: 2,
                resource: 1,
            },
        ),
    ]);
}

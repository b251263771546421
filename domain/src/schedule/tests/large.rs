//! A large building: 150 bays on twelve floors, 1,950 steps, nights of their own for each floor.

use super::super::rng::{Purpose, Rng};
use super::super::{
    Effort, Go, Objective, Resource, ResourceKind, Step, Time, Workload, solve, verify,
};
use super::made::{calendar, demand, link};
use crate::schedule::Space;

const BAYS: usize = 150;
const FLOORS: usize = 12;
/// Slots of five minutes in a day.
const DAY: Time = 288;
const DAYS: Time = 150;

/// Ten operatives, five rotary machines, three scrubbers, five kits for coats. Durations by areas between 60 and 260 m²; the longest
/// waits are those of a stripper that must not dry.
fn building() -> Workload {
    let mut rng = Rng::new(1, Purpose::Search, 9);
    let horizon = DAYS * DAY;
    let mut workload = Workload {
        horizon,
        ..Workload::default()
    };
    for floor in 0..FLOORS {
        // From eight in the evening, eight hours; each floor is left out on one night of five.
        let off = Time::try_from(floor % 5).unwrap();
        let nights = (0..DAYS).filter(|day| (day + off) % 5 != 0);
        let nights: Vec<(Time, Time)> = nights
            .map(|day| (day * DAY + 240, day * DAY + 336))
            .filter(|(_, to)| *to <= horizon)
            .collect();
        workload.calendars.push(calendar(&nights));
    }
    for (name, units) in [
        ("operatives", 10),
        ("rotary", 5),
        ("scrubber", 3),
        ("kit", 5),
    ] {
        let kind = ResourceKind::Zone;
        workload
            .resources
            .push(Resource::steady(name, kind, units, horizon));
    }
    for bay in 0..BAYS {
        chain(&mut workload, bay, &mut rng);
    }
    workload
}

/// How long a step takes, its least and longest wait behind the one before, and what it needs.
type Piece = (Time, Time, Option<Time>, &'static [(usize, u32)]);

/// Thirteen steps of one bay: clear, prepare, strip in one go, five coats, furniture.
fn chain(workload: &mut Workload, bay: usize, rng: &mut Rng) {
    let area = Time::try_from(60 + rng.below(200)).unwrap();
    let work = |m2_per_h: Time| (area * 12 / m2_per_h).max(1);
    let steps: [Piece; 13] = [
        (work(240), 0, None, &[(0, 2)]),
        (work(350), 0, None, &[(0, 1)]),
        (work(180), 0, Some(24), &[(0, 1), (3, 1)]),
        (work(180), 2, Some(4), &[(0, 2), (1, 1)]),
        (work(160), 0, Some(2), &[(0, 1), (2, 1)]),
        (work(220), 1, Some(6), &[(0, 1), (2, 1)]),
        (work(220), 1, Some(6), &[(0, 1), (2, 1)]),
        (work(200), 15, None, &[(0, 1), (3, 1)]),
        (work(200), 9, Some(576), &[(0, 1), (3, 1)]),
        (work(200), 9, Some(576), &[(0, 1), (3, 1)]),
        (work(200), 9, Some(576), &[(0, 1), (3, 1)]),
        (work(200), 9, Some(576), &[(0, 1), (3, 1)]),
        (work(300), 96, None, &[(0, 2)]),
    ];
    let first = workload.steps.len();
    for (at, (duration, least, most, needs)) in steps.into_iter().enumerate() {
        workload.steps.push(Step {
            duration,
            calendar: Some(bay % FLOORS),
            demands: needs
                .iter()
                .map(|(of, units)| demand(*of, *units))
                .collect(),
            space: Some(bay),
            ..Step::default()
        });
        if at > 0 {
            let to = first + at;
            workload.links.push(link(to - 1, to, least, most));
        }
    }
    workload.spaces.push(Space {
        opens_after: vec![workload.steps.len() - 1],
        weight: 1,
        ..Space::default()
    });
}

#[test]
fn of_1950_steps_the_first_schedule_comes_within_25_and_the_budget_makes_it_better() {
    // The scheme of a job of this size, and the number, are those that the engine was built for; both are our own.
    let workload = building();
    assert_eq!(workload.steps.len(), 1_950);
    let mut first = None;
    let effort = Effort {
        schedules: 40,
        seed: 1,
    };
    let objective = Objective::EarliestReopening;
    let answer = solve(&workload, objective, effort, &mut |progress| {
        if let (Some(_), None) = (progress.best, first) {
            first = Some((progress.schedules, progress.last_reopening.unwrap()));
        }
        Go::On
    });
    let answer = answer.unwrap();
    let (tried, found) = first.unwrap();
    assert!(tried <= 25, "{tried}");
    let best = &answer.choices[0];
    assert!(best.measures.last_reopening < found, "{found}");
    assert!(answer.bounds.0.last_reopening <= best.measures.last_reopening);
    assert_eq!(verify(&workload, &best.schedule), []);
}

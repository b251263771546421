//! Whatever numbers a workload holds, it is refused or scheduled.

use proptest::prelude::*;

use super::made::{made_up, solved};
use crate::schedule::{Draws, Schedule};
use crate::schedule::{MAX_PRICE, NoSchedule, Objective, Spread, Time, Workload, prospect, verify};

fn number() -> impl Strategy<Value = Time> {
    prop_oneof![
        Just(0),
        Just(1),
        Just(-1),
        Just(Time::MAX),
        Just(Time::MIN),
        Just(200_000),
        -5..300_i64,
    ]
}

/// Puts numbers where they need not belong.
fn spoil(workload: &mut Workload, what: u8, at: usize, number: Time) {
    let index = usize::try_from(number).unwrap_or(usize::MAX);
    let (steps, links) = (workload.steps.len(), workload.links.len());
    let step = &mut workload.steps[at % steps];
    let link = &mut workload.links[at % links];
    match what {
        0 => step.duration = number,
        1 => step.release = number,
        2 => step.calendar = Some(index),
        3 => step.place = index,
        4 => {
            step.spread = Some(Spread {
                p50: number,
                p80: 50,
            });
        }
        5 => link.min_lag = number,
        6 => link.max_lag = Some(number),
        7 => link.from = index % (steps + 1),
        8 => link.to = index % (steps + 1),
        9 => workload.horizon = number.min(5_000),
        10 => workload.spaces[0].deadline = Some(number),
        11 => workload.spaces[0].weight = number,
        12 => {
            workload.resources[at % 2].periods[0].units = u32::try_from(index % 5_000).unwrap_or(0);
        }
        13 => workload.resources[at % 2].periods[0].per_call = number,
        14 => workload.resources[1].gaps[0][1] = number,
        15 => step
            .demands
            .iter_mut()
            .for_each(|d| d.units = u32::try_from(index % 70_000).unwrap_or(0)),
        _ => workload.calendars[at % 2].windows[0].to = number,
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    #[test]
    fn no_number_makes_the_engine_fall(
        seed in 0..1_000_u64,
        spoilt in prop::collection::vec((0..17_u8, 0..50_usize, number()), 1..4),
    ) {
        let mut workload = made_up(seed);
        for (what, at, number) in spoilt {
            spoil(&mut workload, what, at, number);
        }
        match solved(&workload, Objective::LeastCost, 10, seed) {
            Ok(answer) => {
                for choice in &answer.choices {
                    prop_assert_eq!(verify(&workload, &choice.schedule), vec![]);
                    let draws = Draws { count: 3, seed, shared: 0.3 };
                    prop_assert!(prospect(&workload, &choice.schedule, &draws).is_ok());
                }
            }
            Err(NoSchedule::Unsound(breaches)) => prop_assert!(false, "{breaches:?}"),
            Err(NoSchedule::Faulty(faults)) => prop_assert!(!faults.is_empty()),
            Err(NoSchedule::Impossible(reasons)) => prop_assert!(!reasons.is_empty()),
            Err(NoSchedule::NotFound { .. }) => {}
        }
    }
}

#[test]
fn the_highest_prices_do_not_overflow() {
    let mut workload = made_up(1);
    for period in workload.resources.iter_mut().flat_map(|r| &mut r.periods) {
        (period.per_call, period.per_time) = (MAX_PRICE, MAX_PRICE);
    }
    let answer = solved(&workload, Objective::LeastCost, 30, 1).unwrap();
    assert!(answer.choices[0].measures.cost > MAX_PRICE);
    let draws = Draws {
        count: 2,
        seed: 1,
        shared: 0.3,
    };
    let other = prospect(&workload, &Schedule::default(), &draws).unwrap();
    assert_eq!(other.failed, 2, "a schedule of another workload");
}

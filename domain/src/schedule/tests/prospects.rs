//! Probabilities of opening against laws that are known.

use super::made::{link, made_up, solved, space, step};
use crate::schedule::{Draws, Objective, Resource, ResourceKind, Spread, Workload, prospect};

/// Steps one after another with this median and 80 % quantile.
fn chain(n: usize, p50: i64, p80: i64) -> Workload {
    let horizon = 60_000;
    let mut steps = vec![step(p50, &[(0, 1)]); n];
    for step in &mut steps {
        step.spread = Some(Spread { p50, p80 });
    }
    Workload {
        horizon,
        resources: vec![Resource::steady("crew", ResourceKind::Crew, 1, horizon)],
        steps,
        links: (1..n).map(|at| link(at - 1, at, 0, None)).collect(),
        spaces: vec![space(n - 1, None)],
        ..Workload::default()
    }
}

#[test]
fn the_quantiles_of_one_step_are_those_it_was_given() {
    let mut workload = chain(1, 1_000, 1_287);
    workload.spaces[0].deadline = Some(1_287);
    let answer = solved(&workload, Objective::EarliestReopening, 10, 1).unwrap();
    let draws = Draws {
        count: 4_096,
        seed: 5,
        shared: 0.3,
    };
    let found = prospect(&workload, &answer.choices[0].schedule, &draws).unwrap();
    let opening = found.openings[0];
    // Four standard errors of a share of 0.8 in 4,096 draws.
    let share = opening.by_deadline.unwrap();
    assert!(
        (share - 0.8).abs() < 4.0 * (0.16_f64 / 4_096.0).sqrt(),
        "{share}"
    );
    assert!((opening.p50.unwrap() - 1_000).abs() < 25, "{opening:?}");
    assert_eq!(found.failed, 0);
    assert!((found.criticality[0] - 1.0).abs() < 1e-9);
    assert_eq!(
        found,
        prospect(&workload, &answer.choices[0].schedule, &draws).unwrap()
    );
}

#[test]
fn ten_equal_steps_agree_with_the_simulation_of_another_program() {
    // Sum of ten lognormals of median 10 and log deviation 0.3, here in hundredths: numpy 2.4.6, 4 million draws, P50, P80
    // and P90 with and without a common part of 0.5. 0.3 is read from P80 = 10 exp(0.8416 x 0.3) = 12.872.
    let workload = chain(10, 1_000, 1_287);
    let answer = solved(&workload, Objective::EarliestReopening, 10, 1).unwrap();
    for (shared, expected) in [
        (0.0, [10_409.76, 11_294.46, 11_786.73]),
        (0.5, [10_204.01, 12_304.70, 13_569.17]),
    ] {
        let draws = Draws {
            count: 4_096,
            seed: 2,
            shared,
        };
        let found = prospect(&workload, &answer.choices[0].schedule, &draws).unwrap();
        let opening = found.openings[0];
        let sd = if shared > 0.0 { 2_358.6 } else { 1_015.1 };
        for (made, expected) in [opening.p50, opening.p80, opening.p90]
            .into_iter()
            .zip(expected)
        {
            // Quantiles of 4,096 draws have a standard error of at most 2.8 % of the deviation up to P90.
            let made = f64::from(i32::try_from(made.unwrap()).unwrap());
            assert!(
                (made - expected).abs() < 4.0 * 0.028 * sd,
                "{made} for {expected}"
            );
        }
    }
}

#[test]
fn without_spread_nothing_opens_later_than_planned() {
    for seed in 0..10 {
        let mut workload = made_up(seed);
        let answer = solved(&workload, Objective::EarliestReopening, 40, seed).unwrap();
        let choice = &answer.choices[0];
        for space in &mut workload.spaces {
            space.deadline = Some(choice.measures.last_reopening);
        }
        let draws = Draws {
            count: 3,
            seed,
            shared: 0.3,
        };
        let found = prospect(&workload, &choice.schedule, &draws).unwrap();
        for opening in &found.openings {
            assert_eq!(opening.p50, opening.p90, "seed {seed}");
        }
        assert!(found.failed == 0 || found.failed == 3, "seed {seed}");
    }
}

#[test]
fn a_later_deadline_is_kept_no_less_often() {
    let mut workload = chain(3, 100, 130);
    let answer = solved(&workload, Objective::EarliestReopening, 10, 1).unwrap();
    let draws = Draws {
        count: 500,
        seed: 9,
        shared: 0.3,
    };
    let mut before = 0.0;
    for deadline in (200..600).step_by(50) {
        workload.spaces[0].deadline = Some(deadline);
        let found = prospect(&workload, &answer.choices[0].schedule, &draws).unwrap();
        let share = found.openings[0].by_deadline.unwrap();
        assert!(share >= before);
        before = share;
    }
    assert!(before > 0.95);
}

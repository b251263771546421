//! Small workloads against the trial of every schedule.

use super::made::{keeps, solved, tiny};
use crate::schedule::{NoSchedule, Objective, Time, Workload, measures, verify};

/// The least last end of all schedules, found by trying each step at each time.
fn best_of_all(workload: &Workload, latest: Time) -> Option<Time> {
    let n = workload.steps.len();
    let mut starts = vec![0; n];
    let mut best = None;
    loop {
        let ends = (0..n).map(|at| starts[at] + workload.steps[at].duration);
        let last = ends.max().unwrap_or(0);
        if best.is_none_or(|best| last < best) && keeps(workload, &starts) {
            best = Some(last);
        }
        let Some(at) = (0..n).find(|at| starts[*at] < latest) else {
            return best;
        };
        starts[..at].fill(0);
        starts[at] += 1;
    }
}

#[test]
fn plain_workloads_are_solved_to_the_optimum_of_all_schedules() {
    for seed in 0..60 {
        let workload = tiny(seed, true);
        let solved = solved(&workload, Objective::EarliestReopening, 300, seed);
        let best = best_of_all(&workload, 14);
        match solved {
            Ok(answer) => {
                assert_eq!(
                    Some(answer.choices[0].measures.last_reopening),
                    best,
                    "seed {seed}"
                );
                assert!(Some(answer.bounds.0.last_reopening) <= best, "seed {seed}");
            }
            Err(NoSchedule::Impossible(_)) => assert_eq!(best, None, "seed {seed}"),
            Err(other) => panic!("seed {seed}: {other:?}"),
        }
    }
}

#[test]
fn under_windows_no_bound_or_proof_is_refuted_by_the_trial_of_all_schedules() {
    let (mut solvable, mut optimal, mut impossible) = (0, 0, 0);
    for seed in 0..150 {
        let workload = tiny(seed, false);
        let best = best_of_all(&workload, workload.horizon);
        match solved(&workload, Objective::EarliestReopening, 200, seed) {
            Ok(answer) => {
                let found = &answer.choices[0];
                let best = best.expect("a verified schedule where none is");
                assert!(keeps(&workload, &found.schedule.starts), "seed {seed}");
                assert!(answer.bounds.0.last_reopening <= best, "seed {seed}");
                assert!(best <= found.measures.last_reopening, "seed {seed}");
                solvable += 1;
                optimal += usize::from(best == found.measures.last_reopening);
            }
            Err(NoSchedule::Impossible(_)) => {
                assert_eq!(best, None, "seed {seed}: not impossible at all");
                impossible += 1;
            }
            Err(NoSchedule::NotFound { .. }) => {}
            Err(other) => panic!("seed {seed}: {other:?}"),
        }
    }
    assert!(solvable >= 50 && impossible >= 5, "{solvable} {impossible}");
    // List schedules with longest waits need not hold the optimum, but they mostly do.
    assert!(optimal * 20 >= solvable * 19, "{optimal} of {solvable}");
}

#[test]
fn the_verifier_agrees_with_a_look_at_every_slot() {
    let (mut sound, mut unsound) = (0, 0);
    for seed in 0..40 {
        let mut workload = tiny(seed, false);
        // Who goes where is part of a schedule; here only times are compared.
        workload.resources.iter_mut().for_each(|r| r.gaps.clear());
        let n = workload.steps.len();
        let mut starts = vec![0; n];
        while let Some(at) = (0..n).find(|at| starts[*at] + 2 <= workload.horizon) {
            starts[..at].fill(0);
            starts[at] += 2;
            let accepted = verify(&workload, &super::made::schedule(&starts)).is_empty();
            assert_eq!(
                accepted,
                keeps(&workload, &starts),
                "seed {seed}: {starts:?}"
            );
            if accepted {
                assert!(measures(&workload, &starts).last_reopening <= workload.horizon);
                sound += 1;
            } else {
                unsound += 1;
            }
        }
    }
    assert!(sound > 100 && unsound > 100, "{sound} {unsound}");
}

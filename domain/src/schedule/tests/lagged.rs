//! Waits of any sign between any steps: small workloads against the trial of every schedule, and worked examples.

use proptest::prelude::*;

use super::made::{demand, keeps, link, reasons, schedule, solved, space, step};
use crate::schedule::rng::{Purpose, Rng};
use crate::schedule::{
    Breach, Effort, Go, MAX_LAGGED, NoSchedule, Objective, Obstacle, Place, Reason, Remedy,
    Resource, ResourceKind, StoppedBy, Time, Workload, Wrong, critical_chain, measures, solve,
    verify,
};

fn house(horizon: Time, units: &[u32]) -> Workload {
    let resource = |units: &u32| Resource::steady("zone", ResourceKind::Zone, *units, horizon);
    Workload {
        horizon,
        resources: units.iter().map(resource).collect(),
        ..Workload::default()
    }
}

/// Steps with waits to and fro, about half of which can be kept.
fn tangled(seed: u64, n: usize, horizon: Time) -> Workload {
    let mut rng = Rng::new(seed, Purpose::Search, 9);
    let mut draw = |n: usize| Time::try_from(rng.below(n)).unwrap();
    let mut workload = house(horizon, &[2, 3]);
    for _ in 0..n {
        let mut made = step(draw(4), &[]);
        for (resource, most) in [(0, 3), (1, 4)] {
            let units = u32::try_from(draw(most)).unwrap();
            made.demands.push(demand(resource, units));
        }
        made.release = draw(8) / 7 * 2;
        workload.steps.push(made);
    }
    for _ in 0..n + n / 2 {
        let (from, to) = (rng.below(n), rng.below(n));
        let mut draw = |n: usize| Time::try_from(rng.below(n)).unwrap();
        if from == to {
            continue;
        }
        // Those against the order of the steps are loose, so that not all circles are positive.
        let min_lag = if from < to { draw(5) - 2 } else { -4 - draw(6) };
        let max_lag =
            (draw(2) == 0).then_some(min_lag + 1 + draw(4) + if from < to { 0 } else { 8 });
        workload.links.push(link(from, to, min_lag, max_lag));
    }
    workload.spaces = vec![space(n - 1, None), space(0, None)];
    workload
}

/// The least last end of all schedules: each step at each time, given up where a wait to an earlier one is broken.
fn best_of_all(workload: &Workload, starts: &mut Vec<Time>, best: &mut Option<Time>) {
    let at = starts.len();
    if at == workload.steps.len() {
        let ends = starts.iter().zip(&workload.steps);
        let last = ends.map(|(start, step)| start + step.duration).max();
        if best.is_none_or(|best| last < Some(best)) && keeps(workload, starts) {
            *best = last;
        }
        return;
    }
    for start in 0..=workload.horizon - workload.steps[at].duration {
        starts.push(start);
        let broken = workload.links.iter().any(|link| {
            let (Some(from), Some(to)) = (starts.get(link.from), starts.get(link.to)) else {
                return false;
            };
            let wait = to - from - workload.steps[link.from].duration;
            wait < link.min_lag || link.max_lag.is_some_and(|max| wait > max)
        });
        if !broken {
            best_of_all(workload, starts, best);
        }
        starts.pop();
    }
}

#[test]
fn what_is_found_and_what_is_proven_agrees_with_the_trial_of_all_schedules() {
    let (mut solvable, mut proven, mut open) = (0, 0, 0);
    for seed in 0..1_000 {
        let workload = tangled(seed, 3 + usize::try_from(seed % 3).unwrap(), 11);
        let mut best = None;
        best_of_all(&workload, &mut Vec::new(), &mut best);
        match solved(&workload, Objective::EarliestReopening, 200, seed) {
            Ok(answer) => {
                let made = answer.choices[0].measures.last_reopening;
                assert_eq!(Some(made), best, "seed {seed}");
                assert!(answer.bounds.0.last_reopening <= made, "seed {seed}");
                solvable += 1;
            }
            Err(NoSchedule::Impossible(reasons)) => {
                assert_eq!(best, None, "seed {seed}: {reasons:?}");
                proven += 1;
            }
            Err(NoSchedule::NotFound { .. }) => {
                assert_eq!(best, None, "seed {seed}: there is one");
                open += 1;
            }
            Err(other) => panic!("seed {seed}: {other:?}"),
        }
    }
    assert!(solvable > 300 && proven > 100, "{solvable} {proven} {open}");
    assert!(open * 20 < proven, "{solvable} {proven} {open}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn every_schedule_keeps_all_waits_and_the_same_input_gives_the_same(
        seed in 0..100_000_u64,
        n in 4..16_usize,
        goal in 0..4_usize,
    ) {
        let workload = tangled(seed, n, 60);
        let objective = Objective::ALL[goal];
        let answer = solved(&workload, objective, 60, seed);
        prop_assert_eq!(&answer, &solved(&workload, objective, 60, seed));
        match answer {
            Ok(answer) => for choice in &answer.choices {
                let starts = &choice.schedule.starts;
                prop_assert!(keeps(&workload, starts));
                prop_assert_eq!(choice.measures, measures(&workload, starts));
                prop_assert_eq!(&choice.critical, &critical_chain(&workload, &choice.schedule, None));
                for figure in Objective::ALL {
                    prop_assert!(answer.bounds.0.of(figure) <= choice.measures.of(figure));
                }
            },
            Err(NoSchedule::Impossible(reasons)) => prop_assert!(!reasons.is_empty()),
            Err(NoSchedule::NotFound { schedules }) => prop_assert!(schedules >= 60),
            Err(other) => prop_assert!(false, "{:?}", other),
        }
    }

    #[test]
    fn a_wait_may_be_told_from_either_end(seed in 0..100_000_u64) {
        let workload = tangled(seed, 6, 30);
        let mut turned = workload.clone();
        turned.links.clear();
        for told in &workload.links {
            turned.links.push(link(told.from, told.to, told.min_lag, None));
            // That it starts at most so long after the end of the other: the other starts no earlier than that before it.
            let both = workload.steps[told.from].duration + workload.steps[told.to].duration;
            let back = |max: Time| link(told.to, told.from, -max - both, None);
            turned.links.extend(told.max_lag.map(back));
        }
        let solved = |workload| match solved(workload, Objective::EarliestReopening, 400, seed) {
            Ok(answer) => Ok(answer.choices[0].measures.last_reopening),
            Err(NoSchedule::Impossible(_) | NoSchedule::NotFound { .. }) => Err(()),
            Err(other) => panic!("{other:?}"),
        };
        prop_assert_eq!(solved(&workload), solved(&turned));
    }
}

#[test]
fn waits_that_contradict_each_other_are_told_with_what_would_do() {
    let mut workload = house(200, &[1]);
    workload.steps = vec![step(10, &[]), step(5, &[]), step(10, &[]), step(1, &[])];
    // From the end of 0 to the start of 2 pass 20 + 5 + 10 at least, 30 at most.
    workload.links = vec![
        link(3, 0, 0, None),
        link(0, 1, 20, None),
        link(1, 2, 10, None),
        link(0, 2, 0, Some(30)),
    ];
    let found = reasons(&workload);
    let Obstacle::Circle { steps, short_by } = &found[0].obstacle else {
        panic!("{found:?}");
    };
    let mut steps = steps.clone();
    let first = steps.iter().position(|step| *step == 0).unwrap();
    steps.rotate_left(first);
    assert_eq!((steps, *short_by), (vec![0, 1, 2], 5));
    let wait = |max_lag| Remedy::LongestWait { link: 3, max_lag };
    assert_eq!(found[0].remedies, vec![wait(35)]);
    workload.links[3].max_lag = Some(35);
    let answer = solved(&workload, Objective::EarliestReopening, 50, 1).unwrap();
    assert_eq!(answer.choices[0].schedule.starts, vec![1, 31, 46, 0]);
    assert_eq!(answer.stopped_by, StoppedBy::Optimum);
}

#[test]
fn steps_that_cannot_be_done_at_once_within_their_waits_are_told() {
    let mut workload = house(100, &[1]);
    workload.steps = vec![step(10, &[(0, 1)]), step(12, &[(0, 1)])];
    // They start within 9 of each other, whichever is first.
    workload.links = vec![link(0, 1, -19, Some(-1))];
    let steps = vec![0, 1];
    assert_eq!(
        reasons(&workload),
        vec![Reason {
            obstacle: Obstacle::Crowded { steps },
            remedies: Vec::new()
        }]
    );
    workload.links[0].max_lag = Some(0);
    let answer = solved(&workload, Objective::EarliestReopening, 50, 1).unwrap();
    assert_eq!(answer.choices[0].schedule.starts, vec![0, 10]);
}

#[test]
fn a_chain_beyond_the_horizon_is_told() {
    let mut workload = house(30, &[1]);
    workload.steps = vec![step(10, &[]), step(10, &[]), step(10, &[])];
    // The first waits for the second by a longest wait that is negative: 1 starts at least 5 before 0 ends.
    workload.links = vec![link(0, 1, -20, Some(-15)), link(0, 2, 11, None)];
    let found = reasons(&workload);
    let chain = vec![1, 0, 2];
    let short_by = 6;
    let obstacle = Obstacle::Horizon { chain, short_by };
    assert_eq!(found[0].obstacle, obstacle);
    assert_eq!(found[0].remedies, vec![Remedy::Until(36)]);
}

#[test]
fn a_later_step_pulls_back_the_one_before_it() {
    // The machine is busy with 2 until 20, so that 0, which 1 must follow within 3, waits although nothing is in its way.
    let mut workload = house(100, &[1]);
    workload.steps = vec![step(5, &[]), step(4, &[(0, 1)]), step(20, &[(0, 1)])];
    workload.links = vec![
        link(0, 1, 0, Some(3)),
        link(2, 0, -20, Some(0)),
        link(2, 1, -8, None),
    ];
    let answer = solved(&workload, Objective::EarliestReopening, 50, 1).unwrap();
    let starts = &answer.choices[0].schedule.starts;
    assert_eq!(starts, &vec![12, 20, 0]);
    assert_eq!(answer.choices[0].measures.last_reopening, 24);
    let mut late = schedule(starts);
    late.starts[1] += 1;
    assert_eq!(verify(&workload, &late), vec![Breach::TooLate(0)]);
    late.starts = vec![12, 11, 0];
    let told = [Breach::TooSoon(0), Breach::TooSoon(2)];
    assert_eq!(verify(&workload, &late)[..2], told);
}

#[test]
fn waits_of_any_form_need_a_house_without_windows_and_few_steps() {
    let range = (Place::Link(0), Wrong::Range);
    let faults = |workload: &Workload| match solved(workload, Objective::LeastCost, 1, 1) {
        Err(NoSchedule::Faulty(faults)) => faults.into_iter().map(|f| (f.place, f.wrong)).collect(),
        _ => Vec::new(),
    };
    let mut workload = house(100, &[1]);
    workload.steps = vec![step(2, &[]), step(2, &[])];
    workload.links = vec![link(0, 1, -1, None)];
    assert_eq!(faults(&workload), vec![]);
    let steady = workload.clone();
    workload.resources[0].periods[0].window.to = 90;
    assert_eq!(faults(&workload), vec![range]);
    workload = steady;
    workload.links[0].min_lag = -200_001;
    assert_eq!(faults(&workload), vec![range]);
    workload.links[0].min_lag = -1;
    workload.steps = vec![step(0, &[]); MAX_LAGGED + 1];
    assert_eq!(faults(&workload), vec![range]);
}

#[test]
fn who_watches_ends_the_search() {
    let workload = (0..100)
        .map(|seed| tangled(seed, 14, 60))
        .find(|workload| {
            let answer = solved(workload, Objective::EarliestReopening, 300, 1);
            answer.is_ok_and(|answer| answer.stopped_by == StoppedBy::Budget)
        })
        .unwrap();
    for (go, stopped_by) in [
        (Go::Cancel, StoppedBy::Cancelled),
        (Go::Deadline, StoppedBy::Deadline),
    ] {
        let effort = Effort {
            schedules: 1_000_000,
            seed: 1,
        };
        let mut seen = 0;
        let answer = solve(
            &workload,
            Objective::EarliestReopening,
            effort,
            &mut |now| {
                seen += 1;
                if now.best.is_some() { go } else { Go::On }
            },
        );
        assert_eq!(answer.unwrap().stopped_by, stopped_by);
        assert!((1..100).contains(&seen));
    }
}

//! Laws of the answers on made-up workloads.

use proptest::prelude::*;

use super::made::{keeps, made_up, period, solved, tiny};
use crate::schedule::{
    Because, Demand, Effort, Go, MAX_TRAVELLING, NoSchedule, Objective, Period, Place, Resource,
    ResourceKind, Step, StoppedBy, Wrong, critical_chain, measures, reopenings, solve, verify,
};

fn objective() -> impl Strategy<Value = Objective> {
    (0..4_usize).prop_map(|at| Objective::ALL[at])
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn the_same_input_gives_the_same_answer(seed in 0..10_000_u64, objective in objective()) {
        let workload = made_up(seed);
        let once = solved(&workload, objective, 60, seed).unwrap();
        prop_assert_eq!(once, solved(&workload, objective, 60, seed).unwrap());
    }

    #[test]
    fn every_choice_is_sound_bounded_and_beaten_by_no_other(seed in 0..10_000_u64, objective in objective()) {
        let workload = made_up(seed);
        let answer = solved(&workload, objective, 80, seed).unwrap();
        prop_assert!((1..=3).contains(&answer.choices.len()));
        prop_assert!(answer.choices[0].best_for.contains(&objective));
        for choice in &answer.choices {
            prop_assert_eq!(verify(&workload, &choice.schedule), vec![]);
            prop_assert!(keeps(&workload, &choice.schedule.starts));
            prop_assert_eq!(choice.measures, measures(&workload, &choice.schedule.starts));
            for figure in Objective::ALL {
                let (value, bound) = (choice.measures.of(figure), answer.bounds.0.of(figure));
                prop_assert!(bound <= value, "{:?}: {} above {}", figure, bound, value);
                let above = answer.at_most_above(choice, figure);
                prop_assert!(above.is_none_or(|above| value * 1_000 <= bound * (1_000 + above)));
            }
            for other in answer.choices.iter().filter(|other| *other != choice) {
                let no_worse = |o: &Objective| other.measures.of(*o) <= choice.measures.of(*o);
                prop_assert!(!Objective::ALL.iter().all(no_worse));
            }
        }
    }

    #[test]
    fn more_capacity_or_time_breaks_no_schedule_and_raises_no_bound(seed in 0..10_000_u64) {
        let workload = made_up(seed);
        let answer = solved(&workload, Objective::EarliestReopening, 40, seed).unwrap();
        let schedule = &answer.choices[0].schedule;
        let mut more = workload.clone();
        more.horizon += 100;
        for resource in &mut more.resources {
            resource.periods.iter_mut().for_each(|period| period.units += 1);
        }
        for window in more.calendars.iter_mut().flat_map(|calendar| &mut calendar.windows) {
            window.to += 3;
        }
        prop_assert_eq!(verify(&more, schedule), vec![]);
        let eased = solved(&more, Objective::EarliestReopening, 1, seed).unwrap();
        prop_assert!(eased.bounds.0.last_reopening <= answer.bounds.0.last_reopening);
    }

    #[test]
    fn the_critical_chain_leads_to_the_last_end_without_a_gap(seed in 0..10_000_u64) {
        let workload = made_up(seed);
        let answer = solved(&workload, Objective::EarliestReopening, 40, seed).unwrap();
        let choice = &answer.choices[0];
        let starts = &choice.schedule.starts;
        let end = |at: usize| starts[at] + workload.steps[at].duration;
        let chain = &choice.critical;
        prop_assert_eq!(chain, &critical_chain(&workload, &choice.schedule, None));
        prop_assert_eq!(end(chain.last().unwrap().step), choice.measures.last_reopening);
        for pair in chain.windows(2) {
            prop_assert!(end(pair[0].step) <= starts[pair[1].step]);
            if let Because::Link(link) = pair[1].because {
                prop_assert_eq!(workload.links[link].from, pair[0].step);
                prop_assert_eq!(end(pair[0].step) + workload.links[link].min_lag, starts[pair[1].step]);
            }
        }
    }
}

#[test]
fn the_call_that_is_not_needed_is_saved() {
    // Two short jobs; two crews at work at once open earlier, one after the other needs a single call.
    let horizon = 100;
    let mut workload = tiny(1, true);
    let mut crew = Resource::steady("crew", ResourceKind::Crew, 2, horizon);
    crew.periods = vec![Period {
        per_call: 90,
        per_time: 1,
        ..period(0, horizon, 2)
    }];
    workload.horizon = horizon;
    workload.resources = vec![crew];
    let job = Step {
        duration: 10,
        demands: vec![Demand {
            resource: 0,
            units: 1,
        }],
        ..Step::default()
    };
    workload.steps = vec![job.clone(), job];
    workload.links.clear();
    workload.spaces = vec![super::made::space(0, None), super::made::space(1, None)];
    let answer = solved(&workload, Objective::EarliestReopening, 100, 1).unwrap();
    let figures: Vec<_> = answer.choices.iter().map(|c| c.measures).collect();
    let fast = figures[0];
    assert_eq!(
        (fast.last_reopening, fast.crew_shifts, fast.cost),
        (10, 2, 200)
    );
    let thrifty = figures[1];
    assert_eq!(
        (thrifty.last_reopening, thrifty.crew_shifts, thrifty.cost),
        (20, 1, 110)
    );
    assert_eq!(
        (answer.bounds.0.crew_shifts, answer.bounds.0.cost),
        (1, 110)
    );
    assert_eq!(
        reopenings(&workload, &answer.choices[0].schedule),
        vec![10, 10]
    );
    let least = solved(&workload, Objective::FewestShifts, 100, 1).unwrap();
    assert_eq!(least.choices[0].measures, thrifty);
}

#[test]
fn a_search_that_is_stopped_says_so_and_returns_its_best() {
    let workload = made_up(3);
    for (go, stopped_by) in [
        (Go::Cancel, StoppedBy::Cancelled),
        (Go::Deadline, StoppedBy::Deadline),
    ] {
        let mut told = 0;
        let effort = Effort {
            schedules: 1_000_000,
            seed: 1,
        };
        let answer = solve(&workload, Objective::LeastCost, effort, &mut |progress| {
            assert!(progress.best.is_some_and(|best| keeps(&workload, best)));
            told += 1;
            if told == 3 { go } else { Go::On }
        });
        let answer = answer.unwrap();
        assert_eq!(answer.stopped_by, stopped_by);
        assert_eq!(told, 3, "asked again after the end");
        assert!(answer.schedules < 1_000);
        assert_eq!(verify(&workload, &answer.choices[0].schedule), vec![]);
    }
}

#[test]
fn all_faults_of_a_workload_are_listed_with_their_places() {
    let mut workload = made_up(1);
    let last = workload.steps.len();
    workload.horizon += 1;
    workload.calendars[0].windows.swap(0, 1);
    workload.resources[0].periods[2].per_call = -1;
    workload.resources[1].periods[0].units = MAX_TRAVELLING + 1;
    workload.resources[1].gaps[0][0] = 4;
    workload.steps[0].duration = -1;
    workload.steps[1].calendar = Some(9);
    workload.steps[2].demands.push(Demand {
        resource: 77,
        units: 1,
    });
    workload.steps[3].demands.push(Demand {
        resource: 0,
        units: 1,
    });
    workload.steps[4].place = 2;
    workload.links[0].to = last;
    workload.links[1].min_lag = 7;
    workload.links[1].max_lag = Some(6);
    workload.links[2].from = workload.links[2].to;
    workload.spaces[0].opens_after.clear();
    let Err(NoSchedule::Faulty(faults)) = solved(&workload, Objective::LeastCost, 1, 1) else {
        panic!("taken");
    };
    for (place, wrong) in [
        (Place::Calendar(0), Wrong::Windows),
        (Place::Resource(0), Wrong::Range),
        (Place::Resource(1), Wrong::Range),
        (Place::Resource(1), Wrong::Gaps),
        (Place::Step(0), Wrong::Range),
        (Place::Step(1), Wrong::Unknown),
        (Place::Step(2), Wrong::Unknown),
        (Place::Step(3), Wrong::Twice),
        (Place::Step(4), Wrong::Gaps),
        (Place::Link(0), Wrong::Unknown),
        (Place::Link(1), Wrong::Lags),
        (Place::Link(2), Wrong::Itself),
        (Place::Space(0), Wrong::Count),
    ] {
        let listed = faults
            .iter()
            .any(|fault| fault.place == place && fault.wrong == wrong);
        assert!(listed, "{place:?} {wrong:?} is not among {faults:?}");
    }
}

#[test]
fn steps_that_wait_for_each_other_are_named() {
    let mut workload = tiny(2, true);
    workload.links = vec![
        super::made::link(0, 1, 0, None),
        super::made::link(1, 0, 0, None),
    ];
    let Err(NoSchedule::Faulty(faults)) = solved(&workload, Objective::LeastCost, 1, 1) else {
        panic!("taken");
    };
    let named: Vec<_> = faults
        .iter()
        .map(|fault| (fault.place, fault.wrong))
        .collect();
    assert_eq!(
        named,
        [
            (Place::Step(0), Wrong::Circle),
            (Place::Step(1), Wrong::Circle)
        ]
    );
}

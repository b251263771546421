//! What cannot be done is told with its reason, what is missing and what would make it fit.

use super::made::{calendar, link, period, reasons, solved, space, step};
use crate::schedule::{
    Objective, Obstacle, Reason, Remedy, Resource, ResourceKind, Window, Workload,
};

/// Strip, pick up and rinse in one go, 30 + 40 + 20 with waits of 5; nights of 100 and one of 120.
fn strip() -> Workload {
    let mut steps = vec![
        step(30, &[(0, 1)]),
        step(40, &[(0, 1)]),
        step(20, &[(0, 1)]),
    ];
    for step in &mut steps {
        step.calendar = Some(0);
    }
    Workload {
        horizon: 1_000,
        calendars: vec![calendar(&[(0, 100), (300, 420), (600, 700)])],
        resources: vec![Resource::steady("crew", ResourceKind::Crew, 2, 1_000)],
        steps,
        links: vec![link(0, 1, 5, Some(10)), link(1, 2, 5, Some(10))],
        spaces: vec![space(2, None)],
    }
}

#[test]
fn steps_in_one_go_take_the_first_night_that_holds_them() {
    let answer = solved(&strip(), Objective::EarliestReopening, 20, 1).unwrap();
    assert_eq!(answer.choices[0].schedule.starts, vec![0, 35, 80]);
    let mut short = strip();
    short.calendars[0].windows[0].to = 99;
    let answer = solved(&short, Objective::EarliestReopening, 20, 1).unwrap();
    assert_eq!(answer.choices[0].schedule.starts, vec![300, 335, 380]);
}

#[test]
fn steps_that_fit_no_night_are_told_with_the_minutes_they_are_short() {
    let mut short = strip();
    short.calendars[0].windows = vec![Window { from: 0, to: 80 }, Window { from: 300, to: 390 }];
    let found = reasons(&short);
    assert_eq!(found.len(), 1);
    let longest = Some(Window { from: 300, to: 390 });
    let obstacle = Obstacle::NoWindow {
        steps: vec![0, 1, 2],
        longest,
        short_by: 10,
    };
    assert_eq!(found[0].obstacle, obstacle);
    assert!(found[0].remedies.contains(&Remedy::WindowOf(100)));
    // Each remedy makes it fit, and one unit less does not.
    for remedy in &found[0].remedies {
        for (less, fits) in [(0, true), (1, false)] {
            let mut eased = short.clone();
            match remedy {
                Remedy::WindowOf(length) => {
                    eased.calendars[0].windows[1].to = 300 + length - less;
                }
                Remedy::LongestWait { link, max_lag } => {
                    eased.links[*link].max_lag = Some(max_lag - less);
                }
                other => panic!("{other:?}"),
            }
            let solved = solved(&eased, Objective::EarliestReopening, 20, 1);
            assert_eq!(solved.is_ok(), fits, "{remedy:?} less {less}");
        }
    }
    assert_eq!(found[0].remedies.len(), 3);
}

#[test]
fn too_few_hands_and_too_much_work_are_told() {
    let mut few = strip();
    few.steps[1].demands[0].units = 3;
    assert_eq!(
        reasons(&few),
        [Reason {
            obstacle: Obstacle::TooFew {
                step: 1,
                resource: 0,
                most: 2
            },
            remedies: vec![Remedy::Units {
                resource: 0,
                units: 3
            }],
        }]
    );
    let mut much = strip();
    much.resources[0].periods = vec![period(0, 100, 1), period(300, 310, 1)];
    much.steps.push(step(25, &[(0, 1)]));
    let told = Reason {
        obstacle: Obstacle::TooMuchWork {
            resource: 0,
            short_by: 5,
        },
        remedies: vec![Remedy::MoreTime {
            resource: 0,
            time: 5,
        }],
    };
    assert!(reasons(&much).contains(&told));
}

#[test]
fn a_chain_beyond_the_horizon_and_a_deadline_nobody_can_keep_are_told() {
    let mut late = strip();
    let end = late.steps.len();
    late.steps.push(step(0, &[]));
    late.links.push(link(2, end, 500, None));
    late.spaces = vec![space(end, Some(590))];
    let answer = solved(&late, Objective::EarliestReopening, 20, 1).unwrap();
    assert_eq!(
        answer.missed,
        [Reason {
            obstacle: Obstacle::Deadline {
                space: 0,
                chain: vec![0, 1, 2, 3],
                window: Some(Window { from: 0, to: 100 }),
                short_by: 10,
            },
            remedies: vec![Remedy::Until(600)],
        }]
    );
    late.links.last_mut().unwrap().min_lag = 920;
    assert_eq!(
        reasons(&late),
        [Reason {
            obstacle: Obstacle::Horizon {
                chain: vec![0, 1, 2, 3],
                short_by: 20
            },
            remedies: vec![Remedy::Until(1_020)],
        }]
    );
}

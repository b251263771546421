//! Who is away for a while, and floors that are wet, beside work that is under way.

use super::{Case, OBJECTIVE, two_jobs};
use crate::schedule::tests::made::{link, step};
use crate::schedule::{
    Cause, Change, Effort, Fact, Loss, Period, Repaired, Resource, ResourceKind, Time, Unrepaired,
    Window, lose, repair,
};

#[test]
fn of_a_shift_that_lost_some_the_others_work_on() {
    let mut case = two_jobs();
    let crew = &mut case.workload.resources[0];
    crew.whole_shift = true;
    crew.periods[0].units = 2;
    let away = Loss {
        resource: 0,
        window: Window { from: 8, to: 14 },
        units: 1,
    };
    let busy = lose(&mut case.workload, &away);
    assert_eq!(busy, [8]);
    assert_eq!(case.workload.resources[0].periods.len(), 1);
    case.was.extend(&busy);
    case.facts.push(Some(Fact::Is {
        start: 8,
        duration: 6,
    }));
    let repaired = case.repaired(1).unwrap();
    assert_eq!(
        repaired.moved,
        [],
        "one of two is enough for the second job"
    );
    case.workload.steps[2].demands[0].units = 2;
    let moved = case.repaired(1).unwrap().moved;
    // From 14 on there are two again, but only six until the night is over.
    assert_eq!((moved[0].to, moved[0].cause), (30, Cause::Resource(0)));
}

/// The same case with further steps that are no tasks, each from when to when.
fn beside(case: &Case, busy: &[(Time, Time)]) -> Result<Repaired, Unrepaired> {
    let (mut was, mut facts) = (case.was.clone(), case.facts.clone());
    let n = was.len();
    for (start, end) in busy {
        was.push(*start);
        facts.push(Some(Fact::Is {
            start: *start,
            duration: end - start,
        }));
    }
    let counted: Vec<bool> = (0..was.len()).map(|at| at < n).collect();
    let change = Change {
        workload: &case.workload,
        was: &was,
        facts: &facts,
        counted: &counted,
        now: case.now,
        busy_from: n,
    };
    let effort = Effort {
        schedules: 2_000,
        seed: 1,
    };
    repair(&change, OBJECTIVE, effort)
}

#[test]
fn an_absence_that_begins_in_a_running_task_counts_when_the_task_is_over() {
    for travels in [false, true] {
        let mut case = two_jobs();
        let crew = &mut case.workload.resources[0];
        crew.whole_shift = true;
        crew.periods[0].units = 2;
        if travels {
            crew.gaps = vec![vec![0, 3], vec![3, 0]];
        }
        // Both are at work from 0 to 8, and the second task needs both at 10.
        case.workload.steps[0].demands[0].units = 2;
        case.workload.steps[1].demands[0].units = 2;
        let away = Loss {
            resource: 0,
            window: Window { from: 4, to: 25 },
            units: 1,
        };
        let busy = lose(&mut case.workload, &away);
        assert_eq!(busy, [4]);
        let repaired = beside(&case, &[(4, 25)]).unwrap();
        let moved = &repaired.moved;
        assert_eq!(
            (moved.len(), moved[0].to, moved[0].cause),
            (1, 30, Cause::Resource(0)),
            "{travels}"
        );
        assert_eq!(repaired.schedule.starts[2], 8, "{travels}");
        assert_eq!(repaired.durations[2], 17, "{travels}");
    }
}

#[test]
fn who_is_away_has_no_way_to_go() {
    let mut case = two_jobs();
    let crew = &mut case.workload.resources[0];
    crew.whole_shift = true;
    crew.periods[0].units = 2;
    crew.gaps = vec![vec![0, 9], vec![9, 0]];
    // The second task is on the second floor, and the one who is away until its beginning comes to it.
    case.workload.steps[0].demands[0].units = 1;
    case.workload.steps[1].place = 1;
    case.workload.steps[1].demands[0].units = 2;
    case.facts[0] = Some(Fact::Is {
        start: 0,
        duration: 1,
    });
    let away = Loss {
        resource: 0,
        window: Window { from: 2, to: 10 },
        units: 1,
    };
    let busy = lose(&mut case.workload, &away);
    assert_eq!((busy, case.workload.steps[2].place), (vec![2], 2));
    assert_eq!(
        lose(&mut case.workload.clone(), &away),
        [2],
        "one place for all"
    );
    assert_eq!(beside(&case, &[(2, 10)]).unwrap().moved, []);
}

#[test]
fn a_wet_floor_keeps_others_out_although_somebody_is_behind_it() {
    // The first task leaves a floor wet from 8 to 20; behind it one is at work from 6 to 12, and another was to follow at 13.
    let mut case = two_jobs();
    let way = Resource::steady("way", ResourceKind::Zone, 2, 100);
    case.workload.resources = vec![way];
    case.workload.steps = vec![
        step(8, &[]),
        step(12, &[(0, 2)]),
        step(6, &[(0, 1)]),
        step(5, &[(0, 1)]),
    ];
    case.workload.links = vec![link(0, 1, 0, Some(0))];
    let is = |start, duration| Some(Fact::Is { start, duration });
    let facts = [is(0, 8), None, is(6, 6), None];
    let change = Change {
        workload: &case.workload,
        was: &[0, 8, 6, 13],
        facts: &facts,
        counted: &[true, false, true, true],
        now: 9,
        busy_from: 4,
    };
    let effort = Effort {
        schedules: 2_000,
        seed: 1,
    };
    let repaired = repair(&change, OBJECTIVE, effort).unwrap();
    assert_eq!(repaired.schedule.starts, [0, 12, 6, 20]);
    assert_eq!(repaired.moved[0].cause, Cause::Resource(0));
}

#[test]
fn an_absence_stays_where_it_is_although_nothing_else_helps() {
    // Three of four are away from 10 on, and the second task takes two: were they away before, it could be done.
    let mut case = two_jobs();
    let crew = &mut case.workload.resources[0];
    crew.whole_shift = true;
    let period = Period {
        units: 4,
        ..crew.periods[0]
    };
    let shift = |from, to| Period {
        window: Window { from, to },
        ..period
    };
    crew.periods = vec![shift(0, 20), shift(30, 60)];
    for step in &mut case.workload.steps {
        step.demands[0].units = 2;
    }
    case.facts[1] = Some(Fact::NotBefore(9));
    let away = Loss {
        resource: 0,
        window: Window { from: 10, to: 60 },
        units: 3,
    };
    assert_eq!(lose(&mut case.workload, &away), [10, 30]);
    let none = beside(&case, &[(10, 20), (30, 60)]);
    assert!(
        matches!(
            none,
            Err(Unrepaired::NotFound { .. } | Unrepaired::Impossible(_))
        ),
        "{none:?}"
    );
}

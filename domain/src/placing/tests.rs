//! Hours through changes of the clock, parts of plans, and the workloads made of them.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Europe::London;

use super::{
    Crew, Floor, Job, Kind, Machine, PlanStep, Sizes, Span, Wait, joined, minutes, parts, place,
    weekly, without,
};
use crate::{
    quantity::Labour,
    schedule::{Effort, Go, Objective, Window, solve},
    survey::{AccessWindow, Weekday},
};

fn at(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

fn span(from: &str, to: &str) -> Span {
    Span {
        from: at(from),
        to: at(to),
    }
}

fn nights(days: &[Weekday]) -> AccessWindow {
    AccessWindow {
        days: days.to_vec(),
        from_min: 22 * 60,
        to_min: 6 * 60,
    }
}

#[test]
fn nights_are_as_long_as_the_clock_makes_them() {
    // IANA time zone database: London goes to summer time on 29 March 2026 and back on 25 October, both at 01:00 UTC.
    let within = span("2026-03-01T00:00:00Z", "2026-12-01T00:00:00Z");
    let spans = weekly(&[nights(&[Weekday::Saturday])], London, within, |_day| {
        false
    });
    let hours = |from: &str| {
        let found = spans.iter().find(|span| span.from == at(from)).unwrap();
        (found.to - found.from).num_hours()
    };
    assert_eq!(hours("2026-03-21T22:00:00Z"), 8);
    assert_eq!(hours("2026-03-28T22:00:00Z"), 7);
    assert_eq!(hours("2026-06-06T21:00:00Z"), 8);
    assert_eq!(hours("2026-10-24T21:00:00Z"), 9);
    assert_eq!(hours("2026-10-31T22:00:00Z"), 8);
}

#[test]
fn the_night_before_still_runs_and_a_day_off_has_none() {
    let within = span("2026-06-02T00:00:00Z", "2026-06-04T12:00:00Z");
    let off = NaiveDate::from_ymd_opt(2026, 6, 2).unwrap();
    let spans = weekly(&[nights(Weekday::ALL)], London, within, |day| day == off);
    let windows = minutes(&spans, within);
    let wanted = [(0, 300), (2_700, 3_180)].map(|(from, to)| Window { from, to });
    assert_eq!(windows, wanted);
}

#[test]
fn spans_are_joined_and_taken_out_of_each_other() {
    let day = |from: u32, to: u32| {
        let hour = |hour: u32| at(&format!("2026-06-01T{hour:02}:00:00Z"));
        Span {
            from: hour(from),
            to: hour(to),
        }
    };
    let all = joined(vec![day(8, 12), day(4, 6), day(12, 14), day(9, 9)]);
    assert_eq!(all, [day(4, 6), day(8, 14)]);
    assert_eq!(
        without(all, &[day(5, 9), day(10, 11)]),
        [day(4, 5), day(9, 10), day(11, 14)]
    );
}

fn step(number: i64, minutes: i64) -> PlanStep {
    PlanStep {
        number,
        crew_time: Labour::from_minutes(minutes),
        coat: false,
        wets: false,
        dwell: None,
        wait: Wait::default(),
        machine: None,
    }
}

fn wait(p50: i64, used: i64) -> Wait {
    Wait { p50, used }
}

/// Lay, dwell 5 to 15, scrub, pick up, rinse; dry 90; two coats with 60 and 120 after them.
fn strip() -> Vec<PlanStep> {
    vec![
        PlanStep {
            dwell: Some((5, 15)),
            wets: true,
            ..step(1, 20)
        },
        PlanStep {
            machine: Some(0),
            ..step(2, 8)
        },
        step(3, 8),
        PlanStep {
            wets: true,
            ..step(4, 12)
        },
        PlanStep {
            wait: wait(80, 90),
            ..step(5, 0)
        },
        PlanStep {
            coat: true,
            wets: true,
            wait: wait(50, 60),
            ..step(6, 10)
        },
        PlanStep {
            coat: true,
            wets: true,
            wait: wait(120, 120),
            ..step(7, 10)
        },
    ]
}

fn sizes() -> Sizes {
    Sizes {
        before: vec![1; 4],
        before_is_free: false,
        odd: vec![1, 1],
        even: vec![1, 1, 1],
    }
}

#[test]
fn a_plan_becomes_what_comes_before_the_coats_and_each_coat() {
    let made = parts(&strip(), &sizes(), (wait(40, 40), wait(120, 120)));
    let names: Vec<_> = made.iter().map(|part| part.name.as_str()).collect();
    assert_eq!(names, ["prepare", "coat 1", "coat 2"]);
    let prepare = &made[0];
    assert_eq!(
        (prepare.bays.len(), prepare.opens_after.used, prepare.then),
        (4, 40, wait(80, 90))
    );
    let steps: Vec<_> = prepare
        .pieces
        .iter()
        .map(|piece| piece.steps.clone())
        .collect();
    assert_eq!(steps, [vec![1], vec![2, 3, 4, 5]]);
    let second = &prepare.pieces[1];
    assert_eq!(
        (second.dwell, second.machines.as_slice()),
        (Some((5, 15)), &[0][..])
    );
    // Scrubbing and picking up end what dwells; the rinse is not bound to its time.
    assert_eq!(second.bound, Labour::from_minutes(16));
    assert_eq!((made[1].bays.len(), made[1].then), (2, wait(50, 60)));
    assert_eq!(
        (made[2].bays.len(), made[2].opens_after),
        (3, wait(120, 120))
    );
}

#[test]
fn work_without_coats_goes_on_after_each_wait() {
    let steps = [
        PlanStep {
            wait: wait(30, 40),
            ..step(1, 10)
        },
        PlanStep {
            wait: wait(20, 25),
            ..step(2, 10)
        },
    ];
    let made = parts(&steps, &Sizes::default(), (wait(60, 60), Wait::default()));
    assert_eq!(made.len(), 2);
    assert_eq!(
        (made[0].opens_after, made[0].then),
        (wait(30, 40), wait(30, 40))
    );
    assert_eq!(made[1].opens_after, wait(20, 25));
}

fn crew(shifts: &[(i64, i64)]) -> Crew {
    Crew {
        name: "crew".to_owned(),
        operatives: 2,
        shifts: shifts
            .iter()
            .map(|(from, to)| Window {
                from: *from,
                to: *to,
            })
            .collect(),
        per_call: 100,
        per_time: 1,
        moves: Vec::new(),
    }
}

fn floor(windows: &[(i64, i64)]) -> Floor {
    Floor {
        name: "floor".to_owned(),
        windows: Some(
            windows
                .iter()
                .map(|(from, to)| Window {
                    from: *from,
                    to: *to,
                })
                .collect(),
        ),
        deadline: None,
        weight: 1,
    }
}

#[test]
fn the_workload_keeps_waits_dwells_and_open_floors() {
    let nights: Vec<(i64, i64)> = (0..12)
        .map(|night| (night * 1_440, night * 1_440 + 200))
        .collect();
    let made = parts(&strip(), &sizes(), (wait(40, 40), wait(120, 120)));
    let job = Job {
        floor: 0,
        crew: 0,
        operatives: 2,
        parts: made,
    };
    let machine = Machine {
        name: "rotary".to_owned(),
        count: 1,
    };
    let placed = place(
        (&[floor(&nights)], &[job]),
        (&[crew(&nights)], &[machine], &[]),
        20_000,
        0.3,
    );
    let effort = Effort {
        schedules: 50,
        seed: 1,
    };
    let objective = Objective::EarliestReopening;
    let answer = solve(&placed.workload, objective, effort, &mut |_progress| Go::On).unwrap();
    let starts = &answer.choices[0].schedule.starts;
    let steps = placed.tasks.iter().enumerate();
    let when = |step: usize| {
        let start = starts[step];
        (start, start + placed.workload.steps[step].duration)
    };
    for (step, task) in steps {
        let (from, to) = when(step);
        match task.kind {
            Kind::Work { piece: 1 } => {
                // 5 minutes at least, and 15 less the 4 of scrubbing and picking up a bay at most.
                let lag = from - when(step - 1).1;
                assert!((5..=11).contains(&lag), "{lag}");
            }
            Kind::Closed => assert_eq!(from, when(step - 1).1, "closed as soon as it is done"),
            Kind::Work { .. } | Kind::Ready => {}
        }
        if task.kind != Kind::Ready {
            assert!(
                nights
                    .iter()
                    .any(|(opens, closes)| *opens <= from && to <= *closes)
            );
        }
    }
    let of_part = |part: usize| {
        let tasks = placed.tasks.iter().enumerate();
        let own = tasks
            .filter(move |(_, task)| task.part == part && matches!(task.kind, Kind::Work { .. }));
        own.map(|(step, _)| when(step))
    };
    for (part, least) in [(0, 90), (1, 60)] {
        let done = of_part(part).map(|(_, to)| to).max().unwrap();
        let next = of_part(part + 1).map(|(from, _)| from).min().unwrap();
        assert!(next - done >= least, "{part}: {next} after {done}");
    }
}

#[test]
fn work_that_nothing_cuts_is_cut_by_the_windows() {
    let windows: Vec<(i64, i64)> = (0..10)
        .map(|night| (night * 1_440, night * 1_440 + 100))
        .collect();
    let sizes = Sizes {
        before_is_free: true,
        ..Sizes::default()
    };
    let steps = [PlanStep {
        wait: wait(10, 20),
        ..step(1, 300)
    }];
    let job = Job {
        floor: 0,
        crew: 0,
        operatives: 2,
        parts: parts(&steps, &sizes, (Wait::default(), Wait::default())),
    };
    let of = |windows: &[(i64, i64)]| {
        let floors = [floor(windows)];
        let placed = place(
            (&floors, std::slice::from_ref(&job)),
            (&[crew(windows)], &[], &[]),
            20_000,
            0.3,
        );
        let work = placed
            .tasks
            .iter()
            .filter(|task| matches!(task.kind, Kind::Work { .. }));
        work.count()
    };
    // 300 minutes, 80 of a window left beside the wait: half windows of 40.
    assert_eq!(of(&windows), 8);
    assert_eq!(of(&[(0, 320)]), 1);
}

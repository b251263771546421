//! The parts by themselves: random numbers, profile, weeks, crews.

use proptest::prelude::*;

use super::made::window;
use crate::schedule::profile::{Need, Profile};
use crate::schedule::rng::{Purpose, Rng};
use crate::schedule::{Access, Exception, Operative, Weekly, access_windows, pools};

#[test]
fn streams_are_even_and_apart() {
    let mut rng = Rng::new(1, Purpose::Search, 0);
    let mean = (0..10_000).map(|_| rng.unit()).sum::<f64>() / 10_000.0;
    assert!((mean - 0.5).abs() < 0.015, "{mean}");
    let square = (0..10_000).map(|_| rng.normal().powi(2)).sum::<f64>() / 10_000.0;
    assert!((square - 1.0).abs() < 0.06, "{square}");
    let mut firsts: Vec<u64> = (0..100)
        .map(|i| Rng::new(1, Purpose::Chance, i).bits())
        .collect();
    firsts.push(Rng::new(1, Purpose::Search, 0).bits());
    firsts.push(Rng::new(2, Purpose::Search, 0).bits());
    firsts.sort_unstable();
    firsts.dedup();
    assert_eq!(firsts.len(), 102);
}

proptest! {
    #[test]
    fn the_profile_finds_what_a_look_at_every_slot_finds(
        jobs in prop::collection::vec((0..6_usize, 0..4_u32, 0..3_u32, 0..150_usize, 0..40_usize), 1..40),
    ) {
        // Six resources in two words, 200 slots in seven runs; the third of the jobs is taken out again.
        let capacity = |resource: usize, slot: usize| (3 + resource as u32).saturating_sub(u32::from(slot % 50 < 7) * 9);
        let mut profile = Profile::new(6, 200, (0..6).flat_map(|r| (0..200).map(move |at| (r, at..at + 1, capacity(r, at)))));
        let mut taken = vec![[0_u32; 200]; 6];
        let mut placed = Vec::new();
        for (resource, units, also, from, duration) in jobs {
            let wants = [(resource, units), ((resource + 3) % 6, also)];
            let need = Need::new(wants);
            let fits = |start: usize| {
                start + duration <= 190
                    && (start..start + duration).all(|slot| {
                        wants.iter().all(|(r, u)| *u == 0 || taken[*r][slot] + u <= capacity(*r, slot))
                    })
            };
            let expected = (from..200).find(|start| fits(*start));
            let found = profile.earliest(&need, from, duration, 190);
            if duration > 0 {
                prop_assert_eq!(found, expected);
            }
            let Some(start) = found else { continue };
            profile.take(&need, start, duration);
            for (r, u) in wants {
                taken[r][start..start + duration].iter_mut().for_each(|t| *t += u);
            }
            placed.push((wants, need, start, duration));
            if placed.len() % 3 == 0 {
                let (wants, need, start, duration) = placed.remove(0);
                profile.give(&need, start, duration);
                for (r, u) in wants {
                    taken[r][start..start + duration].iter_mut().for_each(|t| *t -= u);
                }
            }
        }
    }
}

#[test]
fn weekly_nights_run_past_midnight_and_give_way_to_exceptions() {
    let nightly = (0..7).map(|weekday| Weekly {
        weekday,
        from_min: 22 * 60,
        minutes: 8 * 60,
    });
    let mut access = Access {
        weekly: nightly.collect(),
        exceptions: Vec::new(),
    };
    let hour = 60;
    let windows = access_windows(&access, 0, 3, 5);
    let hours = |from: i64, to: i64| window(from * hour / 5, to * hour / 5);
    assert_eq!(
        windows,
        [hours(0, 6), hours(22, 30), hours(46, 54), hours(70, 72)]
    );
    // The second night belongs to a holiday, apart from two hours that were agreed on later.
    access.exceptions = vec![
        Exception::Closed(window(40 * hour, 60 * hour)),
        Exception::Open(window(50 * hour, 52 * hour)),
    ];
    let windows = access_windows(&access, 0, 3, 5);
    assert_eq!(
        windows,
        [hours(0, 6), hours(22, 30), hours(50, 52), hours(70, 72)]
    );
    // Slots of seven minutes are open only where they are open from end to end.
    let whole = access_windows(&access, 0, 1, 7);
    assert_eq!(whole, [window(0, 51), window(189, 205)]);
}

#[test]
fn the_pools_of_a_crew_allow_what_some_assignment_allows() {
    // Skills 0 and 1: one operative has both, one has the second, one has none.
    let operative = |skills: &[usize]| Operative {
        skills: skills.to_vec(),
        shifts: vec![window(0, 10)],
        per_shift: 100,
        per_time: 2,
    };
    let crew = [operative(&[0, 1]), operative(&[1]), operative(&[])];
    let pool = pools("crew", &crew, 2, 0).unwrap();
    let units = |at: usize| pool.resources[at].periods.first().map_or(0, |p| p.units);
    for first in 0..4_u32 {
        for second in 0..4_u32 {
            for any in 0..4_u32 {
                let demands = pool.demands(&[(0, first), (1, second)], any);
                let counted = demands.iter().all(|d| d.units <= units(d.resource));
                // Every way to give three people one of: first skill, second skill, any work, nothing.
                let assigned = (0..64_u32).any(|code| {
                    let roles = [code & 3, code >> 2 & 3, code >> 4 & 3];
                    let able = [[true, true], [false, true], [false, false]];
                    let fine = roles.iter().zip(able).all(|(role, able)| match role {
                        0 => able[0],
                        1 => able[1],
                        _ => true,
                    });
                    let count =
                        |wanted: u32| roles.iter().filter(|role| **role == wanted).count() as u32;
                    fine && count(0) == first && count(1) == second && count(2) == any
                });
                assert_eq!(counted, assigned, "{first} {second} {any}");
            }
        }
    }
    assert_eq!(pools("crew", &crew, 1, 0), None);
}

#[test]
fn staggered_shifts_are_counted_where_they_overlap() {
    let on = |from, to| Operative {
        skills: vec![0],
        shifts: vec![window(from, to)],
        per_shift: 100,
        per_time: 0,
    };
    let pool = pools("crew", &[on(0, 10), on(5, 15)], 1, 4).unwrap();
    let periods: Vec<_> = pool.resources[1]
        .periods
        .iter()
        .map(|p| (p.window, p.units))
        .collect();
    assert_eq!(
        periods,
        [(window(0, 5), 1), (window(5, 10), 2), (window(10, 15), 1)]
    );
    assert!(!pool.resources[0].whole_shift);
    let demands = pool.demands(&[(0, 1)], 0);
    assert_eq!(
        demands.iter().map(|d| d.resource).collect::<Vec<_>>(),
        [4, 5]
    );
}

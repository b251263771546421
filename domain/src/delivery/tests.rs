//! The schedule of attempts, held to what it promises over days that take no time.

use chrono::{DateTime, TimeDelta, Utc};
use proptest::prelude::*;

use super::{BREATHER, DELAYS_S, Failure, Next, Outcome, PATIENCE, is_given_up, next};

fn noon() -> DateTime<Utc> {
    DateTime::from_timestamp(1_780_315_200, 0).unwrap()
}

const FAILED: Outcome = Outcome::Failed(Failure {
    is_overrun: false,
    retry_after: None,
});
const OVERRUN: Outcome = Outcome::Failed(Failure {
    is_overrun: true,
    retry_after: None,
});

/// The moments at which one event is tried while its receiver answers `down` until `back`, and whether it arrived.
fn deliver(seed: u128, down: Outcome, back: DateTime<Utc>) -> (Vec<DateTime<Utc>>, bool) {
    let mut tried = Vec::new();
    let mut now = noon();
    loop {
        tried.push(now);
        let outcome = if now < back { down } else { Outcome::Taken };
        match next(outcome, u32::try_from(tried.len()).unwrap(), seed, now) {
            Next::Delivered => return (tried, true),
            Next::Again(at) => now = at,
            Next::Dead => return (tried, false),
        }
    }
}

// The Standard Webhooks specification 1.0 gives the schedule as its example; the sum is ours.
#[test]
fn the_waits_add_up_to_seventy_five_hours_and_a_half() {
    let window = 75 * 3_600 + 35 * 60 + 5;
    assert_eq!(DELAYS_S.iter().sum::<i64>(), window);
}

#[test]
fn f_33_a_receiver_that_is_down_up_to_sixty_hours_loses_nothing() {
    for seed in 0..2_000_u128 {
        let seed = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15_f39c_c060_5ced_c834);
        // Answering 500, resetting and refusing are alike here; not answering in time is the other.
        for down in [FAILED, OVERRUN] {
            for (hours, arrives) in [(6, true), (30, true), (60, true), (95, false)] {
                let (tried, arrived) = deliver(seed, down, noon() + TimeDelta::hours(hours));
                assert_eq!(arrived, arrives, "{hours} hours, seed {seed}");
                assert!(tried.len() <= DELAYS_S.len());
            }
            // Eighty hours are longer than the schedule unless most waits are spread upwards.
            let (tried, arrived) = deliver(seed, down, noon() + TimeDelta::hours(80));
            assert!(arrived || tried.len() == DELAYS_S.len());
        }
    }
}

#[test]
fn f_33_without_a_spread_eighty_hours_end_in_a_dead_letter() {
    // The schedule itself, by a receiver that asks for exactly its waits.
    let exact = |n: usize| Failure {
        is_overrun: false,
        retry_after: DELAYS_S.get(n).map(|s| TimeDelta::seconds(*s)),
    };
    let (mut now, mut n) = (noon(), 1);
    while let Next::Again(at) = next(Outcome::Failed(exact(n)), u32::try_from(n).unwrap(), 7, now) {
        (now, n) = (at, n + 1);
    }
    assert_eq!((n, now - noon()), (10, TimeDelta::seconds(272_105)));
}

#[test]
fn f_36_what_the_receiver_asks_for_is_heeded_up_to_twice_the_wait() {
    let asked = |n: u32, overrun: bool, seconds: i64| {
        let failure = Failure {
            is_overrun: overrun,
            retry_after: Some(TimeDelta::seconds(seconds)),
        };
        match next(Outcome::Failed(failure), n, 3, noon()) {
            Next::Again(at) => (at - noon()).num_seconds(),
            Next::Delivered | Next::Dead => -1,
        }
    };
    // The waits after the first, second and third attempt are 5 s, 300 s and 1,800 s.
    assert_eq!(asked(2, false, 400), 400);
    assert_eq!(asked(2, false, 1_000_000_000), 600);
    assert_eq!(asked(3, false, 120), 1_800);
    assert_eq!(asked(1, false, 120), 10);
    assert_eq!(asked(1, true, 120), 60);
    assert_eq!(asked(2, true, 0), 300);
}

#[test]
fn f_37_a_receiver_that_is_gone_is_not_tried_again() {
    assert_eq!(next(Outcome::Gone, 1, 0, noon()), Next::Dead);
    assert!(!is_given_up(
        noon(),
        noon() + PATIENCE - TimeDelta::milliseconds(1)
    ));
    assert!(is_given_up(noon(), noon() + PATIENCE));
}

proptest! {
    #[test]
    fn every_wait_lies_within_a_fifth_of_the_schedule(seed: u128, overrun: bool) {
        let outcome = if overrun { OVERRUN } else { FAILED };
        for n in 1..10_u32 {
            let Next::Again(at) = next(outcome, n, seed, noon()) else {
                return Err(TestCaseError::fail("given up too early"));
            };
            let (wait, plain) = (at - noon(), TimeDelta::seconds(DELAYS_S[usize::try_from(n).unwrap()]));
            prop_assert_eq!(next(outcome, n, seed, noon()), Next::Again(at));
            if overrun {
                prop_assert!(wait >= BREATHER);
            }
            prop_assert!(wait >= plain * 4 / 5);
            prop_assert!(wait <= (plain * 6 / 5).max(BREATHER));
        }
        prop_assert_eq!(next(outcome, 10, seed, noon()), Next::Dead);
        prop_assert_eq!(next(outcome, u32::MAX, seed, noon()), Next::Dead);
    }

    #[test]
    fn the_last_attempt_comes_no_earlier_than_sixty_hours(seed: u128) {
        let (tried, arrived) = deliver(seed, FAILED, DateTime::<Utc>::MAX_UTC);
        prop_assert!(!arrived && tried.len() == 10);
        // Four fifths of 75 h 35 min 5 s.
        prop_assert!(*tried.last().unwrap() - noon() >= TimeDelta::seconds(217_684));
    }
}

//! First passages beside another library, and laws.

use proptest::prelude::*;

use super::{Distance, Passing, mills, passed};

// Source: scipy 1.17.1, `scipy.stats.invgauss`; table first_passage.csv.
#[test]
fn first_passages_agree_with_scipy() {
    let table = include_str!("../../../tests/reference/first_passage.csv");
    let mut n_rows = 0;
    for line in table.lines().filter(|line| !line.starts_with('#')).skip(1) {
        let row: Vec<f64> = line
            .split(',')
            .map(|field| field.parse().unwrap())
            .collect();
        let chance = passed(row[0], row[1], row[2]);
        assert!((chance - row[3]).abs() < 5e-7, "{line}: {chance}");
        n_rows += 1;
    }
    assert_eq!(n_rows, 50);
}

// By hand: (1 - Φ(y)) / φ(y) from tables of both: 0.5 / 0.398942, 0.0227501 / 0.0539910, 2.86652e-7 / 1.48672e-6.
#[test]
fn mills_ratio_is_that_of_the_tables() {
    for (y, ratio) in [(0.0, 1.253_314), (2.0, 0.421_369), (5.0, 0.192_808)] {
        assert!((mills(y) - ratio).abs() < 2e-6, "{y}: {}", mills(y));
    }
}

#[test]
fn a_limit_is_reached_today_on_a_day_or_not_at_all() {
    let of = |levels: &[(f64, f64)]| Distance::of(levels.iter().copied(), 0.3);
    let even = of(&[(-1.0, 0.3), (4.0, 0.3), (90.0, 0.3)]);
    assert_eq!(even.first(0.1, 3_600, 30.0), Passing::Already);
    // Half of what lies ahead is passed with 0.2 of 0.3: in month 4 and a little.
    assert!(matches!(
        even.first(0.5, 3_600, 30.0),
        Passing::In(120..=150)
    ));
    assert_eq!(even.first(0.9, 1_000, 30.0), Passing::Beyond);
    assert_eq!(even.first(0.95, 3_600, 30.0), Passing::Never);
    // Without any spread it is the day after which the wear has added up.
    let plain = Distance::of([(4.0, 1.0)].into_iter(), 0.0);
    assert_eq!(plain.first(0.5, 3_600, 30.0), Passing::In(120));
}

proptest! {
    #[test]
    fn later_is_likelier_and_further_is_not(
        level in 0.001..200.0_f64,
        more in 0.0..50.0_f64,
        spread in 0.0..0.55_f64,
        time in 0.0..200.0_f64,
        later in 0.0..50.0_f64,
    ) {
        let chance = passed(level, spread, time);
        prop_assert!((0.0..=1.0).contains(&chance));
        prop_assert!(passed(level, spread, time + later) >= chance - 1e-6);
        prop_assert!(passed(level + more, spread, time) <= chance + 1e-6);
    }
}

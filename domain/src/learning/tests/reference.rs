//! The table that another program worked out with other means: dense linear algebra over all levels at once.

use super::{contractor, job, priors, site};
use crate::learning::{Job, Learnt, Reason, Terms, Who, learn};

/// Synthetic, numpy 2.4.6, seed 11.
const LOGS: &str = include_str!("../../../tests/reference/learning_logs.csv");
/// Exact Gaussian conditioning and Student-t weights by numpy 2.4.6 and scipy 1.17.1.
const POSTERIOR: &str = include_str!("../../../tests/reference/learning_posterior.csv");

fn rows(table: &str) -> impl Iterator<Item = Vec<&str>> {
    let lines = table.lines().filter(|line| !line.starts_with('#')).skip(1);
    lines.map(|line| line.split(',').collect())
}

/// `s3` is site 3, `c2` contractor 2.
fn number(name: &str) -> u128 {
    name[1..].parse().expect("a letter and a number")
}

fn float(text: &str) -> f64 {
    text.parse().expect("a number")
}

fn jobs() -> Vec<Job> {
    let of = |row: Vec<&str>| {
        let at = (number(row[2]), number(row[3]));
        let id = row[0].parse().expect("a number");
        job(id, row[1], at, float(row[4]) / float(row[5]))
    };
    rows(LOGS).map(of).collect()
}

/// From the head of the table.
const USUAL: [(&str, f64, f64); 4] = [
    ("strip", 3.218_875_824_868, 0.3),
    ("scrub_recoat", 4.248_495_242_049, 0.3),
    ("apply_coat", 4.941_642_422_609, 0.25),
    ("burnish", 5.857_933_154_483, 0.3),
];

/// What the table's jobs tell. No gate, so that the planted slips come through.
fn told(heavy_tails: bool, spread_from_jobs: Option<usize>) -> Learnt {
    let terms = Terms {
        spread_from_jobs,
        heavy_tails,
        gate: f64::INFINITY,
        ..Terms::USUAL
    };
    learn(&priors(&USUAL), &jobs(), &terms)
}

fn within(what: &str, actual: f64, expected: f64) {
    // The table has nine digits; it asks for 1e-6.
    assert!(
        (actual - expected).abs() < 2e-9,
        "{what}: {actual} is not {expected}"
    );
}

#[test]
fn the_posterior_is_that_of_the_reference_table() {
    let (normal, robust) = (told(false, None), told(true, None));
    let mut n_rows = 0;
    for row in rows(POSTERIOR) {
        let what = row[..3].join(" ");
        let at = |learnt: &Learnt| {
            let who = Who::Contractor(contractor(number(row[2])));
            learnt
                .figure(row[0], site(number(row[1])), who)
                .expect("known")
        };
        let (plain, held) = (at(&normal), at(&robust));
        within(&what, plain.mean_log, float(row[4]));
        within(&what, plain.sd_log, float(row[5]));
        within(&what, held.mean_log, float(row[6]));
        within(&what, held.sd_log, float(row[7]));
        assert_eq!(plain.n_jobs.to_string(), row[3], "{what}");
        assert!(
            (plain.median() / float(row[8]) - 1.0).abs() < 1e-8,
            "{what}"
        );
        n_rows += 1;
    }
    assert_eq!(n_rows, 48);
}

/// The two jobs that were planted at five times their rate, with the weights that the table's maker measured.
#[test]
fn the_planted_slips_are_told_of_and_count_little() {
    let learnt = told(true, None);
    let found: Vec<_> = learnt
        .set_aside
        .iter()
        .map(|row| (row.completion, row.reason))
        .collect();
    let planted = [45, 18].map(super::completion);
    assert_eq!(found.len(), 2);
    for id in planted {
        assert!(found.contains(&(id, Reason::Unusual)), "{found:?}");
    }
    let mut weights: Vec<f64> = learnt.set_aside.iter().map(|row| row.weight).collect();
    weights.sort_by(f64::total_cmp);
    assert!((weights[0] - 0.08).abs() < 0.006, "{weights:?}");
    assert!((weights[1] - 0.16).abs() < 0.006, "{weights:?}");
}

/// Plain empirical Bayes lets two odd jobs say that sites do not differ at all (2e-8, from the head of the table).
#[test]
fn no_spread_is_learnt_to_be_nothing() {
    let spread = told(true, Some(30)).spread();
    for value in [spread.site, spread.contractor, spread.job] {
        assert!((0.05..0.6).contains(&value), "{spread:?}");
    }
}

/// Normal chance; scipy 1.17.1, Nelder-Mead on the dense marginal density, in which there is no posterior.
#[test]
fn the_spread_that_is_learnt_is_the_likeliest() {
    let spread = told(false, Some(30)).spread();
    for (found, expected) in [
        (spread.site, 0.263_691_91),
        (spread.contractor, 0.274_573_48),
        (spread.job, 0.361_984_32),
    ] {
        assert!((found - expected).abs() < 1e-6, "{spread:?}");
    }
}

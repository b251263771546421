//! What holds for every log of jobs.

use proptest::prelude::*;

use super::{completion, contractor, job, priors, site};
use crate::{
    id::{ContractorId, SiteId},
    learning::{Job, Learnt, Prior, Reason, Reckoned, Spread, Terms, Who, learn, paces},
};

const SUBJECTS: [&str; 3] = ["buff", "scrub", "strip"];

fn usual() -> std::collections::BTreeMap<String, Prior> {
    priors(&[
        ("buff", 5.0, 0.3),
        ("scrub", 4.4, 0.25),
        ("strip", 3.4, 0.35),
    ])
}

/// Normal chance, spreads held fixed.
fn plain() -> Terms {
    Terms {
        spread_from_jobs: None,
        heavy_tails: false,
        ..Terms::USUAL
    }
}

fn any_jobs(most: usize) -> impl Strategy<Value = Vec<Job>> {
    let one = (
        0..3_usize,
        1..5_u128,
        0..4_u128,
        0.4..2.5_f64,
        0.05..1.0_f64,
        0..40_u32,
    );
    proptest::collection::vec(one, 0..most).prop_map(|rows| {
        let of =
            |(n, (subject, at, by, factor, share, months)): (u128, (usize, _, u128, _, _, _))| {
                Job {
                    contractor: contractor(by),
                    share,
                    months,
                    ..job(
                        n,
                        SUBJECTS[subject],
                        (at, by),
                        usual()[SUBJECTS[subject]].median() * factor,
                    )
                }
            };
        (1..).zip(rows).map(of).collect()
    })
}

fn figures(learnt: &Learnt) -> Vec<String> {
    let mut told = vec![format!("{:?} {:?}", learnt.spread(), learnt.set_aside)];
    for subject in SUBJECTS {
        for at in 1..6 {
            let whom = (1..5).map(|by| Who::Contractor(contractor(by)));
            for who in whom.chain([Who::Contractor(None), Who::AsSoFar, Who::Anyone]) {
                told.push(format!("{:?}", learnt.figure(subject, site(at), who)));
            }
        }
    }
    told
}

/// Job after job, each by the rule for one more observation (Kalman's gain), on a table over all levels.
fn one_by_one(jobs: &[Job], terms: &Terms) -> (Vec<f64>, Vec<Vec<f64>>) {
    let spread = terms.spread;
    let own = usual().into_values().map(Prior::sd);
    let own = own.chain([spread.site; 4]).chain([spread.contractor; 4]);
    let mut variance = vec![vec![0.0; 11]; 11];
    for (at, sd) in own.enumerate() {
        variance[at][at] = sd.powi(2);
    }
    let mut mean = vec![0.0; 11];
    for job in jobs {
        let prior = usual()[&job.subject];
        let of = levels(&job.subject, job.site, job.contractor);
        let gain: Vec<f64> = variance
            .iter()
            .map(|row| of.iter().map(|at| row[*at]).sum())
            .collect();
        let kept = terms.kept_per_month.powf(f64::from(job.months));
        let chance = spread.job.powi(2) / (job.share * kept);
        let all = of.iter().map(|at| gain[*at]).sum::<f64>() + chance;
        let off = job.value.ln() - prior.mean() - of.iter().map(|at| mean[*at]).sum::<f64>();
        for i in 0..11 {
            mean[i] += gain[i] * off / all;
            for j in 0..11 {
                variance[i][j] -= gain[i] * gain[j] / all;
            }
        }
    }
    (mean, variance)
}

fn levels(subject: &str, at: SiteId, by: Option<ContractorId>) -> [usize; 3] {
    let place = |found: Option<usize>| found.expect("one of them");
    [
        place(SUBJECTS.iter().position(|known| *known == subject)),
        3 + place((1..5).position(|n| site(n) == at)),
        7 + by.map_or(0, |_| place((1..4).position(|n| contractor(n) == by)) + 1),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn the_order_of_the_jobs_changes_nothing(
        (jobs, shuffled) in any_jobs(50).prop_flat_map(|jobs| (Just(jobs.clone()), Just(jobs).prop_shuffle())),
    ) {
        let one = learn(&usual(), &jobs, &Terms::USUAL);
        let other = learn(&usual(), &shuffled, &Terms::USUAL);
        prop_assert_eq!(figures(&one), figures(&other));
    }

    // The posterior of all at once must be that of one after the other.
    #[test]
    fn all_jobs_at_once_tell_what_they_tell_one_by_one(jobs in any_jobs(40)) {
        let learnt = learn(&usual(), &jobs, &plain());
        let (mean, variance) = one_by_one(&jobs, &plain());
        for (subject, prior) in usual() {
            for (at, by) in [(1, 1), (2, 3), (4, 0)] {
                let by = contractor(by);
                let found = learnt.figure(&subject, site(at), Who::Contractor(by)).expect("known");
                let of = levels(&subject, site(at), by);
                let expected: f64 = of.iter().map(|i| mean[*i]).sum();
                let spread: f64 = of.iter().flat_map(|i| of.map(|j| variance[*i][j])).sum();
                prop_assert!((found.mean_log - prior.mean() - expected).abs() < 1e-9);
                prop_assert!((found.sd_log - spread.sqrt()).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn jobs_never_make_a_figure_less_certain(jobs in any_jobs(40)) {
        let learnt = learn(&usual(), &jobs, &plain());
        let fewer = learn(&usual(), &jobs[..jobs.len() / 2], &plain());
        for subject in SUBJECTS {
            for who in [Who::Contractor(contractor(1)), Who::Anyone] {
                let of = |learnt: &Learnt| learnt.figure(subject, site(1), who).expect("known");
                let (more, less) = (of(&learnt), of(&fewer));
                prop_assert!(more.sd_log <= less.sd_log + 1e-12);
                prop_assert!(more.from_prior <= less.from_prior + 1e-12 && less.from_prior <= 1.0 + 1e-12);
                prop_assert!(more.next_sd_log > more.sd_log);
            }
        }
    }

    #[test]
    fn nothing_that_is_sent_stops_it(
        jobs in proptest::collection::vec((0..3_usize, any::<f64>(), any::<f64>(), any::<u32>()), 0..40),
    ) {
        let of = |(n, (subject, value, share, months)): (u128, (usize, f64, f64, u32))| Job {
            share,
            months,
            ..job(n, SUBJECTS[subject], (1, 1), value)
        };
        let jobs: Vec<Job> = (1..).zip(jobs).map(of).collect();
        let learnt = learn(&usual(), &jobs, &Terms::USUAL);
        for subject in SUBJECTS {
            let found = learnt.figure(subject, site(1), Who::AsSoFar).expect("known");
            prop_assert!(found.mean_log.is_finite() && found.sd_log.is_finite());
            prop_assert!(found.next_sd_log.is_finite());
        }
    }
}

#[test]
fn without_jobs_the_answer_is_what_is_usual() {
    let learnt = learn(&usual(), &[], &Terms::USUAL);
    let spread = Terms::USUAL.spread;
    for (subject, prior) in usual() {
        let found = learnt
            .figure(&subject, site(1), Who::AsSoFar)
            .expect("known");
        assert_eq!(found.mean_log.to_bits(), prior.mean().to_bits());
        let sd = (prior.sd().powi(2) + spread.site.powi(2) + spread.contractor.powi(2)).sqrt();
        assert!((found.sd_log - sd).abs() < 1e-15);
        assert_eq!((found.n_jobs, found.n_jobs_anywhere), (0, 0));
        assert!((found.from_prior - 1.0).abs() < 1e-15 && found.weight.abs() < 1e-15);
    }
    assert!(learnt.figure("juggle", site(1), Who::AsSoFar).is_none());
    assert!(learnt.set_aside.is_empty());
}

/// The conjugate normal model of textbooks (from memory): weight of n jobs n τ² / (n τ² + σ²), with τ 0.30 and σ 0.25.
#[test]
fn a_subject_alone_is_shrunk_as_textbooks_have_it() {
    let terms = Terms {
        spread: Spread {
            site: 1e-6,
            contractor: 1e-6,
            job: 0.25,
        },
        ..plain()
    };
    let usual = priors(&[("strip", 3.0, 0.30)]);
    for (n, weight) in [(1_u32, 0.59), (3, 0.81), (10, 0.94)] {
        let log = |id: u32| job(u128::from(id), "strip", (1, 1), 3.5_f64.exp());
        let jobs: Vec<Job> = (1..=n).map(log).collect();
        let found = learn(&usual, &jobs, &terms)
            .figure("strip", site(1), Who::AsSoFar)
            .expect("known");
        let exact = f64::from(n) * 0.09 / (f64::from(n) * 0.09 + 0.0625);
        assert!((exact - weight).abs() < 0.005);
        assert!((found.mean_log - (3.0 + 0.5 * exact)).abs() < 1e-6);
        assert!((found.from_prior - (1.0 - exact)).abs() < 1e-6);
        assert_eq!(found.n_jobs, usize::try_from(n).expect("small"));
    }
}

#[test]
fn what_cannot_be_true_is_left_out_and_listed_with_its_reason() {
    let good = job(1, "strip", (1, 1), 30.0);
    let tell = |n: u128, value: f64| job(n, "strip", (1, 1), value);
    let jobs = [
        good.clone(),
        tell(2, 0.0),
        tell(3, f64::NAN),
        tell(4, -30.0),
        tell(5, 30.0 * 8.5),
        tell(6, 30.0 / 8.5),
        job(7, "juggle", (1, 1), 30.0),
        Job {
            share: 0.0,
            ..tell(8, 30.0)
        },
    ];
    let learnt = learn(&usual(), &jobs, &Terms::USUAL);
    let told: Vec<_> = learnt
        .set_aside
        .iter()
        .map(|row| (row.completion, row.reason))
        .collect();
    let expected = [
        (2, Reason::NotPositive),
        (3, Reason::NotPositive),
        (4, Reason::NotPositive),
        (5, Reason::OutOfRange),
        (6, Reason::OutOfRange),
        (7, Reason::UnknownSubject),
        (8, Reason::NotPositive),
    ];
    assert_eq!(told, expected.map(|(n, reason)| (completion(n), reason)));
    assert_eq!(learnt.n_jobs(), 1);
    let alone = learn(&usual(), &[good], &Terms::USUAL);
    let of = |learnt: &Learnt| {
        learnt
            .figure("strip", site(1), Who::AsSoFar)
            .expect("known")
    };
    assert_eq!(of(&learnt), of(&alone));
}

#[test]
fn whoever_worked_there_so_far_is_who_is_expected_next() {
    let mut jobs: Vec<Job> = (1..7).map(|n| job(n, "strip", (1, 1), 20.0)).collect();
    jobs.extend((7..13).map(|n| job(n, "strip", (2, 2), 45.0)));
    let learnt = learn(&usual(), &jobs, &Terms::USUAL);
    let of = |at: u128, who| learnt.figure("strip", site(at), who).expect("known");
    let by = |n| Who::Contractor(contractor(n));
    assert_eq!(of(1, Who::AsSoFar), of(1, by(1)));
    assert!(of(1, Who::AsSoFar).median() < of(1, Who::Anyone).median());
    // Somebody of whom nothing is known is less certain, and so is a site of which nothing is known.
    assert!(of(1, by(9)).sd_log > of(1, by(1)).sd_log);
    assert!(of(9, by(1)).sd_log > of(1, by(1)).sd_log);
    // Of two who worked there, the next job is less certain than of one: nobody says which of them comes.
    jobs.extend((13..19).map(|n| job(n, "strip", (1, 2), 45.0)));
    let mixed = learn(&usual(), &jobs, &Terms::USUAL);
    let mixed = mixed.figure("strip", site(1), Who::AsSoFar).expect("known");
    assert_eq!(mixed.n_jobs, 12);
    assert!(mixed.next_sd_log > of(1, by(1)).next_sd_log);
}

#[test]
fn old_jobs_fade() {
    let of = |months: u32| {
        let jobs: Vec<Job> = (1..5)
            .map(|n| Job {
                months,
                ..job(n, "strip", (1, 1), 50.0)
            })
            .collect();
        learn(&usual(), &jobs, &plain())
            .figure("strip", site(1), Who::AsSoFar)
            .expect("known")
    };
    let (new, old) = (of(0), of(33));
    assert!(old.median() < new.median() && old.median() > new.usual);
    // Kept to the third year: 0.97 to the 33rd is 0.366.
    assert!((old.weight / new.weight - 0.366).abs() < 1e-3);
}

#[test]
fn a_stage_that_took_twice_its_hours_halves_each_of_its_rates() {
    let line = |activity: &str, per_h, hours| Reckoned {
        activity: activity.to_owned(),
        per_h,
        hours,
    };
    let reckoned = [line("strip", 30.0, 3.0), line("edge", 25.0, 1.0)];
    let found = paces(&reckoned, 1.0, 8.0);
    let told: Vec<_> = found
        .iter()
        .map(|pace| (pace.activity.as_str(), pace.per_h, pace.share))
        .collect();
    assert_eq!(told, [("strip", 15.0, 0.75), ("edge", 12.5, 0.25)]);
    // What is paid beside work is in the reported hours and not in the reckoned ones.
    let paid = paces(&reckoned, 1.25, 5.0);
    assert_eq!(paid[0].per_h.to_bits(), 30.0_f64.to_bits());
    // A quarter of an hour has half a word.
    let short = paces(&[line("strip", 30.0, 0.25)], 1.0, 0.25);
    assert!((short[0].share - 0.5).abs() < 1e-15);
    assert!(paces(&reckoned, 1.0, 0.0).is_empty());
    assert!(paces(&[], 1.0, 8.0).is_empty());
}

#[test]
fn a_row_of_a_table_holds_four_of_five() {
    let prior = Prior::of_range([15.0, 30.0, 50.0]).expect("in order");
    assert!((prior.median() - 30.0).abs() < 1e-12);
    // P10 and P90 of a lognormal lie 2.5631 deviations apart.
    assert!((prior.sd() - (50.0_f64 / 15.0).ln() / 2.5631).abs() < 1e-5);
    assert!((Prior::of_bounds([20.0, 45.0]).expect("in order").median() - 30.0).abs() < 1e-12);
    assert!(Prior::of_bounds([7.0, 7.0]).expect("narrow").sd() > 0.0);
    for faulty in [
        [0.0, 1.0, 2.0],
        [2.0, 1.0, 3.0],
        [1.0, 3.0, 2.0],
        [f64::NAN, 1.0, 2.0],
    ] {
        assert_eq!(Prior::of_range(faulty), None);
    }
    assert_eq!(Prior::of_bounds([f64::NAN, 1.0]), None);
    assert_eq!(Prior::of_range([1.0, 2.0, f64::INFINITY]), None);
}

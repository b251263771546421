//! Worth over years against published factors, the filter of gloss against another library, and laws of both.

use domain::programme::gloss::{GlossState, Noise, Taken};
use domain::programme::worth::{Cost, DiscountRate, annual_equivalent, net_present_value};
use proptest::prelude::*;

const NOISE: Noise = Noise {
    gloss_per_kpass: 0.05,
    loss_per_kpass: 0.002,
    reading: 4.0,
};

const NEW: GlossState = GlossState {
    gloss: 80.0,
    loss: 1.5,
    gloss_variance: 25.0,
    covariance: 0.0,
    loss_variance: 0.36,
};

/// A rate that a test knows to be one.
macro_rules! rate {
    ($share:expr) => {
        DiscountRate::of($share).unwrap()
    };
}

fn near(actual: f64, expected: f64, tolerance: f64) {
    assert!(
        (actual - expected).abs() <= tolerance,
        "{actual} is not {expected} ± {tolerance}"
    );
}

// Factors by the standard formulas to four decimals; the column of 3 % is as NIST Handbook 135 (table A-1) prints it, from memory.
#[test]
fn present_values_are_the_factors_of_the_tables() {
    let tables = [
        (
            0.03,
            [0.8626, 0.7441, 0.5537],
            [4.5797, 8.5302, 11.9379, 14.8775, 19.6004],
        ),
        (
            0.035,
            [0.8420, 0.7089, 0.5026],
            [4.5151, 8.3166, 11.5174, 14.2124, 18.3920],
        ),
        (
            0.05,
            [0.7835, 0.6139, 0.3769],
            [4.3295, 7.7217, 10.3797, 12.4622, 15.3725],
        ),
        (
            0.07,
            [0.7130, 0.5083, 0.2584],
            [4.1002, 7.0236, 9.1079, 10.5940, 12.4090],
        ),
    ];
    for (share, single, uniform) in tables {
        for (years, factor) in [5.0, 10.0, 20.0].into_iter().zip(single) {
            near(rate!(share).present_of_one(years), factor, 5.1e-5);
        }
        for (years, factor) in [5, 10, 15, 20, 30].into_iter().zip(uniform) {
            near(rate!(share).present_of_annual(years), factor, 5.1e-5);
        }
    }
}

// 1,000 m², 15 years, 3.5 %: 18 and then 9 a year comes to 121,657; 45 and then 5.5 a year to 108,346 (by hand from the factors).
#[test]
fn the_dearer_floor_is_the_cheaper_over_its_life() {
    for (capital, yearly, expected) in [(18.0, 9.0, 121_657.0), (45.0, 5.5, 108_346.0)] {
        let first = Cost {
            month: 0,
            amount: capital * 1e3,
        };
        let later = (1..=15).map(|year| Cost {
            month: 12 * year,
            amount: yearly * 1e3,
        });
        let costs: Vec<_> = std::iter::once(first).chain(later).collect();
        near(net_present_value(&costs, rate!(0.035)), expected, 0.6);
    }
}

#[test]
fn without_interest_money_is_worth_its_sum_and_no_years_have_no_yearly_sum() {
    near(rate!(0.0).present_of_annual(7), 7.0, 0.0);
    assert_eq!(annual_equivalent(70.0, rate!(0.0), 7), Some(10.0));
    assert_eq!(annual_equivalent(70.0, rate!(0.035), 0), None);
    for share in [-0.01, 1.01, f64::NAN, f64::INFINITY] {
        assert_eq!(DiscountRate::of(share), None);
    }
    // (1.035)(1.02) - 1
    near(rate!(0.035).nominal(0.02), 0.0557, 1e-12);
}

/// Gloss that falls evenly, as the table has it: the same prediction with the slopes of a straight line.
fn after(state: GlossState, kpasses: f64) -> GlossState {
    let gloss = state.gloss - state.loss * kpasses;
    state.carried(gloss, [1.0, -kpasses], (kpasses, &NOISE))
}

// Source: filterpy 2.0.0; table kalman_gloss.csv.
#[test]
fn gloss_agrees_with_filterpy() {
    let mut state = NEW;
    let mut n_rows = 0;
    let table = include_str!("../reference/kalman_gloss.csv");
    for line in table.lines().filter(|line| !line.starts_with('#')).skip(1) {
        let row: Vec<f64> = line
            .split(',')
            .map(|field| field.parse().unwrap())
            .collect();
        let prior = after(state, row[1]);
        near(prior.gloss, row[3], 1e-8);
        let Taken::Counted(next) = prior.with_reading(row[2], &NOISE) else {
            panic!("{line} is not counted");
        };
        near(next.gloss, row[4], 1e-8);
        near(next.loss, row[5], 1e-8);
        near(next.gloss_variance, row[6], 1e-8);
        near(next.covariance, row[7], 1e-8);
        near(next.loss_variance, row[8], 1e-8);
        state = next;
        n_rows += 1;
    }
    assert_eq!(n_rows, 20);
}

#[test]
fn a_reading_four_deviations_off_does_not_count() {
    let four = 4.0 * 29.0_f64.sqrt();
    let within = NEW.with_reading(80.0 - four + 0.01, &NOISE);
    assert!(matches!(within, Taken::Counted(_)));
    let beyond = NEW.with_reading(80.0 - four - 0.01, &NOISE);
    assert!(matches!(beyond, Taken::Unlikely { off_by } if off_by < -4.0));
}

proptest! {
    #[test]
    fn a_higher_rate_never_raises_what_costs_are_worth(
        costs in proptest::collection::vec((0_u32..600, 0.0..1e6_f64), 0..40),
        low in 0.0..0.5_f64,
        more in 0.0..0.5_f64,
    ) {
        let costs: Vec<_> = costs.into_iter().map(|(month, amount)| Cost { month, amount }).collect();
        let dear = net_present_value(&costs, rate!(low));
        prop_assert!(net_present_value(&costs, rate!(low + more)) <= dear * (1.0 + 1e-12));
    }

    #[test]
    fn the_yearly_sum_is_worth_what_it_stands_for(
        present in 1.0..1e6_f64,
        share in 0.0..1.0_f64,
        years in 1_u32..60,
    ) {
        let yearly = annual_equivalent(present, rate!(share), years).unwrap();
        let costs: Vec<_> = (1..=years).map(|year| Cost { month: 12 * year, amount: yearly }).collect();
        prop_assert!((net_present_value(&costs, rate!(share)) / present - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_reading_narrows_and_traffic_widens(
        kpasses in 0.0..20.0_f64,
        share in -0.99..0.99_f64,
    ) {
        let worn = after(NEW, kpasses);
        prop_assert!(worn.gloss_variance >= NEW.gloss_variance);
        let reading = worn.gloss + share * 4.0 * (worn.gloss_variance + NOISE.reading).sqrt();
        let Taken::Counted(read) = worn.with_reading(reading, &NOISE) else {
            return Err(TestCaseError::fail("not counted"));
        };
        prop_assert!(read.gloss_variance < worn.gloss_variance);
        prop_assert!(read.loss_variance > 0.0 && read.loss_variance <= worn.loss_variance);
    }
}

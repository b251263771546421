//! How long the least-cost pack cover takes; the bar is 1 ms at 10 000 grid steps.

use std::hint::black_box;

use criterion::Criterion;
use domain::estimate::packs::{Pack, cover_packs};

fn packs(sizes_and_prices: &[(i64, i64)]) -> Vec<Pack> {
    sizes_and_prices
        .iter()
        .map(|&(size_ml, price)| Pack { size_ml, price })
        .collect()
}

fn main() {
    let mut criterion = Criterion::default().configure_from_args();

    // Five sizes on a grid of 50 mL and 500 L of demand: 10 000 steps.
    let metric = packs(&[
        (250, 58_500),
        (1_000, 170_000),
        (2_500, 335_100),
        (15_050, 1_499_700),
        (25_000, 2_403_000),
    ]);
    criterion.bench_function("cover of 10 000 grid steps", |b| {
        b.iter(|| cover_packs(black_box(500_000), black_box(&metric)));
    });

    // US gallons share no measure but the millilitre and cost nearly the same by the litre.
    let gallons = packs(&[(946, 62_000), (3_785, 200_000), (18_927, 1_000_000)]);
    criterion.bench_function("cover of 5000 L in US gallons", |b| {
        b.iter(|| cover_packs(black_box(5_000_000), black_box(&gallons)));
    });

    criterion.final_summary();
}

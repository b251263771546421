//! Sampling by attributes: how many units of a floor are looked at, how many may fail, and what such a sample misses.
//!
//! Single sampling plans for normal inspection at general level II. Source: MIL-STD-105E (10 May 1989), tables I and
//! II-A, whose plans lie on diagonals of code letter and acceptance quality limit; ISO 2859-1 carries the same plans. Hold
//! a bought copy of the standard beside the figures before conformity with it is claimed.

/// Sample sizes by code letter: A to R without I and O.
const SIZES: [u64; 16] = [
    2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1_250, 2_000,
];

/// The largest lot of each code letter at general level II; above the last the letter is Q.
const LOTS: [u64; 14] = [
    8, 15, 25, 50, 90, 150, 280, 500, 1_200, 3_200, 10_000, 35_000, 150_000, 500_000,
];

/// The acceptance quality limits in percent nonconforming.
const LIMITS: [f64; 16] = [
    0.010, 0.015, 0.025, 0.040, 0.065, 0.10, 0.15, 0.25, 0.40, 0.65, 1.0, 1.5, 2.5, 4.0, 6.5, 10.0,
];

/// An acceptance quality limit of the series, 0.010 to 10 percent nonconforming.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct QualityLimit(usize);

impl QualityLimit {
    /// The limit of a figure in percent; `None` for one that is not in the series.
    pub fn of_pct(pct: f64) -> Option<Self> {
        let found = LIMITS.iter().position(|limit| (limit - pct).abs() < 1e-9);
        found.map(Self)
    }

    /// Its figure in percent.
    pub fn pct(self) -> f64 {
        LIMITS.get(self.0).copied().unwrap_or_default()
    }
}

/// A single sampling plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SamplingPlan {
    /// Units that are looked at; never more than there are.
    pub sample: u64,
    /// The lot passes with up to so many failed units in the sample.
    pub accept: u64,
    /// Whether every unit is looked at, because the plan asks for as many as there are or more.
    pub all: bool,
}

impl SamplingPlan {
    /// The plan for a lot of so many units.
    pub fn new(lot: u64, limit: QualityLimit) -> Self {
        let letter = LOTS
            .iter()
            .position(|largest| lot <= *largest)
            .unwrap_or(LOTS.len());
        let (sample, accept) = resolve(letter, limit.0);
        Self {
            sample: sample.min(lot),
            accept,
            all: sample >= lot,
        }
    }

    /// The chance that a lot with `failing` of its `lot` units bad passes: hypergeometric.
    pub fn passes(self, lot: u64, failing: u64) -> f64 {
        let failing = failing.min(lot);
        let sample = self.sample.min(lot);
        let sound = lot.saturating_sub(failing);
        if failing <= self.accept {
            return 1.0;
        }
        // The fewest bad units that a sample can hold, and the chance of just those; then the next by their ratio.
        let fewest = sample.saturating_sub(sound);
        if fewest > self.accept {
            return 0.0;
        }
        let mut log = 0.0;
        for drawn in 0..sample {
            // The first `fewest` draws are bad, the others sound, in as many orders as there are.
            let (good, of) = if drawn < fewest {
                (failing.saturating_sub(drawn), drawn.saturating_add(1))
            } else {
                (sound.saturating_sub(drawn.saturating_sub(fewest)), 1)
            };
            log += (float(good) / float(lot.saturating_sub(drawn))).ln();
            if drawn < fewest {
                log += (float(sample.saturating_sub(drawn)) / float(of)).ln();
            }
        }
        let ratio = |bad: u64| {
            let left = float(failing.saturating_sub(bad)) * float(sample.saturating_sub(bad));
            let next = bad.saturating_add(1);
            let right = float(next) * float(sound.saturating_add(next).saturating_sub(sample));
            left / right
        };
        sum(log.exp(), fewest, self.accept, ratio)
    }

    /// The chance that a lot out of steady work of which `share` (0 to 1) fails passes: binomial.
    pub fn passes_share(self, share: f64) -> f64 {
        if share <= 0.0 {
            return 1.0;
        }
        if share >= 1.0 {
            return if self.accept >= self.sample { 1.0 } else { 0.0 };
        }
        let none = (float(self.sample) * (-share).ln_1p()).exp();
        let ratio = |bad: u64| {
            float(self.sample.saturating_sub(bad)) / float(bad.saturating_add(1)) * share
                / (1.0 - share)
        };
        sum(none, 0, self.accept, ratio)
    }
}

/// Adds chances from that of `first` up to that of `last`, each the one before times its ratio.
fn sum(chance: f64, first: u64, last: u64, ratio: impl Fn(u64) -> f64) -> f64 {
    let (mut chance, mut total) = (chance, chance);
    for bad in first..last {
        chance *= ratio(bad).max(0.0);
        total += chance;
    }
    total.min(1.0)
}

/// Sample size and acceptance number after the arrows of the table were followed.
fn resolve(letter: usize, limit: usize) -> (u64, u64) {
    let mut letter = letter;
    loop {
        let size = SIZES.get(letter).copied().unwrap_or(2_000);
        let accept = match letter.saturating_add(limit) {
            14 => Some(0),
            17 => Some(1),
            18 => Some(2),
            19 => Some(3),
            20 => Some(5),
            21 => Some(7),
            22 => Some(10),
            23 => Some(14),
            24 => Some(21),
            _ => None,
        };
        if let Some(accept) = accept {
            return (size, accept);
        }
        letter = match letter.saturating_add(limit) {
            // Up, to the smaller sample; above the first letter there is none.
            15 if letter > 0 => letter.saturating_sub(1),
            25.. => letter.saturating_sub(1),
            _ => letter.saturating_add(1),
        };
    }
}

/// A count as a float; counts here are far below 2^53.
fn float(count: u64) -> f64 {
    crate::quantity::float(i64::try_from(count).unwrap_or(i64::MAX))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::{LIMITS, QualityLimit, SamplingPlan};

    #[test]
    fn a_small_lot_is_looked_at_whole() {
        // Letter A asks for 2 of up to 8, and at 0.10 % the arrow leads down to 125.
        let limit = QualityLimit::of_pct(0.10).expect("of the series");
        let plan = SamplingPlan::new(8, limit);
        assert_eq!((plan.sample, plan.accept, plan.all), (8, 0, true));
        assert!(QualityLimit::of_pct(3.0).is_none());
    }

    #[test]
    fn published_points_of_the_operating_characteristic_are_met() {
        // Source: binomial sums by scipy 1.17.1, four digits: n = 125, c = 7 at 2.5 % and 10 %.
        let plan = SamplingPlan {
            sample: 125,
            accept: 7,
            all: false,
        };
        assert!((plan.passes_share(0.025) - 0.9864).abs() < 5e-5);
        assert!((plan.passes_share(0.10) - 0.0601).abs() < 5e-5);
    }

    /// Chances by counting: every sample of a small lot, drawn one by one.
    fn counted(lot: u64, sample: u64, failing: u64, accept: u64) -> f64 {
        let (mut passed, mut all) = (0_u32, 0_u32);
        for mask in 0_u32..(1 << lot) {
            if u64::from(mask.count_ones()) == sample {
                let bad = u64::from((mask & ((1_u32 << failing) - 1)).count_ones());
                all += 1;
                passed += u32::from(bad <= accept);
            }
        }
        f64::from(passed) / f64::from(all)
    }

    proptest! {
        #[test]
        fn chances_are_those_of_counting_every_sample(
            lot in 1_u64..13,
            sample in 1_u64..13,
            failing in 0_u64..13,
            accept in 0_u64..5,
        ) {
            let (sample, failing) = (sample.min(lot), failing.min(lot));
            let plan = SamplingPlan { sample, accept, all: false };
            let expected = counted(lot, sample, failing, accept);
            prop_assert!((plan.passes(lot, failing) - expected).abs() < 1e-12);
        }

        #[test]
        fn more_failures_never_pass_more_easily(
            lot in 2_u64..5_000,
            limit in 0_usize..LIMITS.len(),
            failing in 0_u64..4_999,
        ) {
            let plan = SamplingPlan::new(lot, QualityLimit(limit));
            let failing = failing.min(lot - 1);
            prop_assert!(plan.passes(lot, failing + 1) <= plan.passes(lot, failing) + 1e-12);
        }
    }
}

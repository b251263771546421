//! How far sums of uncertain amounts may turn out from what was estimated: lognormal amounts that share a factor.
//!
//! Each amount is `median · e^(σ (√ρ Z₀ + √(1-ρ) Z))`: what slows one job down at a site slows others too (Z₀). Their sum is
//! taken as lognormal with the same mean and variance (Fenton-Wilkinson), within 0.3 % of a simulation where σ is at most
//! 0.5. Percentiles are never added: the sum of P80s is not the P80 of the sum.

use std::collections::BTreeMap;

use crate::normal::{Z80, Z90, cdf};

/// The largest σ for which the sum is good enough.
pub const MAX_SIGMA: f64 = 0.6;

/// The σ of a lognormal amount by its median and its 80th percentile; 0 where these are none or the same.
pub fn sigma_of(p50: f64, p80: f64) -> f64 {
    let sigma = (p80 / p50).ln() / Z80;
    if sigma.is_finite() {
        sigma.max(0.0)
    } else {
        0.0
    }
}

/// What an amount comes to in half, in four of five and in nine of ten cases at most.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Percentiles {
    /// In half of the cases.
    pub p50: f64,
    /// In four of five.
    pub p80: f64,
    /// In nine of ten.
    pub p90: f64,
}

impl Percentiles {
    /// The same in another unit.
    #[must_use]
    pub fn times(self, each: f64) -> Self {
        Self {
            p50: self.p50 * each,
            p80: self.p80 * each,
            p90: self.p90 * each,
        }
    }
}

/// A sum of uncertain amounts in the making. Amounts of the same σ are kept as two numbers, however many there are.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sum {
    /// By the bits of σ, whose order is that of positive floats: the sum of means, and of their squares.
    by_sigma: BTreeMap<u64, (f64, f64)>,
}

impl Sum {
    /// Adds an amount `times` times, each time by chance of its own. Nothing and less counts for nothing; σ is taken within
    /// 0 and [`MAX_SIGMA`].
    pub fn add(&mut self, median: f64, sigma: f64, times: f64) {
        if !(median > 0.0 && times > 0.0) {
            return;
        }
        self.add_like((median * times, median * median * times), sigma);
    }

    /// Adds amounts of one σ, by the sum of their medians and that of the squares of these, each by chance of its own.
    /// Nothing and less counts for nothing; σ is taken within 0 and [`MAX_SIGMA`].
    pub fn add_like(&mut self, (medians, squares): (f64, f64), sigma: f64) {
        if !(medians > 0.0 && squares > 0.0) {
            return;
        }
        let sigma = sigma.clamp(0.0, MAX_SIGMA);
        let above = (sigma * sigma / 2.0).exp();
        let group = self.by_sigma.entry(sigma.to_bits()).or_default();
        group.0 += medians * above;
        group.1 += squares * above * above;
    }

    /// The same amounts in another unit, at so many of it each.
    #[must_use]
    pub fn scaled(&self, each: f64) -> Self {
        let groups = self.by_sigma.iter();
        let scaled =
            groups.map(|(sigma, (means, squares))| (*sigma, (means * each, squares * each * each)));
        Self {
            by_sigma: scaled.collect(),
        }
    }

    /// Adds all amounts of another sum.
    pub fn add_all(&mut self, other: &Self) {
        for (sigma, (means, squares)) in &other.by_sigma {
            let group = self.by_sigma.entry(*sigma).or_default();
            group.0 += means;
            group.1 += squares;
        }
    }

    /// The same amounts so many times, each time by chance of their own.
    #[must_use]
    pub fn times(&self, times: f64) -> Self {
        let groups = self.by_sigma.iter();
        let more =
            groups.map(|(sigma, (means, squares))| (*sigma, (means * times, squares * times)));
        Self {
            by_sigma: more.collect(),
        }
    }

    /// Amounts of one σ each: the σ, the sum of their means, and that of the squares of these.
    pub(crate) fn groups(&self) -> impl Iterator<Item = (f64, (f64, f64))> {
        let groups = self.by_sigma.iter();
        groups.map(|(sigma, sums)| (f64::from_bits(*sigma), *sums))
    }

    /// Whether there is nothing in it.
    pub fn is_empty(&self) -> bool {
        self.by_sigma.is_empty()
    }

    /// The mean.
    pub fn mean(&self) -> f64 {
        self.by_sigma.values().map(|(means, _)| means).sum()
    }

    /// Its percentiles, where the logarithms of any two amounts are correlated by `rho` times nothing but their σ.
    pub fn percentiles(&self, rho: f64) -> Percentiles {
        let Some((m, s)) = self.lognormal(rho) else {
            return Percentiles::default();
        };
        Percentiles {
            p50: m.exp(),
            p80: (m + s * Z80).exp(),
            p90: (m + s * Z90).exp(),
        }
    }

    /// How likely the sum is no more than `limit`, from 0 to 1; a sum of nothing always is.
    pub fn chance_within(&self, limit: f64, rho: f64) -> f64 {
        let Some((m, s)) = self.lognormal(rho) else {
            return 1.0;
        };
        if limit <= 0.0 {
            return 0.0;
        }
        if s <= 0.0 {
            return if limit.ln() >= m { 1.0 } else { 0.0 };
        }
        cdf((limit.ln() - m) / s)
    }

    /// Mean and σ of the logarithm of the sum; `None` for a sum of nothing.
    fn lognormal(&self, rho: f64) -> Option<(f64, f64)> {
        let mean = self.mean();
        if mean <= 0.0 {
            return None;
        }
        let mut variance = 0.0;
        for (one, (means, squares)) in &self.by_sigma {
            let one = f64::from_bits(*one);
            for (other, (others, _)) in &self.by_sigma {
                variance += means * others * (rho * one * f64::from_bits(*other)).exp_m1();
            }
            // An amount is wholly correlated with itself.
            variance += squares * ((one * one).exp_m1() - (rho * one * one).exp_m1());
        }
        let s2 = (variance / (mean * mean)).ln_1p();
        Some((mean.ln() - s2 / 2.0, s2.sqrt()))
    }
}

#[cfg(test)]
mod tests {
    use super::{Sum, Z80};

    #[test]
    fn how_likely_a_sum_stays_within_its_own_percentile_is_that_percentile() {
        let mut sum = Sum::default();
        for median in [120.0, 60.0, 30.0] {
            sum.add(median, 0.3, 1.0);
        }
        let found = sum.percentiles(0.3);
        for (limit, p) in [(found.p50, 0.5), (found.p80, 0.8), (found.p90, 0.9)] {
            assert!((sum.chance_within(limit, 0.3) - p).abs() < 1e-6);
        }
        let none = Sum::default();
        assert!((none.chance_within(0.0, 0.3) - 1.0).abs() < f64::EPSILON);
    }

    #[test]
    fn sums_of_parts_are_the_sum_of_all() {
        let (mut one, mut other, mut all) = (Sum::default(), Sum::default(), Sum::default());
        for (n, median) in [5.0, 80.0, 12.0, 900.0].into_iter().enumerate() {
            let part = if n % 2 == 0 { &mut one } else { &mut other };
            part.add(median, 0.2, 3.0);
            all.add(median, 0.2, 3.0);
        }
        one.add_all(&other);
        let (one, all) = (one.percentiles(0.3), all.percentiles(0.3));
        assert!((one.p80 - all.p80).abs() < 1e-9 * all.p80);
    }

    /// Floors of a site, each with an amount that goes with time and one that goes with what is used up: median and σ.
    const FLOORS: [(f64, f64); 10] = [
        (120.0, 0.3),
        (40.0, 0.2),
        (95.0, 0.3),
        (10.0, 0.2),
        (60.0, 0.3),
        (25.0, 0.2),
        (30.0, 0.3),
        (12.0, 0.2),
        (80.0, 0.3),
        (33.0, 0.2),
    ];

    fn of(amounts: &[(f64, f64)]) -> Sum {
        let mut sum = Sum::default();
        for (median, sigma) in amounts {
            sum.add(*median, *sigma, 1.0);
        }
        sum
    }

    #[test]
    fn a_site_turns_out_between_independent_and_all_alike() {
        let sum = of(&FLOORS);
        let [alone, shared, alike] = [0.0, 0.3, 1.0].map(|rho| sum.percentiles(rho));
        for found in [alone, shared, alike] {
            assert!(found.p50 < found.p80 && found.p80 < found.p90, "{found:?}");
        }
        assert!(alone.p80 < shared.p80 && shared.p80 < alike.p80);
        assert!(alone.p90 < shared.p90 && shared.p90 < alike.p90);
        let added: f64 = FLOORS
            .iter()
            .map(|floor| of(&[*floor]).percentiles(0.3).p80)
            .sum();
        assert!(shared.p80 < 0.97 * added, "{} {added}", shared.p80);
    }

    #[test]
    fn where_all_turn_out_alike_and_only_there_percentiles_add_up() {
        let labour = FLOORS.map(|(median, _)| (median, 0.3));
        let added: f64 = labour
            .iter()
            .map(|(median, sigma)| median * (sigma * Z80).exp())
            .sum();
        let sum = of(&labour);
        assert!((sum.percentiles(1.0).p80 / added - 1.0).abs() < 1e-9);
        assert!(sum.percentiles(0.9).p80 < 0.999 * added);
    }

    /// A seeded stream of standard normal numbers: splitmix64, then Box and Muller.
    struct Normals(u64);

    impl Normals {
        /// Within 0 and 1, neither included.
        fn uniform(&mut self) -> f64 {
            self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
            let mut z = self.0;
            z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            z ^= z >> 31;
            (f64::from(u32::try_from(z >> 32).unwrap()) + 0.5) / 4_294_967_296.0
        }

        fn next(&mut self) -> f64 {
            let radius = (-2.0 * self.uniform().ln()).sqrt();
            radius * (std::f64::consts::TAU * self.uniform()).cos()
        }
    }

    #[test]
    fn percentiles_are_those_of_a_simulation_with_a_shared_factor() {
        const DRAWS: usize = 100_000;
        let found_by_rho = [0.0, 0.3, 0.6].map(|rho: f64| (rho, of(&FLOORS).percentiles(rho)));
        for (rho, found) in found_by_rho {
            let mut normals = Normals(7);
            let mut drawn: Vec<f64> = (0..DRAWS)
                .map(|_| {
                    let common = rho.sqrt() * normals.next();
                    let of_one = |(median, sigma): &(f64, f64)| {
                        median * (sigma * (common + (1.0 - rho).sqrt() * normals.next())).exp()
                    };
                    FLOORS.iter().map(of_one).sum()
                })
                .collect();
            drawn.sort_by(f64::total_cmp);
            // 0.3 % by which the method may err, and four standard errors of the simulation's P90.
            for (one, tenths) in [(found.p50, 5), (found.p80, 8), (found.p90, 9)] {
                let simulated = drawn[DRAWS / 10 * tenths];
                assert!(
                    (one / simulated - 1.0).abs() < 0.007,
                    "{rho} {one} {simulated}"
                );
            }
        }
    }
}

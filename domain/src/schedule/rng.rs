//! The one source of chance: xoshiro256++ (Blackman and Vigna), seeded through SplitMix64.
//!
//! A stream is named by seed, purpose and index, so that one more consumer does not shift what the others draw.

/// What a stream is drawn for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Purpose {
    /// Search among lists of steps.
    Search,
    /// Durations and waits of the Monte Carlo.
    Chance,
    /// Litres and hours of what work may cost.
    Cost,
}

/// A stream of random numbers.
#[derive(Debug, Clone)]
pub(crate) struct Rng([u64; 4]);

impl Rng {
    /// The stream of this seed, purpose and index.
    pub(crate) fn new(seed: u64, purpose: Purpose, index: u64) -> Self {
        let purpose = match purpose {
            Purpose::Search => 0x51,
            Purpose::Chance => 0xC4,
            Purpose::Cost => 0xC0,
        };
        let mut state = seed;
        for word in [purpose, index] {
            state = mix(state.wrapping_add(0x9E37_79B9_7F4A_7C15)) ^ word;
        }
        let mut next = || {
            state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
            mix(state)
        };
        Self([next(), next(), next(), next()])
    }

    /// The next 64 bits.
    pub(crate) fn bits(&mut self) -> u64 {
        let s = &mut self.0;
        let result = s[0].wrapping_add(s[3]).rotate_left(23).wrapping_add(s[0]);
        let shifted = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= shifted;
        s[3] = s[3].rotate_left(45);
        result
    }

    /// An index below `n`, which is at least 1. The bias is below n / 2^64.
    pub(crate) fn below(&mut self, n: usize) -> usize {
        ((u128::from(self.bits()) * n as u128) >> 64) as usize
    }

    /// A number in [0, 1).
    pub(crate) fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Whether an event of chance `num / den` happens.
    pub(crate) fn chance(&mut self, num: usize, den: usize) -> bool {
        self.below(den) < num
    }

    /// A standard normal number (Box and Muller).
    pub(crate) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.unit()).cos()
    }

    /// Shuffles a slice (Fisher and Yates).
    pub(crate) fn shuffle<T>(&mut self, items: &mut [T]) {
        for i in (1..items.len()).rev() {
            items.swap(i, self.below(i + 1));
        }
    }
}

fn mix(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

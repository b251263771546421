//! What is usual before a job has told anything.

use crate::normal::Z90;

/// Nobody knows a figure of the trade better than by a twentieth, however narrow the range is that a table gives.
const LEAST_SD: f64 = 0.05;

/// What is usual for a subject, on the logarithmic scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prior {
    mean: f64,
    sd: f64,
}

impl Prior {
    /// Takes mean and standard deviation of the logarithm; `None` where one is no number, or the deviation is not above 0
    /// or beyond 5 (a factor of 150 either way is no knowledge).
    pub fn new(mean: f64, sd: f64) -> Option<Self> {
        let is_usable = mean.is_finite() && sd > 0.0 && sd <= 5.0;
        is_usable.then_some(Self { mean, sd })
    }

    /// From a row of a table: the typical value is the median, and four of five lie between low and high.
    ///
    /// The median is the table's typical one and not the middle of the range, so that what is learnt from no job is what
    /// plans use without it. `None` where the three are not positive and in order.
    pub fn of_range([low, typical, high]: [f64; 3]) -> Option<Self> {
        if !(low > 0.0 && low <= typical && typical <= high) {
            return None;
        }
        // Four of five lie within so many deviations of the middle.
        let sd = (high / low).ln() / (2.0 * Z90);
        Self::new(typical.ln(), sd.max(LEAST_SD))
    }

    /// From a range of which nothing typical is told: the median is its geometric middle. `None` as in [`Prior::of_range`].
    pub fn of_bounds([low, high]: [f64; 2]) -> Option<Self> {
        // Rounding may carry the root of a narrow range out of it.
        let middle = (low * high).sqrt().max(low).min(high);
        Self::of_range([low, middle, high])
    }

    /// Mean of the logarithm.
    pub const fn mean(self) -> f64 {
        self.mean
    }

    /// Standard deviation of the logarithm.
    pub const fn sd(self) -> f64 {
        self.sd
    }

    /// The usual value: half of all lie below.
    pub fn median(self) -> f64 {
        self.mean.exp()
    }
}

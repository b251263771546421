//! How a film comes onto a floor: bay by bay, so that only what was laid within the drying time is wet at once.

use crate::physics::drying::{CRITICAL_SHARE, WetFilm};

/// Into how many parts what is laid over a while is cut; more of them hardly change a wait.
const N_PARTS: usize = 8;
/// The same, to reckon with.
const PARTS: f64 = 8.0;
/// The longest while that is followed, in s: one shift, after which the crew leaves and the air of the room clears.
const LONGEST_S: f64 = 8.0 * 3_600.0;

/// How much of a floor is laid, and over how long.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Laying {
    /// The area in m².
    pub area_m2: f64,
    /// The seconds from the first bay to the end of the last; none or less where all of it is wet at the same time.
    pub over_s: f64,
}

impl Laying {
    /// All of an area at the same time.
    pub const fn at_once(area_m2: f64) -> Self {
        Self {
            area_m2,
            over_s: 0.0,
        }
    }

    /// What of it is wet at the same time, in m², where each bay stays wet for so many seconds.
    pub fn wet_m2(&self, wet_s: f64) -> f64 {
        if wet_s < self.over_s {
            self.area_m2 * wet_s / self.over_s
        } else {
            self.area_m2
        }
    }

    /// The parts that it is followed in: the area of one in m², how long each takes in s, and how many they are.
    pub(super) fn parts(&self) -> (f64, f64, usize) {
        if self.over_s <= 0.0 {
            return (self.area_m2, 0.0, 1);
        }
        let over_s = self.over_s.min(LONGEST_S);
        let area_m2 = self.area_m2 * over_s / self.over_s;
        (area_m2 / PARTS, over_s / PARTS, N_PARTS)
    }
}

/// What is wet on a floor: equal parts, laid one after the other, that all dry in the same air.
///
/// Time is told by the water that has left a part, as a share of what it held when it was laid, counted as if it still
/// dried at the constant rate.
pub(super) struct Wet {
    /// How much of that is left at the constant rate.
    constant: f64,
    slows: bool,
    /// How much has left a part that was laid at the first moment.
    gone: f64,
    /// At how much each part leaves the constant rate, the oldest first.
    ends: [f64; N_PARTS],
    n_laid: usize,
    /// How many of them have left it.
    n_over: usize,
    /// How many have not, to reckon with.
    n_constant: f64,
    /// How much these give off together; one part at the constant rate counts as one.
    slowing: f64,
}

impl Wet {
    pub(super) fn new(film: &WetFilm) -> Self {
        let slows = film.slows();
        Self {
            constant: if slows { 1.0 - CRITICAL_SHARE } else { 1.0 },
            slows,
            gone: 0.0,
            ends: [0.0; N_PARTS],
            n_laid: 0,
            n_over: 0,
            n_constant: 0.0,
            slowing: 0.0,
        }
    }

    /// Lays the next part.
    pub(super) fn lay(&mut self) {
        if let Some(place) = self.ends.get_mut(self.n_laid) {
            *place = self.gone + self.constant;
            self.n_laid = self.n_laid.saturating_add(1);
            self.n_constant += 1.0;
        }
    }

    /// What is left at the constant rate of each part that dries at it, the oldest first.
    fn left(&self) -> impl Iterator<Item = f64> {
        let ends = self.ends.get(self.n_over..self.n_laid);
        ends.unwrap_or_default().iter().map(|end| end - self.gone)
    }

    /// What is left of the oldest of them.
    fn oldest(&self) -> Option<f64> {
        self.left().next()
    }

    /// How many parts at the constant rate would give off as much as all do, in the mean over the next `by` of the water:
    /// never more than what they hold.
    pub(super) fn gives(&self, by: f64) -> f64 {
        let by = by.max(1e-9);
        let mut constant = self.n_constant;
        let mut sum = 0.0;
        // Only the oldest may leave it meanwhile.
        for left in self.left().take_while(|left| by > *left) {
            constant -= 1.0;
            sum += if self.slows {
                left + CRITICAL_SHARE * (1.0 - ((left - by) / CRITICAL_SHARE).exp())
            } else {
                left
            };
        }
        if self.slowing > 0.0 {
            sum += CRITICAL_SHARE * self.slowing * (1.0 - (-by / CRITICAL_SHARE).exp());
        }
        constant + sum / by
    }

    /// Takes so much of the water away from each part.
    pub(super) fn dry(&mut self, by: f64) {
        if self.slowing > 0.0 {
            self.slowing *= (-by / CRITICAL_SHARE).exp();
        }
        self.gone += by;
        while let Some(left) = self.oldest().filter(|left| *left <= 0.0) {
            self.n_over = self.n_over.saturating_add(1);
            self.n_constant -= 1.0;
            if self.slows {
                self.slowing += (left / CRITICAL_SHARE).exp();
            }
        }
    }
}

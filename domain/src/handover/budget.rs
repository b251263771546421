//! How much work the outlines of one file may make.
//!
//! Each edge of an outline is held against all others, so a file of outlines with many points takes time that its size does not
//! tell: thousands of spaces that share one drawing, or as many rings that are drawn back and forth.

/// How many pairs of points may be looked at for one file; a thousand outlines of 200 points each are within it.
const MAX_PAIRS: usize = 60_000_000;

/// What is left to be spent on the outlines of one file.
#[derive(Debug)]
pub struct OutlineBudget(usize);

impl Default for OutlineBudget {
    fn default() -> Self {
        Self(MAX_PAIRS)
    }
}

impl OutlineBudget {
    /// Takes what an outline of so many points costs; false if that is more than what is left.
    pub const fn take(&mut self, n_points: usize) -> bool {
        match self.0.checked_sub(n_points.saturating_mul(n_points)) {
            Some(left) => {
                self.0 = left;
                true
            }
            None => false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::OutlineBudget;

    #[test]
    fn honest_files_are_within_it_and_what_is_beyond_is_not_taken() {
        let mut budget = OutlineBudget::default();
        assert!((0..1_000).all(|_| budget.take(200)));
        assert!(!budget.take(5_000));
        assert!(budget.take(4));
        assert!(!budget.take(usize::MAX));
    }
}

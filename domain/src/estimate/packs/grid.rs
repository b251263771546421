//! The cheapest cover of every amount up to the demand, one grid step at a time.

use super::Kind;

/// What a cover costs, in the order in which covers are compared; sums of it keep that order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Cost {
    price: i64,
    volume: i64,
    n_packs: i64,
}

impl Cost {
    const NOTHING: Self = Self {
        price: 0,
        volume: 0,
        n_packs: 0,
    };

    /// Never saturates: at most `MAX_STEPS` packs of `MAX_PRICE` are summed, which is below 2^61.
    const fn with(self, kind: &Kind) -> Self {
        Self {
            price: self.price.saturating_add(kind.price),
            volume: self.volume.saturating_add(kind.size),
            n_packs: self.n_packs.saturating_add(1),
        }
    }
}

/// How many of each kind cover `demand` steps at least cost; O(demand · kinds) time, 24 bytes a step.
pub(super) fn cheapest(demand: usize, kinds: &[Kind]) -> Vec<i64> {
    let mut best = Vec::with_capacity(demand.saturating_add(1));
    best.push(Cost::NOTHING);
    for steps in 1..=demand {
        let cost = kinds
            .iter()
            .filter_map(|kind| with(&best, steps, kind))
            .min();
        best.push(cost.unwrap_or(Cost::NOTHING));
    }

    // Walking back, the first kind that is part of any cheapest cover is taken: kinds come larger first.
    let mut counts = vec![0; kinds.len()];
    let mut left = demand;
    while left > 0 {
        let goal = best.get(left).copied();
        let Some((count, kind)) = counts
            .iter_mut()
            .zip(kinds)
            .find(|(_, kind)| with(&best, left, kind) == goal)
        else {
            break;
        };
        *count += 1;
        left = left.saturating_sub(kind.steps);
    }
    counts
}

/// The cost of covering `steps` with one of `kind` and the cheapest cover of what is left.
fn with(best: &[Cost], steps: usize, kind: &Kind) -> Option<Cost> {
    best.get(steps.saturating_sub(kind.steps))
        .map(|cost| cost.with(kind))
}

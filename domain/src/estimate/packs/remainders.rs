//! The cheapest cover of a large demand, by the remainders that packs leave against the best one.
//!
//! Best packs (least price per step, the largest of these) fill any demand; other packs only shape the remainder
//! modulo the best size. By pigeonhole fewer others than that size are ever worth buying, so the least loss for each
//! remainder is a shortest path, and its work does not grow with the demand. The one thing a path cannot see is that
//! it may hold more than the demand itself; then the caller searches step by step.

use super::{Kind, MAX_STEPS, gcd};

/// What other packs lose against best packs of the same volume, in the order in which covers are compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Loss {
    /// Price beyond that of best packs, times the best size.
    price: i128,
    /// Packs beyond those of best packs, times the best size.
    n_packs: i64,
    /// Steps held by other packs: the fewer, the more best packs.
    volume: i64,
}

impl Loss {
    const NONE: Self = Self {
        price: 0,
        n_packs: 0,
        volume: 0,
    };

    const fn plus(self, other: Self) -> Self {
        Self {
            price: self.price.saturating_add(other.price),
            n_packs: self.n_packs.saturating_add(other.n_packs),
            volume: self.volume.saturating_add(other.volume),
        }
    }

    /// Equal in everything but the order of ties.
    const fn costs_the_same(self, other: Self) -> bool {
        self.price == other.price && self.n_packs == other.n_packs
    }
}

/// How many of each kind cover `demand` steps at least cost.
///
/// `None` where the best pack is too large to look at each remainder, or the cheapest shape needs more than the demand.
pub(super) fn cheapest(demand: i64, kinds: &[Kind]) -> Option<Vec<i64>> {
    // Larger kinds come first and `min_by` keeps the first of equals: the largest of the best unit price.
    let unit_price = |a: &&Kind, b: &&Kind| product(a.price, b.size).cmp(&product(b.price, a.size));
    let best = *kinds.iter().min_by(unit_price)?;
    if best.steps > MAX_STEPS {
        return None;
    }
    let loss_of = |kind: &Kind| Loss {
        price: product(kind.price, best.size) - product(best.price, kind.size),
        n_packs: best.size - kind.size,
        volume: kind.size,
    };
    let least = least_losses(best, kinds, loss_of)?;

    // Any more than one best pack of overshoot could be left out, so one round of remainders is enough.
    let amounts = demand..demand.saturating_add(best.size);
    let volume = amounts
        .filter_map(|volume| {
            let loss = at(&least, usize::try_from(volume % best.size).ok()?)?;
            Some((loss.price + product(best.price, volume), volume))
        })
        .min()?
        .1;
    let mut counts = shape(&least, volume, best, kinds, loss_of)?;
    let others: i64 = counts
        .iter()
        .zip(kinds)
        .map(|(count, kind)| count * kind.size)
        .sum();
    let n_best = volume.checked_sub(others).filter(|rest| *rest >= 0)? / best.size;
    let slot = kinds.iter().position(|kind| kind.index == best.index)?;
    *counts.get_mut(slot)? = n_best;
    Some(counts)
}

/// The least loss that leaves each remainder: two rounds along the cycles of each kind, whose losses are all positive.
fn least_losses(
    best: Kind,
    kinds: &[Kind],
    loss_of: impl Fn(&Kind) -> Loss,
) -> Option<Vec<Option<Loss>>> {
    let mut least: Vec<Option<Loss>> = vec![None; best.steps];
    *least.first_mut()? = Some(Loss::NONE);
    for kind in kinds.iter().filter(|kind| kind.index != best.index) {
        let loss = loss_of(kind);
        let n_cycles = usize::try_from(gcd(kind.size, best.size)).ok()?;
        let n_visits = best.steps / n_cycles * 2;
        for start in 0..n_cycles {
            let mut remainder = start;
            let mut here = at(&least, start);
            for _ in 0..n_visits {
                remainder = (remainder + kind.steps) % best.steps;
                let slot = least.get_mut(remainder)?;
                *slot = [*slot, here.map(|here| here.plus(loss))]
                    .into_iter()
                    .flatten()
                    .min();
                here = *slot;
            }
        }
    }
    Some(least)
}

/// The other packs behind the least loss for the remainder of `volume`, more of the larger ones first.
fn shape(
    least: &[Option<Loss>],
    volume: i64,
    best: Kind,
    kinds: &[Kind],
    loss_of: impl Fn(&Kind) -> Loss,
) -> Option<Vec<i64>> {
    let mut counts = vec![0; kinds.len()];
    let mut remainder = usize::try_from(volume % best.size).ok()?;
    while remainder != 0 {
        let goal = at(least, remainder)?;
        let (count, before) = counts.iter_mut().zip(kinds).find_map(|(count, kind)| {
            let before = (remainder + best.steps - kind.steps % best.steps) % best.steps;
            let reached = at(least, before)?.plus(loss_of(kind));
            // Packs larger than the best come before it in the order of ties, smaller ones after it: only among
            // these does it matter how much the others hold.
            let fits = reached == goal || (kind.size > best.size && reached.costs_the_same(goal));
            (kind.index != best.index && fits).then_some((count, before))
        })?;
        *count += 1;
        remainder = before;
    }
    Some(counts)
}

fn at(least: &[Option<Loss>], remainder: usize) -> Option<Loss> {
    least.get(remainder).copied().flatten()
}

fn product(a: i64, b: i64) -> i128 {
    i128::from(a) * i128::from(b)
}

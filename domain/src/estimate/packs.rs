//! Which packs to buy: the cheapest set that covers a demand, exactly.
//!
//! Unbounded covering knapsack on the grid of the sizes' greatest common divisor: by dynamic programming over the
//! demand where that is small, over the remainders of the best pack where it is large. Both are exact and break ties
//! alike. Buying by best unit price alone is far off for small jobs (one drum for a litre), so nothing is approximated.
//! It knows no product and no currency: sizes in mL, prices in any one unit of money.

use std::cmp::Reverse;

use thiserror::Error;

mod grid;
mod prices;
mod remainders;
#[cfg(test)]
mod tests;

pub use prices::PackPrices;

/// Largest demand in mL: a million cubic metres.
pub const MAX_DEMAND_ML: i64 = 1_000_000_000_000;
/// Largest pack in mL: 10 m³.
pub const MAX_SIZE_ML: i64 = 10_000_000;
/// Largest price of a pack, in 1/10 000 of the currency unit: a hundred million units.
pub const MAX_PRICE: i64 = 1_000_000_000_000;
/// Largest number of packs to choose from.
pub const MAX_PACKS: usize = 64;
/// Grid steps up to which the demand is searched step by step: well under 10 ms.
const SMALL_STEPS: usize = 65_536;
/// Amounts beyond which a search is refused: some 60 MB and a quarter of a second.
const MAX_STEPS: usize = 2_000_000;

/// A pack that is for sale.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pack {
    /// Content in mL, from 1 to [`MAX_SIZE_ML`].
    pub size_ml: i64,
    /// Price in 1/10 000 of the currency unit, from 0 (supplied free) to [`MAX_PRICE`].
    pub price: i64,
}

/// The packs to buy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PackCover {
    /// How many of each pack, in the order in which the packs were given.
    pub counts: Vec<i64>,
    /// Content of all packs in mL; never less than the demand.
    pub volume_ml: i64,
    /// Price of all packs, in the unit of the packs' prices.
    pub price: i64,
    /// Number of packs.
    pub n_packs: i64,
}

/// Why a cover cannot be given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum CoverPacksError {
    /// Nothing is demanded, less than nothing, or more than [`MAX_DEMAND_ML`].
    #[error("the demand of {demand_ml} mL is outside 1 to {MAX_DEMAND_ML} mL")]
    Demand {
        /// The refused demand in mL.
        demand_ml: i64,
    },
    /// No pack is for sale.
    #[error("there is no pack to choose from")]
    NoPacks,
    /// More than [`MAX_PACKS`] packs are for sale.
    #[error("{n_packs} packs to choose from are more than {MAX_PACKS}")]
    TooManyPacks {
        /// The number of packs given.
        n_packs: usize,
    },
    /// A pack's content is outside its range.
    #[error("pack {index}: the size of {size_ml} mL is outside 1 to {MAX_SIZE_ML} mL")]
    Size {
        /// Which pack, counted from 0.
        index: usize,
        /// The refused size in mL.
        size_ml: i64,
    },
    /// A pack's price is outside its range.
    #[error("pack {index}: the price of {price} is outside 0 to {MAX_PRICE}")]
    Price {
        /// Which pack, counted from 0.
        index: usize,
        /// The refused price.
        price: i64,
    },
    /// Huge packs without a common measure leave too many amounts to compare.
    #[error("the pack sizes leave {n_steps} amounts to compare, more than {MAX_STEPS}")]
    TooFine {
        /// Amounts that would have to be compared.
        n_steps: i64,
    },
    /// The price of the cover does not fit the ledger.
    #[error("the price of the cover does not fit the ledger")]
    Overflow,
}

/// The cheapest packs that hold at least `demand_ml`.
///
/// Among equally cheap covers the one with the least volume, then with the fewest packs, then with more of the
/// larger packs, then of the pack given first: the same input always gives the same packs.
///
/// ```
/// use domain::estimate::packs::{Pack, cover_packs};
///
/// // 3.4 L: two small cans beat the drum whose litre is cheaper.
/// let packs = [Pack { size_ml: 2_000, price: 30 }, Pack { size_ml: 20_000, price: 200 }];
/// let cover = cover_packs(3_400, &packs)?;
/// assert_eq!((cover.counts, cover.volume_ml, cover.price), (vec![2, 0], 4_000, 60));
/// # Ok::<(), domain::estimate::packs::CoverPacksError>(())
/// ```
///
/// # Errors
/// [`CoverPacksError`] names the value that is outside its range, a search that would be too large, or an overflow.
pub fn cover_packs(demand_ml: i64, packs: &[Pack]) -> Result<PackCover, CoverPacksError> {
    check(demand_ml, packs)?;
    let grid_ml = packs
        .iter()
        .fold(0, |divisor, pack| gcd(divisor, pack.size_ml));
    // Rounded up, and exact all the same: whatever packs hold is a whole number of grid steps.
    let demand = (demand_ml - 1) / grid_ml + 1;
    let mut kinds: Vec<Kind> = packs
        .iter()
        .enumerate()
        .filter_map(|(index, pack)| {
            let size = pack.size_ml / grid_ml;
            Some(Kind {
                index,
                size,
                steps: usize::try_from(size).ok()?,
                price: pack.price,
            })
        })
        .collect();
    // Larger first, then cheaper, then as given: the order in which ties are broken.
    kinds.sort_by_key(|kind| (Reverse(kind.size), kind.price, kind.index));
    // Of one size only the cheapest is ever bought.
    kinds.dedup_by_key(|kind| kind.size);
    total(packs, &kinds, &counts(demand, &kinds)?)
}

/// The cheapest packs for what `free_ml` that costs nothing does not cover; none where it covers all.
///
/// What is free goes in first, whole or in part: a demand that is smaller is never dearer, so no other use of it leaves
/// less to pay.
///
/// ```
/// use domain::estimate::packs::{Pack, cover_rest};
///
/// let packs = [Pack { size_ml: 2_000, price: 30 }, Pack { size_ml: 20_000, price: 200 }];
/// assert_eq!(cover_rest(3_400, 1_500, &packs)?.counts, vec![1, 0]);
/// assert_eq!(cover_rest(3_400, 3_400, &packs)?.price, 0);
/// # Ok::<(), domain::estimate::packs::CoverPacksError>(())
/// ```
///
/// # Errors
/// As [`cover_packs`].
pub fn cover_rest(
    demand_ml: i64,
    free_ml: i64,
    packs: &[Pack],
) -> Result<PackCover, CoverPacksError> {
    let rest = demand_ml.saturating_sub(free_ml.max(0));
    if rest > 0 {
        return cover_packs(rest, packs);
    }
    check(demand_ml, packs)?;
    Ok(PackCover {
        counts: vec![0; packs.len()],
        volume_ml: 0,
        price: 0,
        n_packs: 0,
    })
}

/// A pack on the grid.
#[derive(Debug, Clone, Copy)]
struct Kind {
    /// Position in the caller's list.
    index: usize,
    /// Size in grid steps, for sums.
    size: i64,
    /// The same size, for positions.
    steps: usize,
    price: i64,
}

/// Chooses the search: one over the demand, or one whose work does not depend on it.
fn counts(demand: i64, kinds: &[Kind]) -> Result<Vec<i64>, CoverPacksError> {
    let steps = usize::try_from(demand).unwrap_or(usize::MAX);
    if steps > SMALL_STEPS
        && let Some(counts) = remainders::cheapest(demand, kinds)
    {
        return Ok(counts);
    }
    if steps > MAX_STEPS {
        return Err(CoverPacksError::TooFine { n_steps: demand });
    }
    Ok(grid::cheapest(steps, kinds))
}

/// Adds the cover up from the caller's own packs.
fn total(packs: &[Pack], kinds: &[Kind], counts: &[i64]) -> Result<PackCover, CoverPacksError> {
    let mut cover = PackCover {
        counts: vec![0; packs.len()],
        volume_ml: 0,
        price: 0,
        n_packs: 0,
    };
    for (kind, &count) in kinds.iter().zip(counts) {
        let (Some(pack), Some(slot)) = (packs.get(kind.index), cover.counts.get_mut(kind.index))
        else {
            continue;
        };
        *slot = count;
        let add = |sum: i64, each: i64| each.checked_mul(count)?.checked_add(sum);
        cover.volume_ml = add(cover.volume_ml, pack.size_ml).ok_or(CoverPacksError::Overflow)?;
        cover.price = add(cover.price, pack.price).ok_or(CoverPacksError::Overflow)?;
        cover.n_packs = add(cover.n_packs, 1).ok_or(CoverPacksError::Overflow)?;
    }
    Ok(cover)
}

fn check(demand_ml: i64, packs: &[Pack]) -> Result<(), CoverPacksError> {
    if !(1..=MAX_DEMAND_ML).contains(&demand_ml) {
        return Err(CoverPacksError::Demand { demand_ml });
    }
    if packs.is_empty() {
        return Err(CoverPacksError::NoPacks);
    }
    if packs.len() > MAX_PACKS {
        return Err(CoverPacksError::TooManyPacks {
            n_packs: packs.len(),
        });
    }
    for (index, &Pack { size_ml, price }) in packs.iter().enumerate() {
        if !(1..=MAX_SIZE_ML).contains(&size_ml) {
            return Err(CoverPacksError::Size { index, size_ml });
        }
        if !(0..=MAX_PRICE).contains(&price) {
            return Err(CoverPacksError::Price { index, price });
        }
    }
    Ok(())
}

fn gcd(a: i64, b: i64) -> i64 {
    let (mut a, mut b) = (a, b);
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

//! What the cheapest packs cost for every demand up to the largest: for many demands, where which packs these are is not asked.

use super::{CoverPacksError, Pack, check, gcd};

/// Grid steps up to which prices are listed.
const MOST_STEPS: usize = 20_000;

/// The price of the cheapest cover of every demand up to the largest.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PackPrices {
    grid_ml: i64,
    /// By grid steps, from none on.
    by_steps: Vec<i64>,
}

impl PackPrices {
    /// Lists the prices up to a demand in mL; `None` where that takes more than 20,000 steps of the sizes' common measure: packs
    /// are then so small a part of the demand that their steps hardly count.
    ///
    /// # Errors
    /// As [`cover_packs`](super::cover_packs).
    pub fn up_to(most_ml: i64, packs: &[Pack]) -> Result<Option<Self>, CoverPacksError> {
        check(most_ml, packs)?;
        let sizes = packs.iter();
        let grid_ml = sizes.fold(0, |divisor, pack| gcd(divisor, pack.size_ml));
        let most = usize::try_from((most_ml - 1) / grid_ml + 1).unwrap_or(usize::MAX);
        if most > MOST_STEPS {
            return Ok(None);
        }
        let kind = |pack: &Pack| Some((usize::try_from(pack.size_ml / grid_ml).ok()?, pack.price));
        let kinds: Vec<(usize, i64)> = packs.iter().filter_map(kind).collect();
        let mut by_steps = vec![0_i64];
        for steps in 1..=most {
            let with = |(size, price): &(usize, i64)| {
                let rest = by_steps.get(steps.saturating_sub(*size))?;
                Some(rest.saturating_add(*price))
            };
            let least = kinds.iter().filter_map(with).min();
            by_steps.push(least.unwrap_or(0));
        }
        Ok(Some(Self { grid_ml, by_steps }))
    }

    /// What the cheapest packs for a demand in mL cost: 0 for none, and beyond the largest what that costs.
    pub fn of(&self, demand_ml: i64) -> i64 {
        if demand_ml <= 0 {
            return 0;
        }
        let steps = usize::try_from((demand_ml - 1) / self.grid_ml + 1).unwrap_or(usize::MAX);
        let last = self.by_steps.len().saturating_sub(1);
        self.by_steps.get(steps.min(last)).copied().unwrap_or(0)
    }
}

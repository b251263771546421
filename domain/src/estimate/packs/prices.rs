//! What the cheapest packs cost for every demand up to the largest: for many demands, where which packs these are is not asked.

use std::collections::BTreeMap;

use super::{CoverPacksError, Pack, check};

/// Contents up to which prices are listed.
const MOST_CONTENTS: usize = 20_000;

/// The price of the cheapest cover of every demand up to the largest.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PackPrices {
    /// What packs together hold, in mL, from none on; with the least that as much or more costs.
    contents: Vec<(i64, i64)>,
    most_ml: i64,
}

impl PackPrices {
    /// Lists the prices up to a demand in mL; `None` where packs come to more than 20,000 different contents up to there: they
    /// are then so small a part of the demand that their steps hardly count.
    ///
    /// # Errors
    /// As [`cover_packs`](super::cover_packs).
    pub fn up_to(most_ml: i64, packs: &[Pack]) -> Result<Option<Self>, CoverPacksError> {
        check(most_ml, packs)?;
        let mut least = BTreeMap::from([(0_i64, 0_i64)]);
        let mut at = Some((0_i64, 0_i64));
        // A cover of which no pack can be spared holds less than the demand without its last one, and so is met from there.
        while let Some((content, price)) = at.filter(|(content, _)| *content < most_ml) {
            for pack in packs {
                let with = content.saturating_add(pack.size_ml);
                let best = least.entry(with).or_insert(i64::MAX);
                *best = (*best).min(price.saturating_add(pack.price));
            }
            if least.len() > MOST_CONTENTS {
                return Ok(None);
            }
            let mut onwards = least.range(content.saturating_add(1)..);
            at = onwards.next().map(|(content, price)| (*content, *price));
        }
        let mut so_far = i64::MAX;
        let down = least.into_iter().rev().map(|(content, price)| {
            so_far = so_far.min(price);
            (content, so_far)
        });
        let mut contents: Vec<(i64, i64)> = down.collect();
        contents.reverse();
        Ok(Some(Self { contents, most_ml }))
    }

    /// The largest demand in mL of each price, with that price: rising, and as [`Self::of`] has it; beyond the last all cost
    /// what that one does.
    pub fn steps(&self) -> impl Iterator<Item = (i64, i64)> {
        let mut onwards = self.contents.iter().peekable();
        std::iter::from_fn(move || {
            let (mut content, price) = *onwards.next()?;
            while let Some((larger, _)) = onwards.next_if(|(_, next)| *next == price) {
                content = *larger;
            }
            Some((content, price))
        })
    }

    /// What the cheapest packs for a demand in mL cost: 0 for none, and beyond the largest what that costs.
    pub fn of(&self, demand_ml: i64) -> i64 {
        let demand_ml = demand_ml.min(self.most_ml);
        let place = self
            .contents
            .partition_point(|(content, _)| *content < demand_ml);
        self.contents.get(place).map_or(0, |(_, price)| *price)
    }
}

//! What the cheapest packs cost for every demand up to the largest: for many demands, where which packs these are is not asked.

use std::collections::BTreeMap;

use super::{CoverPacksError, Pack, check};

/// Contents up to which prices are listed.
const MOST_CONTENTS: usize = 20_000;

/// The price of the cheapest cover of every demand up to the largest.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PackPrices {
    /// The largest demand in mL of each price, with that price: both rise.
    steps: Vec<(i64, i64)>,
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
        let mut steps: Vec<(i64, i64)> = Vec::new();
        // What holds more for as much is the better buy.
        for (content, price) in least.into_iter().rev() {
            match steps.last() {
                Some((_, dearest)) if price >= *dearest => {}
                _ => steps.push((content, price)),
            }
        }
        steps.reverse();
        Ok(Some(Self { steps }))
    }

    /// The largest demand in mL of each price, with that price: both rise, from nothing on. What is beyond the last was not
    /// asked for.
    pub fn steps(&self) -> &[(i64, i64)] {
        &self.steps
    }
}

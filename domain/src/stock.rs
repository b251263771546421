//! What a site has left over of its products: what of it is still good on a day, and what of it work takes first.
//!
//! Planning only reads it. Nothing here reserves or takes anything: two plans may count on the same pack, and what is
//! left is what somebody last said is left.

use std::cmp::Reverse;

use chrono::{Days, NaiveDate};

use crate::{id::StockItemId, quantity::Volume, words::words};

words! {
    /// Why something left over is not counted.
    NotGood {
        /// Its date has passed.
        Expired "expired",
        /// It has been open for longer than an open pack keeps.
        OpenTooLong "open_too_long",
    }
}

/// Something that is left over at a site: sealed packs of one batch, or one that was opened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StockItem {
    /// Its id.
    pub id: StockItemId,
    /// The product's key.
    pub product: String,
    /// Undiluted product that is left, in whole mL.
    pub left: Volume,
    /// The maker's number of the batch.
    pub batch: Option<String>,
    /// The last day on which it may be used, by its label.
    pub expires_on: Option<NaiveDate>,
    /// Whether it was opened, and what is known of that.
    pub opening: Option<Opening>,
}

/// What is known of a pack that was opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Opening {
    /// The day on which it was opened.
    pub on: Option<NaiveDate>,
    /// For how many days an open pack keeps, by its label.
    pub keeps_days: Option<u32>,
}

impl StockItem {
    /// The last day on which it is good, as far as anybody said, and what ends it.
    pub fn good_until(&self) -> Option<(NaiveDate, NotGood)> {
        let opening = self.opening.unwrap_or_default();
        let days = |days: u32| Days::new(u64::from(days));
        let open = opening.on.zip(opening.keeps_days);
        let open = open.and_then(|(on, keeps)| on.checked_add_days(days(keeps)));
        let ends = [
            self.expires_on.map(|day| (day, NotGood::Expired)),
            open.map(|day| (day, NotGood::OpenTooLong)),
        ];
        ends.into_iter().flatten().min_by_key(|(day, _)| *day)
    }
}

/// What a site has left over, seen from the day of the work.
#[derive(Debug, Clone, Copy)]
pub struct Stock<'a> {
    /// All of it, of any product.
    pub items: &'a [StockItem],
    /// The day on which the work begins, by the site's clock.
    pub on: NaiveDate,
}

/// What work takes of something left over.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Taken {
    /// Of what.
    pub item: StockItemId,
    /// The maker's number of its batch.
    pub batch: Option<String>,
    /// The last day on which it is good, if anybody said.
    pub good_until: Option<NaiveDate>,
    /// How much.
    pub volume: Volume,
    /// What then is left of it.
    pub left: Volume,
}

/// Something left over that is not counted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotCounted {
    /// What.
    pub item: StockItemId,
    /// The maker's number of its batch.
    pub batch: Option<String>,
    /// How much is left of it.
    pub left: Volume,
    /// Why.
    pub reason: NotGood,
    /// The last day on which it was good.
    pub good_until: NaiveDate,
}

/// What is left over of one product, as far as work goes.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct StockUse {
    /// What is taken, in the order in which it is used up.
    pub taken: Vec<Taken>,
    /// What is not good any more on the day of the work.
    pub not_counted: Vec<NotCounted>,
    /// What all that is still good holds.
    pub good: Volume,
}

impl StockUse {
    /// All that is taken.
    pub fn total(&self) -> Volume {
        self.taken.iter().map(|taken| taken.volume).sum()
    }
}

impl Stock<'_> {
    /// A site of which nobody said that anything is left over.
    pub const NONE: Self = Stock {
        items: &[],
        on: NaiveDate::MIN,
    };

    /// What of a product goes first into work that needs `demand`: what spoils first, of that what is open, then what was
    /// registered first; what nobody gave a date for comes last.
    ///
    /// ```
    /// use chrono::NaiveDate;
    /// use domain::{quantity::Volume, stock::Stock};
    ///
    /// let nothing = Stock { items: &[], on: NaiveDate::MIN };
    /// assert_eq!(nothing.take("polish_emulsion", Volume::from_ml(4_000)).total(), Volume::ZERO);
    /// ```
    pub fn take(&self, product: &str, demand: Volume) -> StockUse {
        let mut found = StockUse::default();
        let mut good: Vec<&StockItem> = Vec::new();
        for item in self.items.iter().filter(|item| item.product == product) {
            match item.good_until().filter(|(day, _)| *day < self.on) {
                Some((good_until, reason)) => found.not_counted.push(NotCounted {
                    item: item.id,
                    batch: item.batch.clone(),
                    left: item.left,
                    reason,
                    good_until,
                }),
                None => good.push(item),
            }
        }
        good.sort_by_key(|item| {
            let until = item.good_until().map_or(NaiveDate::MAX, |(day, _)| day);
            (until, Reverse(item.opening.is_some()), item.id)
        });
        found.good = good.iter().map(|item| item.left).sum();
        let mut wanted = demand;
        for item in good {
            let volume = wanted.min(item.left);
            if volume > Volume::ZERO {
                wanted = wanted.less(volume);
                found.taken.push(Taken {
                    item: item.id,
                    batch: item.batch.clone(),
                    good_until: item.good_until().map(|(day, _)| day),
                    volume,
                    left: item.left.less(volume),
                });
            }
        }
        found
    }
}

#[cfg(test)]
mod tests;

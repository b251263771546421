//! Rate cards: what an hour, a litre and a pad cost at a site, and by how much time is stretched.

use std::collections::BTreeMap;

use crate::{
    knowledge::{KnowledgeBase, Product},
    learning::LearntFigures,
    money::{Currency, Money, ParseAmountError},
};

/// A pack of a product and its price.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PackPrice {
    /// Its size in mL.
    pub size_ml: i64,
    /// What it costs.
    pub price: Money,
}

/// A share in ten-thousandths (10 % is 1,000), so that it multiplies money exactly.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Share(i64);

impl Share {
    /// Takes ten-thousandths.
    pub const fn from_ten_thousandths(value: i64) -> Self {
        Self(value)
    }

    /// The share nearest to a percentage.
    pub fn from_pct(pct: f64) -> Option<Self> {
        crate::quantity::whole(pct * 100.0).map(Self)
    }

    /// In ten-thousandths.
    pub const fn ten_thousandths(self) -> i64 {
        self.0
    }

    /// In per cent.
    pub fn pct(self) -> f64 {
        crate::quantity::float(self.0) / 100.0
    }
}

/// The rates of a site or a contractor, on one edition of its card.
#[derive(Debug, Clone, PartialEq)]
pub struct RateCard {
    /// The currency of every amount on it.
    pub currency: Currency,
    /// An operative's hour.
    pub labour_per_h: Money,
    /// Added to working time for rest, fatigue and delay.
    pub allowance: Share,
    /// Added to cost for what nobody foresees.
    pub contingency: Share,
    /// Added to cost for running the business.
    pub overhead: Share,
    /// Share of the price that is margin; below one.
    pub margin: Share,
    /// Tax on the price.
    pub tax: Share,
    /// Operatives who work at the same time.
    pub crew_size: i64,
    /// Minutes to set up, once a job.
    pub setup_min: i64,
    /// Minutes to clean down, once a job.
    pub clean_down_min: i64,
    /// Getting rid of a litre of slurry.
    pub waste_per_l: Money,
    /// Packs by product; a product that is not here has the example packs of the knowledge base.
    pub packs: BTreeMap<String, Vec<PackPrice>>,
    /// Prices of pads by colour.
    pub consumables: BTreeMap<String, Money>,
    /// Cost of machines per hour.
    pub machines: BTreeMap<String, Money>,
    /// Production rates by activity, in place of the table's.
    pub rates: BTreeMap<String, f64>,
    /// What jobs done at the site tell of figures that the card says nothing of, as multiples of what is usual.
    pub learnt: LearntFigures,
    /// Whether nobody has told it: its amounts are examples that somebody took for a site's.
    pub assumed: bool,
}

impl RateCard {
    /// The card of a site that has said nothing, in its currency; its amounts are examples.
    ///
    /// # Errors
    /// [`ParseAmountError`] if the knowledge base holds an amount that is none.
    pub fn defaults(base: &KnowledgeBase, currency: Currency) -> Result<Self, ParseAmountError> {
        let row = &base.rate_card;
        Ok(Self {
            currency,
            labour_per_h: Money::parse(&row.labour_per_h, currency)?,
            allowance: Share::from_pct(row.allowance_pct).unwrap_or_default(),
            contingency: Share::from_pct(row.contingency_pct).unwrap_or_default(),
            overhead: Share::from_pct(row.overhead_pct).unwrap_or_default(),
            margin: Share::from_pct(row.margin_pct).unwrap_or_default(),
            tax: Share::from_pct(row.tax_pct).unwrap_or_default(),
            crew_size: i64::from(row.crew_size),
            setup_min: row.setup_min,
            clean_down_min: row.clean_down_min,
            waste_per_l: Money::parse(&row.waste_per_l, currency)?,
            packs: BTreeMap::new(),
            consumables: BTreeMap::new(),
            machines: BTreeMap::new(),
            rates: BTreeMap::new(),
            learnt: LearntFigures::default(),
            assumed: false,
        })
    }

    /// The packs that a product is bought in, and whether their prices are examples only.
    pub fn packs_of<'c>(
        &'c self,
        product: &'c Product,
    ) -> (impl Iterator<Item = PackPrice> + 'c, bool) {
        let own = self.packs.get(&product.key);
        let own = own.filter(|packs| !packs.is_empty());
        let is_example = own.is_none();
        let examples = product.packs.iter().filter(move |_pack| is_example);
        let examples = examples.filter_map(move |pack| {
            let price = Money::parse(&pack.price, self.currency).ok()?;
            Some(PackPrice {
                size_ml: pack.size_ml,
                price,
            })
        });
        (
            own.into_iter().flatten().copied().chain(examples),
            is_example,
        )
    }

    /// What a pad costs.
    pub fn pad_price(&self, base: &KnowledgeBase, key: &str) -> Money {
        let example = || Money::parse(&base.pad(key)?.price, self.currency).ok();
        self.consumables
            .get(key)
            .copied()
            .or_else(example)
            .unwrap_or(Money::zero(self.currency))
    }

    /// What a machine's hour costs.
    pub fn machine_per_h(&self, base: &KnowledgeBase, key: &str) -> Money {
        let example = || Money::parse(&base.machine(key)?.per_h, self.currency).ok();
        self.machines
            .get(key)
            .copied()
            .or_else(example)
            .unwrap_or(Money::zero(self.currency))
    }

    /// What a litre costs in the pack with the best price a litre: how litres that were used are valued.
    pub fn per_litre(&self, product: &Product) -> Money {
        let best = self
            .packs_of(product)
            .0
            .filter(|pack| pack.size_ml > 0)
            .min_by(|a, b| {
                let left = i128::from(a.price.amount) * i128::from(b.size_ml);
                let right = i128::from(b.price.amount) * i128::from(a.size_ml);
                left.cmp(&right)
            });
        best.map_or(Money::zero(self.currency), |pack| Money {
            amount: crate::quantity::divide(
                i128::from(pack.price.amount) * 1_000,
                i128::from(pack.size_ml),
                crate::quantity::Rounding::HalfAwayFromZero,
            )
            .unwrap_or(0),
            currency: self.currency,
        })
    }
}

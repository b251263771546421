//! From a rate card as it was sent to one that is reckoned with.

use std::collections::{BTreeMap, BTreeSet};

use domain::{
    card::{PackPrice, RateCard},
    knowledge::{KnowledgeBase, Products},
    learning::LearntFigures,
    money::{Currency, Money},
    quantity::whole,
};

use super::{MoneyRequest, RateCardRequest};
use crate::body::Faults;

impl RateCardRequest {
    /// The card, if nothing in it contradicts itself; faults go to places below `pointer`.
    ///
    /// Without `waste_per_l` a litre costs nothing here: [`RateCardRequest::complete`] fills it in before.
    pub(crate) fn card(
        &self,
        currency: Currency,
        pointer: &str,
        faults: &mut Faults,
    ) -> Option<RateCard> {
        let mut rate = |money: &MoneyRequest, member: &str| {
            money.read_rate(currency, &format!("{pointer}/{member}"), faults)
        };
        let labour_per_h = rate(&self.labour_per_h, "labour_per_h");
        let waste_per_l = self.waste_per_l.as_ref();
        let waste_per_l = waste_per_l.map(|money| rate(money, "waste_per_l"));
        Some(RateCard {
            currency,
            packs: self.packs(currency, &format!("{pointer}/packs"), faults),
            consumables: prices(
                self.consumables
                    .iter()
                    .map(|row| (&row.consumable, &row.price)),
                (currency, "consumable", "price"),
                &format!("{pointer}/consumables"),
                faults,
            ),
            machines: prices(
                self.machines.iter().map(|row| (&row.machine, &row.per_h)),
                (currency, "machine", "per_h"),
                &format!("{pointer}/machines"),
                faults,
            ),
            rates: self.rates(&format!("{pointer}/rates"), faults),
            learnt: LearntFigures::default(),
            labour_per_h: labour_per_h?,
            allowance: Self::share(self.allowance_pct),
            contingency: Self::share(self.contingency_pct),
            overhead: Self::share(self.overhead_pct),
            margin: Self::share(self.margin_pct),
            tax: Self::share(self.tax_pct),
            crew_size: self.crew_size,
            setup_min: self.setup_min,
            clean_down_min: self.clean_down_min,
            waste_per_l: waste_per_l.unwrap_or(Some(Money::zero(currency)))?,
            assumed: false,
        })
    }

    fn packs(
        &self,
        currency: Currency,
        pointer: &str,
        faults: &mut Faults,
    ) -> BTreeMap<String, Vec<PackPrice>> {
        let mut packs: BTreeMap<String, Vec<PackPrice>> = BTreeMap::new();
        for (index, row) in self.packs.iter().enumerate() {
            let price = row
                .price
                .read_rate(currency, &format!("{pointer}/{index}/price"), faults);
            let (Some(price), Some(size_ml)) = (price, whole(row.size_l * 1e3)) else {
                continue;
            };
            let of_product = packs.entry(row.product.clone()).or_default();
            if of_product.iter().any(|pack| pack.size_ml == size_ml) {
                twice(faults, format!("{pointer}/{index}/size_l"));
            }
            of_product.push(PackPrice { size_ml, price });
        }
        for of_product in packs.values_mut() {
            of_product.sort_unstable_by_key(|pack| pack.size_ml);
        }
        packs
    }

    fn rates(&self, pointer: &str, faults: &mut Faults) -> BTreeMap<String, f64> {
        let mut rates = BTreeMap::new();
        for (index, row) in self.rates.iter().enumerate() {
            if rates.insert(row.activity.clone(), row.per_h).is_some() {
                twice(faults, format!("{pointer}/{index}/activity"));
            }
        }
        rates
    }

    /// Fills in what may be left out, from the knowledge base.
    pub(crate) fn complete(&mut self, base: &KnowledgeBase, currency: Currency) {
        self.waste_per_l.get_or_insert_with(|| MoneyRequest {
            amount: base.rate_card.waste_per_l.clone(),
            currency: currency.code().to_owned(),
        });
    }

    /// Notes every key that the knowledge base does not have.
    pub(crate) fn check_keys(&self, products: Products<'_>, pointer: &str, faults: &mut Faults) {
        let base = products.base;
        let activities: BTreeSet<&str> =
            base.rates.iter().map(|row| row.activity.as_str()).collect();
        let mut need = |known: bool, place: String, code, detail: String| {
            if !known {
                faults.push(format!("{pointer}/{place}"), code, detail);
            }
        };
        for (at, row) in self.packs.iter().enumerate() {
            let detail = format!(
                "No product is named `{}`; GET /v1/products lists them.",
                row.product
            );
            let known = products.product(&row.product).is_some();
            need(
                known,
                format!("packs/{at}/product"),
                "unknown_product",
                detail,
            );
        }
        for (at, row) in self.consumables.iter().enumerate() {
            let pads: Vec<_> = base.pads.iter().map(|pad| pad.key.as_str()).collect();
            let detail = format!("The pads are {}.", pads.join(", "));
            let known = base.pad(&row.consumable).is_some();
            let place = format!("consumables/{at}/consumable");
            need(known, place, "unknown_consumable", detail);
        }
        for (at, row) in self.machines.iter().enumerate() {
            let machines: Vec<_> = base.machines.iter().map(|row| row.key.as_str()).collect();
            let detail = format!("The machines are {}.", machines.join(", "));
            let known = base.machine(&row.machine).is_some();
            need(
                known,
                format!("machines/{at}/machine"),
                "unknown_machine",
                detail,
            );
        }
        for (at, row) in self.rates.iter().enumerate() {
            let known = activities.contains(row.activity.as_str());
            let all: Vec<_> = activities.iter().copied().collect();
            let detail = format!("The activities are {}.", all.join(", "));
            need(
                known,
                format!("rates/{at}/activity"),
                "unknown_activity",
                detail,
            );
        }
    }
}

/// Prices by key, each key once.
fn prices<'a>(
    rows: impl Iterator<Item = (&'a String, &'a MoneyRequest)>,
    (currency, key_member, money_member): (Currency, &str, &str),
    pointer: &str,
    faults: &mut Faults,
) -> BTreeMap<String, Money> {
    let mut prices = BTreeMap::new();
    for (index, (key, money)) in rows.enumerate() {
        let place = format!("{pointer}/{index}");
        let money = money.read_rate(currency, &format!("{place}/{money_member}"), faults);
        if let Some(money) = money
            && prices.insert(key.clone(), money).is_some()
        {
            twice(faults, format!("{place}/{key_member}"));
        }
    }
    prices
}

fn twice(faults: &mut Faults, pointer: String) {
    faults.push(pointer, "duplicate", "Name each once.");
}

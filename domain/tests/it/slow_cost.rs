//! The second estimate's money and minutes: packs by trying them all, one rounding a line, sums of rounded lines.

#![expect(
    clippy::expect_used,
    clippy::indexing_slicing,
    reason = "a computation that is meant to be obvious stops where it is not"
)]

use std::collections::BTreeMap;

use domain::card::Share;

use crate::{
    exact::{Q, half_away, half_even, int, text, up, written},
    slow::{Scene, SlowLabour, SlowStep},
};

/// Packs of one product: price in ledger units, content in mL, number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Bought {
    pub(crate) price: i64,
    pub(crate) volume_ml: i64,
    pub(crate) n_packs: i64,
}

/// A line of money: what it pays for and how much, in ledger units.
pub(crate) type Line = (&'static str, i64);

fn share(share: Share) -> Q {
    int(share.ten_thousandths()) / int(10_000)
}

impl Scene<'_> {
    /// An amount in ledger units, rounded to what the currency shows.
    fn shown(&self, amount: &Q) -> i64 {
        let minor = 10_i64.pow(4 - self.card.currency.minor_digits());
        half_away(&(amount / int(minor))) * minor
    }

    /// Every number of every pack that could be of use; the cheapest, then the least, then the fewest.
    pub(crate) fn buy(&self, product: &str, total_ul: i64) -> Bought {
        let row = self.base.product(product).expect("a product");
        // A fifth of a drop may be missing: it is what rounding each step may have added.
        let demand = up(&(int(total_ul - 10) / int(1_000))).max(1);
        let nothing = Bought {
            price: 0,
            volume_ml: 0,
            n_packs: 0,
        };
        let mut ways = vec![nothing];
        for pack in &row.packs {
            let price = half_away(&(text(&pack.price) * int(10_000)));
            let most = demand / pack.size_ml + 1;
            ways = ways
                .iter()
                .flat_map(|way| {
                    (0..=most).map(move |count| Bought {
                        price: way.price + count * price,
                        volume_ml: way.volume_ml + count * pack.size_ml,
                        n_packs: way.n_packs + count,
                    })
                })
                .collect();
        }
        let enough = ways.into_iter().filter(|way| way.volume_ml >= demand);
        let best = enough.min().expect("packs");
        // Packs are compared by their exact prices; the sum is rounded to what the currency shows.
        Bought {
            price: self.shown(&int(best.price)),
            ..best
        }
    }

    /// What a product costs this work: packs that are opened for it, or litres at the best price a litre.
    pub(crate) fn paid(&self, product: &str, total_ul: i64) -> i64 {
        if self.process.whole_packs {
            return self.buy(product, total_ul).price;
        }
        let row = self.base.product(product).expect("a product");
        let per_litre = row.packs.iter().map(|pack| {
            let price = half_away(&(text(&pack.price) * int(10_000)));
            int(price) * int(1_000) / int(pack.size_ml)
        });
        // A price a litre is kept in 1/10,000 of the currency's unit.
        let best = half_away(&per_litre.min().expect("packs"));
        self.shown(&(int(best) * int(total_ul) / int(1_000_000)))
    }

    /// Pads by colour: area in mm², number.
    pub(crate) fn pads(&self, steps: &[SlowStep<'_>]) -> BTreeMap<String, (i64, i64)> {
        let machine = |activity: &String| {
            let mut rows = self.base.rates.iter();
            rows.any(|row| row.activity == *activity && row.machine.is_some())
        };
        let mut pads: BTreeMap<String, (i64, i64)> = BTreeMap::new();
        for step in steps {
            if let Some(pad) = &step.row.pad
                && step.row.labour.as_ref().is_some_and(machine)
            {
                pads.entry(pad.clone()).or_default().0 += self.survey.area.mm2();
            }
        }
        for (key, (area, count)) in &mut pads {
            let life = self.base.pad(key).expect("a pad").life_m2[1];
            *count = up(&(int(*area) / int(life * 2 * 1_000_000)));
        }
        pads
    }

    /// Slurry in µL: nine tenths of what was laid, where the floor is worked wet.
    pub(crate) fn slurry_ul(&self, steps: &[SlowStep<'_>]) -> i64 {
        if self.process.wetness < 2 {
            return 0;
        }
        // What covers an area by the litre is no solution that is picked up again: coats, impregnators.
        let stays = |step: &SlowStep<'_>| {
            let row = step.product.as_ref().and_then(|key| self.base.product(key));
            row.is_some_and(|row| row.coverage_first.is_some())
        };
        let laid = steps
            .iter()
            .map(|step| step.water_ul + if stays(step) { 0 } else { step.working_ul });
        half_even(&(int(laid.sum()) * written(self.base.factors.slurry_share)))
    }

    fn around_us(&self) -> i64 {
        (self.card.setup_min + self.card.clean_down_min) * 60_000_000
    }

    /// All lines of money, in the order of a cost sheet, before its totals.
    pub(crate) fn lines(&self, steps: &[SlowStep<'_>], labour: &[SlowLabour]) -> Vec<Line> {
        let card = self.card;
        let hour = int(3_600_000_000);
        let per_hour =
            |amount: i64, time_us: i64| self.shown(&(int(amount) * int(time_us) / &hour));
        let pay = |time_us: i64| per_hour(card.labour_per_h.amount, time_us);
        let mut lines: Vec<Line> = labour
            .iter()
            .map(|line| ("labour", pay(line.time_us)))
            .collect();
        lines.push(("labour", pay(self.around_us())));
        let paid: i64 = lines.iter().map(|line| line.1).sum();
        lines.push((
            "allowance",
            self.shown(&(int(paid) * share(card.allowance))),
        ));
        let totals = self.totals(steps);
        let mut seen: Vec<&str> = Vec::new();
        for product in steps.iter().filter_map(|step| step.product.as_deref()) {
            if !seen.contains(&product) {
                seen.push(product);
                lines.push(("product", self.paid(product, totals[product])));
            }
        }
        for (key, (area, count)) in self.pads(steps) {
            let row = self.base.pad(&key).expect("a pad");
            let each = text(&row.price) * int(10_000);
            let worn = int(area) / int(row.life_m2[1] * 2 * 1_000_000);
            let paid = if self.process.whole_packs {
                int(count)
            } else {
                worn
            };
            lines.push(("consumable", self.shown(&(each * paid))));
        }
        for machine in &self.base.machines {
            let busy: i64 = labour
                .iter()
                .filter(|line| line.machine.as_ref() == Some(&machine.key))
                .map(|line| line.time_us)
                .sum();
            if busy > 0 {
                let per_h = half_away(&(text(&machine.per_h) * int(10_000)));
                lines.push(("machine", per_hour(per_h, busy)));
            }
        }
        let slurry = self.slurry_ul(steps);
        if slurry > 0 {
            let litres = int(slurry) / int(1_000_000);
            lines.push((
                "waste",
                self.shown(&(int(card.waste_per_l.amount) * litres)),
            ));
        }
        let sum = |lines: &[Line]| int(lines.iter().map(|line| line.1).sum());
        let contingency = self.shown(&(sum(&lines) * share(card.contingency)));
        lines.push(("contingency", contingency));
        lines.push((
            "overhead",
            self.shown(&(sum(&lines) * share(card.overhead))),
        ));
        // The margin is a share of the price: cost = price · (1 - margin).
        let margin = share(card.margin);
        let on_cost = &margin / (int(1) - &margin);
        lines.push(("margin", self.shown(&(sum(&lines) * on_cost))));
        lines.push(("tax", self.shown(&(sum(&lines) * share(card.tax)))));
        lines
    }

    /// From closing the floor to walking on it, in µs; `waits_min` holds each step's wait in minutes.
    pub(crate) fn elapsed_us(&self, steps: &[SlowStep<'_>], waits_min: &[i64]) -> i64 {
        let crew = self.wish.limits.crew_size.unwrap_or(self.card.crew_size);
        let crewed = |time_us: i64| {
            half_even(&(int(time_us) * (int(1) + share(self.card.allowance)) / int(crew)))
        };
        let before: i64 = steps
            .iter()
            .filter(|step| !step.coat)
            .map(|step| step.labour_us)
            .sum();
        let coats = steps
            .iter()
            .filter(|step| step.coat)
            .map(|step| crewed(step.labour_us));
        let waits: i64 = waits_min.iter().sum();
        crewed(before + self.around_us()) + coats.sum::<i64>() + waits * 60_000_000
    }
}

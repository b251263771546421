//! How hours, product and money may turn out: every line of work with its own doubt, summed as amounts that share a factor.
//!
//! Hours vary by line of labour: by what jobs have told where the rate is learnt, else as the knowledge base says. Product
//! and money for it vary with what is used; packs that are paid whole are counted anew for each case. Setting up and
//! cleaning down do not vary.

use std::collections::BTreeMap;

use super::{
    basis::{Basis, input as figure},
    cost::{CostSheet, LineKind},
    labour::LabourLine,
    pads::PadLine,
    quantities::ProductLine,
    recount::{DRAWS, Stepped, redraw},
    spread::{Percentiles, Sum},
};
use crate::{
    card::{RateCard, Share},
    knowledge::{Products, SpreadFigures},
    quantity::{Labour, float},
};

/// How work may turn out.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Outlook {
    /// Hours of all operatives, set-up and allowance included.
    pub paid_h: Percentiles,
    /// Litres of products, as they come out of the pack.
    pub product_l: Percentiles,
    /// Price before tax, in 1/10,000 of the currency's unit.
    pub net: Percentiles,
    /// How often the packs were counted anew for that; 0 where none are paid whole, or so many that their steps hardly count.
    pub n_draws: u32,
}

/// Medians of like amounts, one a floor.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Many {
    sum: f64,
    squares: f64,
}

impl Many {
    fn add(&mut self, median: f64) {
        self.sum += median;
        self.squares += median * median;
    }

    /// The sum of the means of lognormal amounts of these medians and one σ, and that of the squares of these.
    pub(super) fn means(self, sigma: f64) -> (f64, f64) {
        let above = (sigma * sigma / 2.0).exp();
        (self.sum * above, self.squares * above * above)
    }
}

/// What floors need, each amount with its doubt.
#[derive(Debug, Clone, Default)]
pub(crate) struct Amounts {
    /// Hours at work, allowance and set-up not included.
    hours: Sum,
    worked_h: f64,
    /// Hours of whole crews, in the same way.
    crewed: Sum,
    /// Litres by product, each with the σ of its logarithm.
    products: BTreeMap<String, (Many, f64)>,
    /// Area for pads and waste.
    worn: Many,
}

/// What an outlook is of, as it is priced.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Priced<'a> {
    pub(crate) products: &'a [ProductLine],
    pub(crate) cost: &'a CostSheet,
    pub(crate) card: &'a RateCard,
    /// Where the products stand.
    pub(crate) from: Products<'a>,
}

impl Amounts {
    /// Adds the work on a floor by a crew of that size.
    pub(crate) fn add(
        &mut self,
        (labour, crew_size): (&[LabourLine], i64),
        products: &[ProductLine],
        pads: &[PadLine],
    ) {
        for line in labour {
            let hours = line.time.hours();
            self.worked_h += hours;
            self.hours.add(hours, line.sigma, 1.0);
            let crewed = hours / float(crew_size.max(1));
            self.crewed.add(crewed, line.sigma, 1.0);
        }
        for line in products {
            let litres = line.total.l();
            let known = self.products.entry(line.product.clone());
            let (many, _sigma) = known.or_insert((Many::default(), line.sigma));
            many.add(litres);
        }
        self.worn.add(pads.iter().map(|pad| pad.area.m2()).sum());
    }

    /// How it may turn out.
    pub(crate) fn outlook(&self, priced: &Priced<'_>, spread: &SpreadFigures) -> Outlook {
        let (fixed, _paid) = self.fixed_h(priced);
        let mut hours = self.hours.scaled(stretch(priced.card.allowance));
        hours.add(fixed, 0.0, 1.0);
        let mut litres = Sum::default();
        for (sum, sigma) in self.products.values() {
            litres.add_like((sum.sum, sum.squares), *sigma);
        }
        let charged = priced.cost.parts().charged;
        let from = (priced.card, priced.from);
        let step = |line: &ProductLine| {
            let used = *self.products.get(&line.product)?;
            Stepped::of(line, from, (used, spread.shared), charged)
        };
        let (mut smooth, mut stepped) = (Vec::new(), Vec::new());
        for line in priced.products {
            match step(line) {
                Some(line) => stepped.push(line),
                None => smooth.push(line),
            }
        }
        let net = self.net(priced, &smooth, spread);
        let (net, n_draws) = if stepped.is_empty() {
            (net.percentiles(spread.shared), 0)
        } else {
            (redraw(&net, &stepped, spread.shared), DRAWS)
        };
        Outlook {
            paid_h: hours.percentiles(spread.shared),
            product_l: litres.percentiles(spread.shared),
            net,
            n_draws,
        }
    }

    /// What it costs before tax, as a sum of amounts with their doubt: money for products goes with litres.
    pub(crate) fn net_by_litres(&self, priced: &Priced<'_>, spread: &SpreadFigures) -> Sum {
        let all: Vec<&ProductLine> = priced.products.iter().collect();
        self.net(priced, &all, spread)
    }

    /// Hours of setting up and cleaning down, allowance included, and all hours that are paid.
    fn fixed_h(&self, priced: &Priced<'_>) -> (f64, f64) {
        let paid: Labour = priced.cost.lines.iter().map(|line| line.labour).sum();
        let worked = self.worked_h * stretch(priced.card.allowance);
        ((paid.hours() - worked).max(0.0), paid.hours())
    }

    /// What it costs before tax, of the products these only. What is charged on top is shared out in proportion.
    fn net(&self, priced: &Priced<'_>, products: &[&ProductLine], spread: &SpreadFigures) -> Sum {
        let parts = priced.cost.parts();
        let (fixed, paid) = self.fixed_h(priced);
        let fixed_cost = if paid > 0.0 {
            parts.labour * fixed / paid
        } else {
            0.0
        };
        let mut net = Sum::default();
        net.add(fixed_cost, 0.0, 1.0);
        if self.worked_h > 0.0 {
            let varies = parts.labour - fixed_cost + parts.machine;
            net.add_all(&self.hours.scaled(varies / self.worked_h));
        }
        for line in products {
            let used = self.products.get(&line.product).copied();
            let used = used.filter(|(used, _sigma)| used.sum > 0.0);
            let (used, sigma) = used.unwrap_or_default();
            let price = float(line.price.amount) * parts.charged / used.sum;
            if price.is_finite() {
                net.add_like((used.sum * price, used.squares * price * price), sigma);
            }
        }
        let each = parts.worn / self.worn.sum;
        if each.is_finite() {
            let worn = (self.worn.sum * each, self.worn.squares * each * each);
            net.add_like(worn, spread.material);
        } else {
            net.add(parts.worn, spread.material, 1.0);
        }
        net
    }

    /// In how many hours the crews may do it, one floor after the other, allowance included and set-up not.
    pub(crate) fn crewed_h(&self, allowance: Share, spread: &SpreadFigures) -> Percentiles {
        let crewed = self.crewed.scaled(stretch(allowance));
        crewed.percentiles(spread.shared)
    }
}

/// By how much the allowance stretches working time.
pub(crate) fn stretch(allowance: Share) -> f64 {
    1.0 + float(allowance.ten_thousandths()) / 10_000.0
}

/// What a cost sheet before tax comes to, by what makes it uncertain, in 1/10,000 of the currency's unit.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Parts {
    /// Working time, with allowance.
    pub(crate) labour: f64,
    /// Machine hours.
    pub(crate) machine: f64,
    /// Pads and waste.
    pub(crate) worn: f64,
    /// Products.
    pub(crate) product: f64,
    /// By how much what is charged on top makes direct cost dearer; it is in the others.
    pub(crate) charged: f64,
}

impl CostSheet {
    /// The price before tax, by what makes it uncertain. What is charged on top is shared out in proportion.
    pub(crate) fn parts(&self) -> Parts {
        let of_kinds = |kinds: &[LineKind]| {
            let lines = self.lines.iter().filter(|line| kinds.contains(&line.kind));
            lines.map(|line| float(line.amount.amount)).sum::<f64>()
        };
        let labour = of_kinds(&[LineKind::Labour, LineKind::Allowance]);
        let machine = of_kinds(&[LineKind::Machine]);
        let worn = of_kinds(&[LineKind::Consumable, LineKind::Waste]);
        let product = of_kinds(&[LineKind::Product]);
        let direct = labour + machine + worn + product;
        if direct <= 0.0 {
            return Parts::default();
        }
        let charged = float(self.net.amount) / direct;
        Parts {
            labour: labour * charged,
            machine: machine * charged,
            worn: worn * charged,
            product: product * charged,
            charged,
        }
    }
}

/// Why percentiles are what they are.
pub(crate) fn basis(outlook: &Outlook, labour: &[LabourLine], spread: &SpreadFigures) -> Basis {
    let widest = labour.iter().map(|line| line.sigma).fold(0.0, f64::max);
    Basis {
        id: "outlook".to_owned(),
        what: "price before tax that is enough in four of five cases".to_owned(),
        formula: "Σ of lognormal amounts that share a factor, drawn where packs are paid whole, else taken as lognormal with the same mean and variance; percentiles are never added",
        inputs: vec![
            figure("paid_h_p80", outlook.paid_h.p80, "h"),
            figure("product_l_p80", outlook.product_l.p80, "L"),
            figure("widest_labour_sigma", widest, ""),
            figure("material_sigma", spread.material, ""),
            figure("shared", spread.shared, ""),
            figure("draws", f64::from(outlook.n_draws), ""),
        ],
        result: outlook.net.p80 / 10_000.0,
        unit: "units of currency",
        rounding: "to the 1/10,000; packs that are paid whole are counted anew for each of draws, other products go by the litre",
        source: spread.source.clone(),
        grade: spread.grade,
    }
}

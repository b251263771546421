//! How hours, product and money may turn out: every line of work with its own doubt, summed as amounts that share a factor.
//!
//! Hours vary by line of labour: by what jobs have told where the rate is learnt, else as the knowledge base says. Product
//! and money for it vary with what is used; packs are not counted anew for each case, so money goes with litres. Setting up
//! and cleaning down do not vary.

use std::collections::BTreeMap;

use super::{
    basis::{Basis, input as figure},
    cost::{CostSheet, LineKind},
    labour::LabourLine,
    pads::PadLine,
    quantities::ProductLine,
    spread::{Percentiles, Sum},
};
use crate::{
    card::Share,
    knowledge::SpreadFigures,
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
}

/// Medians of like amounts, one a floor.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Many {
    sum: f64,
    squares: f64,
}

impl Many {
    fn add(&mut self, median: f64) {
        self.sum += median;
        self.squares += median * median;
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
    products: BTreeMap<String, Many>,
    /// Area for pads and waste.
    worn: Many,
}

/// What an outlook is of, as it is priced.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Priced<'a> {
    pub(crate) products: &'a [ProductLine],
    pub(crate) cost: &'a CostSheet,
    pub(crate) allowance: Share,
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
            known.or_default().add(litres);
        }
        self.worn.add(pads.iter().map(|pad| pad.area.m2()).sum());
    }

    /// How it may turn out.
    pub(crate) fn outlook(&self, priced: &Priced<'_>, spread: &SpreadFigures) -> Outlook {
        let paid: Labour = priced.cost.lines.iter().map(|line| line.labour).sum();
        let (paid, stretch) = (paid.hours(), stretch(priced.allowance));
        let fixed = (paid - self.worked_h * stretch).max(0.0);
        let mut hours = self.hours.scaled(stretch);
        hours.add(fixed, 0.0, 1.0);
        let mut litres = Sum::default();
        for sum in self.products.values() {
            litres.add_like((sum.sum, sum.squares), spread.material);
        }
        let net = self.net(priced, (fixed, paid), spread);
        Outlook {
            paid_h: hours.percentiles(spread.shared),
            product_l: litres.percentiles(spread.shared),
            net: net.percentiles(spread.shared),
        }
    }

    /// What it costs before tax. What is charged on top is shared out in proportion.
    fn net(&self, priced: &Priced<'_>, (fixed, paid): (f64, f64), spread: &SpreadFigures) -> Sum {
        let parts = priced.cost.parts();
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
        for line in priced.products {
            let used = self.products.get(&line.product).copied();
            let used = used.filter(|used| used.sum > 0.0).unwrap_or_default();
            let price = float(line.price.amount) * parts.charged / used.sum;
            if price.is_finite() {
                net.add_like(
                    (used.sum * price, used.squares * price * price),
                    spread.material,
                );
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
        formula: "Σ of lognormal amounts that share a factor, taken as lognormal with the same mean and variance; percentiles are never added",
        inputs: vec![
            figure("paid_h_p80", outlook.paid_h.p80, "h"),
            figure("product_l_p80", outlook.product_l.p80, "L"),
            figure("widest_labour_sigma", widest, ""),
            figure("material_sigma", spread.material, ""),
            figure("shared", spread.shared, ""),
        ],
        result: outlook.net.p80 / 10_000.0,
        unit: "units of currency",
        rounding: "to the 1/10,000; packs are not counted anew for each case, money goes with litres",
        source: spread.source.clone(),
        grade: spread.grade,
    }
}

//! Money: one line for each thing that costs, rounded once; every total is the sum of the lines that are shown.

use crate::{
    card::{RateCard, Share},
    estimate::{
        labour::LabourLine,
        quantities::{PackCount, PadLine, ProductLine, WaterLine},
    },
    knowledge::KnowledgeBase,
    money::Money,
    plan::Stage,
    quantity::{Labour, Volume},
    words::words,
};

words! {
    /// What a line of a cost sheet pays for.
    LineKind {
        /// Working time.
        Labour "labour",
        /// Rest, fatigue and delay.
        Allowance "allowance",
        /// A product, by pack.
        Product "product",
        /// Pads.
        Consumable "consumable",
        /// Machine hours.
        Machine "machine",
        /// Getting rid of slurry.
        Waste "waste",
        /// What nobody foresees.
        Contingency "contingency",
        /// Running the business.
        Overhead "overhead",
        /// Margin.
        Margin "margin",
        /// Tax; in no total before tax.
        Tax "tax",
    }
}

/// One line of a cost sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct CostLine {
    /// What it pays for.
    pub kind: LineKind,
    /// In words.
    pub what: String,
    /// The part of floor care, where it belongs to one.
    pub stage: Option<Stage>,
    /// The class of product, for product lines.
    pub product_class: Option<String>,
    /// Working time in it.
    pub labour: Labour,
    /// Product in it, as used.
    pub volume: Volume,
    /// Rounded to the minor unit.
    pub amount: Money,
    /// How it is worked out.
    pub formula: String,
}

/// What work costs.
#[derive(Debug, Clone, PartialEq)]
pub struct CostSheet {
    /// The lines, tax last.
    pub lines: Vec<CostLine>,
    /// Labour to waste.
    pub direct: Money,
    /// All but tax.
    pub net: Money,
    /// Tax.
    pub tax: Money,
    /// All of it.
    pub gross: Money,
}

/// What a cost sheet is made from.
#[derive(Debug, Clone, Copy)]
pub(crate) struct CostInput<'a> {
    pub(crate) base: &'a KnowledgeBase,
    pub(crate) card: &'a RateCard,
    pub(crate) labour: &'a [LabourLine],
    /// How many jobs are set up and cleaned down.
    pub(crate) jobs: i64,
    pub(crate) products: &'a [ProductLine],
    pub(crate) pads: &'a [PadLine],
    pub(crate) water: WaterLine,
    /// The stage to which setting up belongs.
    pub(crate) first_stage: Stage,
}

/// Setting up and cleaning down, for so many jobs.
pub(crate) fn around(card: &RateCard, jobs: i64) -> Labour {
    let minutes = card.setup_min.saturating_add(card.clean_down_min);
    Labour::from_minutes(minutes.saturating_mul(jobs))
}

/// How an amount by the hour is worked out, in words.
fn hourly(time: Labour, per_h: Money) -> String {
    format!("{:.4} h · {} an hour", time.hours(), per_h.rate_text())
}

/// Packs of one size, in words.
fn pack(pack: &PackCount) -> String {
    let size = Volume::from_ml(pack.size_ml).l();
    format!("{} × {size} L", pack.count)
}

/// What of a product is paid for, in words.
fn bought(line: &ProductLine) -> String {
    let free = line.stock.total();
    let first = if free > Volume::ZERO {
        format!("{} L left over; ", free.l())
    } else {
        String::new()
    };
    if line.packs.is_empty() {
        return format!("{first}nothing to buy");
    }
    if line.whole {
        let packs: Vec<String> = line.packs.iter().map(pack).collect();
        format!("{first}packs at least cost: {}", packs.join(", "))
    } else {
        let paid = line.total.less(free).l();
        format!("{first}{paid:.3} L by the litre, at the best pack's price")
    }
}

/// A share of an amount, rounded to the minor unit.
fn share(of: Money, share: Share) -> Money {
    of.times(share.ten_thousandths(), 10_000)
}

/// Adds lines and keeps their sums; amounts are of the card's currency throughout.
struct Sheet {
    lines: Vec<CostLine>,
    zero: Money,
}

impl Sheet {
    fn push(
        &mut self,
        kind: LineKind,
        what: String,
        amount: Money,
        formula: String,
    ) -> Option<&mut CostLine> {
        self.lines.push(CostLine {
            kind,
            what,
            stage: None,
            product_class: None,
            labour: Labour::ZERO,
            volume: Volume::ZERO,
            amount,
            formula,
        });
        self.lines.last_mut()
    }

    fn sum(&self, kinds: &[LineKind]) -> Money {
        let counted = self.lines.iter().filter(|line| kinds.contains(&line.kind));
        let amount = counted.fold(0_i64, |sum, line| sum.saturating_add(line.amount.amount));
        Money {
            amount,
            ..self.zero
        }
    }
}

const DIRECT: [LineKind; 6] = [
    LineKind::Labour,
    LineKind::Allowance,
    LineKind::Product,
    LineKind::Consumable,
    LineKind::Machine,
    LineKind::Waste,
];

/// Prices labour, products, pads, machines and waste, then adds contingency, overhead, margin and tax.
pub(crate) fn cost(input: &CostInput<'_>) -> CostSheet {
    let card = input.card;
    let mut sheet = Sheet {
        lines: Vec::new(),
        zero: Money::zero(card.currency),
    };
    add_labour(&mut sheet, input);
    for line in input.products {
        let formula = bought(line);
        if let Some(added) = sheet.push(LineKind::Product, line.name.clone(), line.price, formula) {
            added.stage = Some(line.stage);
            added.product_class = Some(line.class.clone());
            added.volume = line.total;
        }
    }
    for line in input.pads {
        let formula = if line.whole {
            format!("{} × {}", line.count, line.each.rate_text())
        } else {
            format!(
                "the share worn off by {} m², of {} each",
                line.area.m2(),
                line.each.rate_text()
            )
        };
        sheet.push(
            LineKind::Consumable,
            format!("{} pads", line.pad),
            line.price,
            formula,
        );
    }
    add_machines(&mut sheet, input);
    let waste = card.waste_per_l.for_volume(input.water.slurry);
    if input.water.slurry > Volume::ZERO {
        let formula = format!(
            "{:.1} L · {} a litre",
            input.water.slurry.l(),
            card.waste_per_l.rate_text()
        );
        sheet.push(
            LineKind::Waste,
            "slurry to the foul drain or a contractor".to_owned(),
            waste,
            formula,
        );
    }
    close(sheet, card)
}

fn add_labour(sheet: &mut Sheet, input: &CostInput<'_>) {
    let card = input.card;
    for line in input.labour {
        let amount = card.labour_per_h.for_labour(line.time);
        if let Some(added) = sheet.push(
            LineKind::Labour,
            line.name.clone(),
            amount,
            hourly(line.time, card.labour_per_h),
        ) {
            added.stage = Some(line.stage);
            added.labour = line.time;
        }
    }
    let around = around(card, input.jobs);
    let amount = card.labour_per_h.for_labour(around);
    if let Some(added) = sheet.push(
        LineKind::Labour,
        "setting up and cleaning down".to_owned(),
        amount,
        hourly(around, card.labour_per_h),
    ) {
        added.stage = Some(input.first_stage);
        added.labour = around;
    }
    let worked: Labour = sheet.lines.iter().map(|line| line.labour).sum();
    let allowance = card.allowance.ten_thousandths();
    let amount = share(sheet.sum(&[LineKind::Labour]), card.allowance);
    let formula = format!("{} % of labour", card.allowance.pct());
    if let Some(added) = sheet.push(
        LineKind::Allowance,
        "rest, fatigue and delay".to_owned(),
        amount,
        formula,
    ) {
        added.labour = worked.scaled(allowance, 10_000);
    }
}

fn add_machines(sheet: &mut Sheet, input: &CostInput<'_>) {
    for machine in &input.base.machines {
        let busy: Labour = input
            .labour
            .iter()
            .filter(|line| line.machine.as_ref() == Some(&machine.key))
            .map(|line| line.time)
            .sum();
        if busy > Labour::ZERO {
            let per_h = input.card.machine_per_h(input.base, &machine.key);
            let formula = hourly(busy, per_h);
            sheet.push(
                LineKind::Machine,
                machine.name.clone(),
                per_h.for_labour(busy),
                formula,
            );
        }
    }
}

fn close(mut sheet: Sheet, card: &RateCard) -> CostSheet {
    let direct = sheet.sum(&DIRECT);
    let formula = format!("{} % of direct cost", card.contingency.pct());
    let contingency = share(direct, card.contingency);
    sheet.push(
        LineKind::Contingency,
        "contingency".to_owned(),
        contingency,
        formula,
    );
    let base = Money {
        amount: direct.amount.saturating_add(contingency.amount),
        ..direct
    };
    let formula = format!("{} % of direct cost and contingency", card.overhead.pct());
    sheet.push(
        LineKind::Overhead,
        "overhead".to_owned(),
        share(base, card.overhead),
        formula,
    );
    let all = [
        DIRECT.as_slice(),
        &[LineKind::Contingency, LineKind::Overhead],
    ]
    .concat();
    let margin = card.margin.ten_thousandths();
    let amount = sheet
        .sum(&all)
        .times(margin, 10_000_i64.saturating_sub(margin));
    let formula = format!(
        "so that it is {} % of the price before tax",
        card.margin.pct()
    );
    sheet.push(LineKind::Margin, "margin".to_owned(), amount, formula);
    let net = sheet.sum(&[all.as_slice(), &[LineKind::Margin]].concat());
    let tax = share(net, card.tax);
    sheet.push(
        LineKind::Tax,
        "tax".to_owned(),
        tax,
        format!("{} % of the price before tax", card.tax.pct()),
    );
    let gross = Money {
        amount: net.amount.saturating_add(tax.amount),
        ..net
    };
    CostSheet {
        lines: sheet.lines,
        direct,
        net,
        tax,
        gross,
    }
}

//! Money: one line for each thing that costs, rounded once; every total is the sum of the lines that are shown.

use crate::{
    card::{RateCard, Share},
    estimate::{
        basis::Telling,
        labour::LabourLine,
        pads::PadLine,
        quantities::{PackCount, ProductLine, WaterLine},
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
    /// Whether lines say what they are and how they are worked out.
    pub(crate) telling: Telling,
}

/// Setting up and cleaning down, for so many jobs.
pub(crate) fn around(card: &RateCard, jobs: i64) -> Labour {
    let minutes = card.setup_min.saturating_add(card.clean_down_min);
    Labour::from_minutes(minutes.saturating_mul(jobs))
}

/// How long setting up and cleaning down once keeps a crew of `of / for_one` operatives, who share it, with the allowance:
/// what each window of a plan and each shift of an estimate loses.
pub(crate) fn around_of_crew(card: &RateCard, (for_one, of): (i64, i64)) -> Labour {
    let numerator = 10_000_i64.saturating_add(card.allowance.ten_thousandths());
    let stretched = around(card, 1).scaled(numerator, 10_000);
    stretched.scaled(for_one, of.max(1))
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
    let open = line.out_of_open_packs();
    if line.packs.is_empty() && open == Volume::ZERO {
        return format!("{first}nothing to buy");
    }
    if line.whole {
        let packs: Vec<String> = line.packs.iter().map(pack).collect();
        let packs = format!("{first}packs at least cost: {}", packs.join(", "));
        if open > Volume::ZERO {
            format!("{packs}; {:.3} L by the litre for routine work", open.l())
        } else {
            packs
        }
    } else {
        let paid = line.total.less(free).l();
        format!("{first}{paid:.3} L by the litre, at the best pack's price")
    }
}

/// A share of an amount, rounded to the minor unit.
fn share(of: Money, share: Share) -> Money {
    of.times(share.ten_thousandths(), 10_000)
}

/// As many lines as a sheet usually has.
const LINES: usize = 24;

/// Adds lines and keeps their sums; amounts are of the card's currency throughout.
struct Sheet {
    lines: Vec<CostLine>,
    zero: Money,
    telling: Telling,
}

impl Sheet {
    fn push(
        &mut self,
        kind: LineKind,
        what: &str,
        amount: Money,
        formula: impl FnOnce() -> String,
    ) -> Option<&mut CostLine> {
        self.lines.push(CostLine {
            kind,
            what: self.telling.text(|| what.to_owned()),
            stage: None,
            product_class: None,
            labour: Labour::ZERO,
            volume: Volume::ZERO,
            amount,
            formula: self.telling.text(formula),
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
        lines: Vec::with_capacity(LINES),
        zero: Money::zero(card.currency),
        telling: input.telling,
    };
    add_labour(&mut sheet, input);
    for line in input.products {
        let formula = || bought(line);
        if let Some(added) = sheet.push(LineKind::Product, &line.name, line.price, formula) {
            added.stage = Some(line.stage);
            added.product_class = Some(input.telling.text(|| line.class.clone()));
            added.volume = line.total;
        }
    }
    for line in input.pads {
        let formula = || {
            if line.whole {
                format!("{} × {}", line.count, line.each.rate_text())
            } else {
                format!(
                    "the share worn off by {} m², of {} each",
                    line.area.m2(),
                    line.each.rate_text()
                )
            }
        };
        let what = input.telling.text(|| format!("{} pads", line.pad));
        sheet.push(LineKind::Consumable, &what, line.price, formula);
    }
    add_machines(&mut sheet, input);
    let waste = card.waste_per_l.for_volume(input.water.slurry);
    if input.water.slurry > Volume::ZERO {
        let formula = || {
            format!(
                "{:.1} L · {} a litre",
                input.water.slurry.l(),
                card.waste_per_l.rate_text()
            )
        };
        let what = "slurry to the foul drain or a contractor";
        sheet.push(LineKind::Waste, what, waste, formula);
    }
    close(sheet, card)
}

fn add_labour(sheet: &mut Sheet, input: &CostInput<'_>) {
    let card = input.card;
    for line in input.labour {
        let amount = card.labour_per_h.for_labour(line.time);
        let formula = || hourly(line.time, card.labour_per_h);
        if let Some(added) = sheet.push(LineKind::Labour, &line.name, amount, formula) {
            added.stage = Some(line.stage);
            added.labour = line.time;
        }
    }
    let around = around(card, input.jobs);
    let amount = card.labour_per_h.for_labour(around);
    let (what, formula) = ("setting up and cleaning down", || {
        hourly(around, card.labour_per_h)
    });
    if let Some(added) = sheet.push(LineKind::Labour, what, amount, formula) {
        added.stage = Some(input.first_stage);
        added.labour = around;
    }
    let worked: Labour = sheet.lines.iter().map(|line| line.labour).sum();
    let allowance = card.allowance.ten_thousandths();
    let amount = share(sheet.sum(&[LineKind::Labour]), card.allowance);
    let formula = || format!("{} % of labour", card.allowance.pct());
    let what = "rest, fatigue and delay";
    if let Some(added) = sheet.push(LineKind::Allowance, what, amount, formula) {
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
            let amount = per_h.for_labour(busy);
            sheet.push(LineKind::Machine, &machine.name, amount, || {
                hourly(busy, per_h)
            });
        }
    }
}

fn close(mut sheet: Sheet, card: &RateCard) -> CostSheet {
    let direct = sheet.sum(&DIRECT);
    let contingency = share(direct, card.contingency);
    sheet.push(LineKind::Contingency, "contingency", contingency, || {
        format!("{} % of direct cost", card.contingency.pct())
    });
    let base = Money {
        amount: direct.amount.saturating_add(contingency.amount),
        ..direct
    };
    let overhead = share(base, card.overhead);
    sheet.push(LineKind::Overhead, "overhead", overhead, || {
        format!("{} % of direct cost and contingency", card.overhead.pct())
    });
    // All that stands there by now: every line is a cost.
    let costs = sheet.sum(LineKind::ALL);
    let margin = card.margin.ten_thousandths();
    let amount = costs.times(margin, 10_000_i64.saturating_sub(margin));
    sheet.push(LineKind::Margin, "margin", amount, || {
        format!(
            "so that it is {} % of the price before tax",
            card.margin.pct()
        )
    });
    let net = sheet.sum(LineKind::ALL);
    let tax = share(net, card.tax);
    sheet.push(LineKind::Tax, "tax", tax, || {
        format!("{} % of the price before tax", card.tax.pct())
    });
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

//! What contractors did: a completion priced at the rate card of its day and set against the plan that it cites.
//!
//! Facts are appended: a correction is a new completion that supersedes. A completion that contradicts its plan is
//! recorded and flagged with deviations, never dropped.

mod contradiction;
mod part;
mod variance;

pub use contradiction::{Deviation, Promised, deviations, in_itself, in_volume, on_other_surface};
pub use part::{PlanPart, WHOLE_PPM, share_ppm};
use variance::Brought;

use crate::{
    card::RateCard,
    estimate::cost::{CostSheet, LineKind},
    knowledge::Products,
    money::Money,
    plan::Stage,
    quantity::{Labour, Volume},
};

/// One line of a plan's cost sheet, as it is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LedgerLine {
    /// What it pays for.
    pub kind: LineKind,
    /// The part of floor care.
    pub stage: Option<Stage>,
    /// The class of product.
    pub product_class: Option<String>,
    /// Working time in it.
    pub labour: Labour,
    /// Product in it.
    pub volume: Volume,
    /// Its amount.
    pub amount: Money,
}

/// The lines of a cost sheet as they are kept: one for each kind, stage and class of product, sums exact.
pub fn ledger(sheet: &CostSheet) -> Vec<LedgerLine> {
    let mut lines: Vec<LedgerLine> = Vec::new();
    for line in &sheet.lines {
        let known = lines.iter_mut().find(|sum| {
            sum.kind == line.kind
                && sum.stage == line.stage
                && sum.product_class == line.product_class
        });
        match known {
            Some(sum) => {
                sum.labour = sum.labour.plus(line.labour);
                sum.volume = sum.volume.plus(line.volume);
                sum.amount.amount = sum.amount.amount.saturating_add(line.amount.amount);
            }
            None => lines.push(LedgerLine {
                kind: line.kind,
                stage: line.stage,
                product_class: line.product_class.clone(),
                labour: line.labour,
                volume: line.volume,
                amount: line.amount,
            }),
        }
    }
    lines
}

/// Product that was used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Used {
    /// The product's key.
    pub product: String,
    /// The part of floor care.
    pub stage: Stage,
    /// Undiluted product.
    pub volume: Volume,
}

/// What a contractor reports of the work.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Reported {
    /// Hours of all operatives, by stage.
    pub labour: Vec<(Stage, Labour)>,
    /// Products.
    pub products: Vec<Used>,
    /// Coats of seal.
    pub seal_coats: Option<i64>,
    /// Coats of polish.
    pub polish_coats: Option<i64>,
    /// pH of the wet floor after rinsing, in hundredths.
    pub surface_ph_hundredths: Option<i64>,
    /// From beginning to end.
    pub elapsed: Labour,
    /// What the contractor charges before tax.
    pub charged: Option<Money>,
    /// What stands on the contractor's invoice.
    pub invoice: Vec<InvoiceLine>,
    /// Products that were used after their last day, by their keys.
    pub expired: Vec<String>,
    /// Films that were found dry.
    pub dried: Vec<Dried>,
}

/// How long a film took until it was dry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dried {
    /// The key of the wait for it.
    pub wait: String,
    /// Minutes from the end of laying or rinsing.
    pub after_min: i64,
}

/// A line of a contractor's invoice.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InvoiceLine {
    /// What it is for.
    pub text: String,
    /// Its amount before tax.
    pub net: Money,
}

impl Reported {
    /// What the lines of the invoice come to; none without lines.
    pub fn invoiced(&self) -> Option<Money> {
        let first = self.invoice.first()?;
        let sum = |sum: i64, line: &InvoiceLine| sum.saturating_add(line.net.amount);
        Some(Money {
            amount: self.invoice.iter().fold(0, sum),
            ..first.net
        })
    }
}

/// One line of a completion: planned beside actual.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecordLine {
    /// What it pays for; `None` for an amount that the contractor charged as a whole.
    pub kind: Option<LineKind>,
    /// The part of floor care.
    pub stage: Option<Stage>,
    /// The class of product.
    pub product_class: Option<String>,
    /// Time as planned.
    pub planned_labour: Labour,
    /// Time as reported.
    pub actual_labour: Labour,
    /// Product as planned.
    pub planned_volume: Volume,
    /// Product as reported.
    pub actual_volume: Volume,
    /// Money as planned.
    pub planned: Money,
    /// Reported hours and litres at the rate card.
    pub computed: Money,
    /// What counts: computed, or what was charged.
    pub actual: Money,
    /// What litres that were used beyond the plan, or saved, come to at the planned price.
    pub quantity: Money,
    /// What hours beyond the plan, or saved, come to at the planned rate.
    pub productivity: Money,
    /// Water that the product was made up with, at its own dilution.
    pub water: Volume,
    /// Volatile organic compounds in the product, in mg.
    pub voc_mg: i64,
    /// Product whose sheet does not tell them.
    pub voc_unknown: Volume,
}

/// Why a completion cannot be priced.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RecordError {
    /// A product that the knowledge base does not have.
    #[error("no product is named `{key}`")]
    UnknownProduct {
        /// What was named.
        key: String,
        /// Its place in the report.
        index: usize,
    },
    /// Money of another currency than the site's.
    #[error("the charged amount is not in the site's currency")]
    Currency,
}

/// Sets a report against its part of the plan's lines, priced at the card of the day.
///
/// Pads, machine hours and slurry are reported by nobody: they are taken as planned. Overhead, margin and tax are
/// those of the card. So planned and actual compare like with like, but for contingency, which is a reserve and not
/// spent, and for what is left in packs. A charged amount takes the place of all computed ones and is before tax.
///
/// # Errors
/// [`RecordError`] for an unknown product or a charge in another currency.
pub fn price<'a>(
    products: impl Into<Products<'a>>,
    card: &RateCard,
    planned: &[LedgerLine],
    part: PlanPart,
    reported: &Reported,
) -> Result<Vec<RecordLine>, RecordError> {
    let products = products.into();
    let mut sheet = Sheet {
        zero: Money::zero(card.currency),
        lines: Vec::new(),
    };
    for line in planned {
        let row = sheet.row(Some(line.kind), line.stage, line.product_class.as_deref());
        row.planned_labour = row.planned_labour.plus(part.of_labour(line.labour));
        row.planned_volume = row.planned_volume.plus(part.of_volume(line.volume));
        let share = part.of_money(line.amount);
        row.planned.amount = row.planned.amount.saturating_add(share);
    }
    for (stage, time) in &reported.labour {
        let row = sheet.row(Some(LineKind::Labour), Some(*stage), None);
        row.actual_labour = row.actual_labour.plus(*time);
        let pay = card.labour_per_h.for_labour(*time);
        row.computed.amount = row.computed.amount.saturating_add(pay.amount);
    }
    for (index, used) in reported.products.iter().enumerate() {
        let unknown = || RecordError::UnknownProduct {
            key: used.product.clone(),
            index,
        };
        let product = products.product(&used.product).ok_or_else(unknown)?;
        let row = sheet.row(
            Some(LineKind::Product),
            Some(used.stage),
            Some(&product.class),
        );
        row.actual_volume = row.actual_volume.plus(used.volume);
        let value = card.per_litre(product).for_volume(used.volume);
        row.computed.amount = row.computed.amount.saturating_add(value.amount);
        let brought = Brought::by(product, used.volume);
        row.water = row.water.plus(brought.water);
        row.voc_mg = row.voc_mg.saturating_add(brought.voc_mg);
        row.voc_unknown = row.voc_unknown.plus(brought.voc_unknown);
    }
    sheet.take_as_planned();
    sheet.close(card, reported.charged)?;
    variance::explain(&mut sheet.lines, reported.charged.is_some());
    Ok(sheet.lines)
}

struct Sheet {
    zero: Money,
    lines: Vec<RecordLine>,
}

impl Sheet {
    fn row(
        &mut self,
        kind: Option<LineKind>,
        stage: Option<Stage>,
        class: Option<&str>,
    ) -> &mut RecordLine {
        let found = self.lines.iter().position(|line| {
            line.kind == kind && line.stage == stage && line.product_class.as_deref() == class
        });
        let at = found.unwrap_or(self.lines.len());
        if found.is_none() {
            self.lines.push(RecordLine {
                kind,
                stage,
                product_class: class.map(str::to_owned),
                planned_labour: Labour::ZERO,
                actual_labour: Labour::ZERO,
                planned_volume: Volume::ZERO,
                actual_volume: Volume::ZERO,
                planned: self.zero,
                computed: self.zero,
                actual: self.zero,
                quantity: self.zero,
                productivity: self.zero,
                water: Volume::ZERO,
                voc_mg: 0,
                voc_unknown: Volume::ZERO,
            });
        }
        #[expect(clippy::indexing_slicing, reason = "the row was found or pushed above")]
        &mut self.lines[at]
    }

    fn computed(&self) -> Money {
        let amount = self
            .lines
            .iter()
            .fold(0_i64, |sum, line| sum.saturating_add(line.computed.amount));
        Money {
            amount,
            ..self.zero
        }
    }

    /// What nobody reports cost what was planned for it.
    fn take_as_planned(&mut self) {
        let unreported = [LineKind::Consumable, LineKind::Machine, LineKind::Waste];
        for line in &mut self.lines {
            if line.kind.is_some_and(|kind| unreported.contains(&kind)) {
                line.computed = line.planned;
            }
        }
    }

    /// Adds overhead, margin and tax, and decides what counts.
    fn close(&mut self, card: &RateCard, charged: Option<Money>) -> Result<(), RecordError> {
        let overhead = self
            .computed()
            .times(card.overhead.ten_thousandths(), 10_000);
        self.row(Some(LineKind::Overhead), None, None).computed = overhead;
        let margin = card.margin.ten_thousandths();
        let margin = self
            .computed()
            .times(margin, 10_000_i64.saturating_sub(margin));
        self.row(Some(LineKind::Margin), None, None).computed = margin;
        let net = match charged {
            Some(charged) if charged.currency != card.currency => {
                return Err(RecordError::Currency);
            }
            Some(charged) => {
                let charged = charged.shown();
                self.row(None, None, None).actual = charged;
                charged
            }
            None => {
                for line in &mut self.lines {
                    line.actual = line.computed;
                }
                self.computed()
            }
        };
        let tax_computed = self.computed().times(card.tax.ten_thousandths(), 10_000);
        let tax = net.times(card.tax.ten_thousandths(), 10_000);
        let row = self.row(Some(LineKind::Tax), None, None);
        (row.computed, row.actual) = (tax_computed, tax);
        Ok(())
    }
}

#[cfg(test)]
mod tests;

//! One estimate over many floors: quantities pooled before packs are bought, set-up paid once a shift.

use std::collections::BTreeMap;

use crate::{
    card::RateCard,
    estimate::{
        basis::{Basis, input as figure},
        cost::{CostInput, CostSheet, around, cost},
        labour::LabourLine,
        quantities::{PadLine, PadWork, ProductLine, WaterLine, buy, pads, stock_reason},
    },
    knowledge::Products,
    money::Money,
    plan::{DraftPlanError, Plan, Stage, Verdict, Work},
    quantity::{Area, Labour, Rounding, divide, float},
    stock::Stock,
};

/// One floor of an estimate.
#[derive(Debug, Clone, Copy)]
pub struct Planned<'a> {
    /// Its area.
    pub area: Area,
    /// Its plan.
    pub plan: &'a Plan,
}

/// What floors of one verdict come to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct VerdictCount {
    /// The verdict.
    pub verdict: Verdict,
    /// How many floors.
    pub n_surfaces: i64,
    /// Their area.
    pub area: Area,
}

/// What the work on many floors needs and costs.
#[derive(Debug, Clone, PartialEq)]
pub struct Estimate {
    /// Floors by verdict.
    pub verdicts: Vec<VerdictCount>,
    /// Labour by activity and stage.
    pub labour: Vec<LabourLine>,
    /// Working time of all operatives with set-up and allowance.
    pub paid: Labour,
    /// Shifts of the crew, each set up and cleaned down once.
    pub n_shifts: i64,
    /// Products and what is ordered.
    pub products: Vec<ProductLine>,
    /// Clean water and slurry.
    pub water: WaterLine,
    /// Pads.
    pub pads: Vec<PadLine>,
    /// What it costs together.
    pub cost: CostSheet,
    /// What the plans would cost one by one, before tax.
    pub apart: Money,
    /// Why each number is what it is.
    pub basis: Vec<Basis>,
}

/// Pools plans that were made as if nothing were left over; `stock` goes into what they need together. Floors whose plan has no work (refused, or a fact is missing) count in the verdicts and cost nothing.
///
/// # Errors
/// [`DraftPlanError::Figure`] where packs cannot be bought.
pub fn pool<'a>(
    from: impl Into<Products<'a>>,
    card: &RateCard,
    planned: &[Planned<'_>],
    stock: Stock<'_>,
) -> Result<Estimate, DraftPlanError> {
    let from = from.into();
    let base = from.base;
    let mut basis = Vec::new();
    let works: Vec<_> = planned
        .iter()
        .filter_map(|floor| floor.plan.work.as_ref())
        .collect();
    let labour = pool_labour(works.iter().flat_map(|work| &work.labour), &mut basis);
    let mut products = pool_products(works.iter().flat_map(|work| &work.products));
    for line in &mut products {
        buy(line, card, from, stock)?;
        basis.push(product_basis(from, line));
        basis.extend(stock_reason(line));
    }
    let mut pad_works: BTreeMap<String, PadWork> = BTreeMap::new();
    for pad in works.iter().flat_map(|work| &work.pads) {
        let work = pad_works
            .entry(pad.pad.clone())
            .or_insert((Area::ZERO, false));
        *work = (work.0.plus(pad.area), work.1 || pad.whole);
    }
    let pads = pads(base, card, &pad_works, &mut basis);
    let water = works
        .iter()
        .fold(WaterLine::default(), |sum, work| WaterLine {
            clean: sum.clean.plus(work.water.clean),
            dilution: sum.dilution.plus(work.water.dilution),
            slurry: sum.slurry.plus(work.water.slurry),
        });
    let n_shifts = shifts(from, card, &works, &mut basis);
    let cost = cost(&CostInput {
        base,
        card,
        labour: &labour,
        jobs: n_shifts,
        products: &products,
        pads: &pads,
        water,
        first_stage: Stage::Prepare,
    });
    let paid = cost.lines.iter().map(|line| line.labour).sum();
    let apart = works
        .iter()
        .fold(0_i64, |sum, work| sum.saturating_add(work.cost.net.amount));
    Ok(Estimate {
        verdicts: count(planned),
        labour,
        paid,
        n_shifts,
        products,
        water,
        pads,
        cost,
        apart: Money {
            amount: apart,
            currency: card.currency,
        },
        basis,
    })
}

fn count(planned: &[Planned<'_>]) -> Vec<VerdictCount> {
    let of = |verdict: Verdict| {
        let floors = planned
            .iter()
            .filter(move |floor| floor.plan.verdict == verdict);
        VerdictCount {
            verdict,
            n_surfaces: i64::try_from(floors.clone().count()).unwrap_or(i64::MAX),
            area: floors.map(|floor| floor.area).sum(),
        }
    };
    Verdict::ALL
        .iter()
        .copied()
        .map(of)
        .filter(|count| count.n_surfaces > 0)
        .collect()
}

fn pool_labour<'a>(
    lines: impl Iterator<Item = &'a LabourLine>,
    basis: &mut Vec<Basis>,
) -> Vec<LabourLine> {
    let mut pooled: Vec<LabourLine> = Vec::new();
    // Hours at the slowest and at the fastest rate of each plan.
    let mut bounds: Vec<[f64; 2]> = Vec::new();
    for line in lines {
        let mut known = pooled.iter_mut().zip(&mut bounds);
        let known = known.find(|(sum, _hours)| {
            sum.activity == line.activity && sum.name == line.name && sum.stage == line.stage
        });
        let worked = line.quantity * float(line.times);
        let hours = line
            .per_h_range
            .map(|per_h| worked / per_h + line.filling.hours());
        if let Some((sum, [slow, fast])) = known {
            sum.quantity += worked;
            sum.time = sum.time.plus(line.time);
            sum.filling = sum.filling.plus(line.filling);
            *slow += hours[0];
            *fast += hours[1];
        } else {
            pooled.push(LabourLine {
                quantity: worked,
                times: 1,
                ..line.clone()
            });
            bounds.push(hours);
        }
    }
    for (line, hours) in pooled.iter_mut().zip(&bounds) {
        line.per_h = line.quantity / line.time.hours();
        line.per_h_range = hours.map(|hours| line.quantity / hours);
        line.basis = format!(
            "labour.{}.{}.{}",
            line.stage.word(),
            line.activity,
            basis.len()
        );
        basis.push(Basis {
            id: line.basis.clone(),
            what: format!("labour: {}", line.name),
            formula: "Σ plans",
            inputs: vec![figure("quantity", line.quantity, line.unit)],
            result: line.time.hours(),
            unit: "h",
            rounding: "to the microsecond in each plan",
            source: "the plans of the surfaces".to_owned(),
            grade: crate::knowledge::Grade::CommonPractice,
        });
    }
    pooled
}

fn pool_products<'a>(lines: impl Iterator<Item = &'a ProductLine>) -> Vec<ProductLine> {
    let mut pooled: Vec<ProductLine> = Vec::new();
    for line in lines {
        match pooled.iter_mut().find(|sum| sum.product == line.product) {
            Some(sum) => {
                sum.working = sum.working.plus(line.working);
                sum.need = sum.need.plus(line.need);
                sum.loss = sum.loss.plus(line.loss);
                sum.total = sum.total.plus(line.total);
                sum.whole |= line.whole;
            }
            None => pooled.push(line.clone()),
        }
    }
    pooled
}

fn product_basis(products: Products<'_>, line: &ProductLine) -> Basis {
    let row = products.product(&line.product);
    Basis {
        id: line.basis.clone(),
        what: format!("{} at hand", line.name),
        formula: "Σ plans (need + loss)",
        inputs: vec![
            figure("need", line.need.l(), "L"),
            figure("loss", line.loss.l(), "L"),
        ],
        result: line.total.l(),
        unit: "L",
        rounding: "to the microlitre; packs cover it rounded up to the millilitre",
        source: row.map_or_else(String::new, |row| row.source.clone()),
        grade: row.map_or(crate::knowledge::Grade::FromMemory, |row| row.grade),
    }
}

/// Whole shifts of the crews that the plans have: each loses set-up and clean-down.
fn shifts(from: Products<'_>, card: &RateCard, works: &[&Work], basis: &mut Vec<Basis>) -> i64 {
    let factors = &from.base.factors;
    let of = |work: &Work| -> Labour { work.labour.iter().map(|line| line.time).sum() };
    let worked: Labour = works.iter().map(|work| of(work)).sum();
    let crewed: Labour = works
        .iter()
        .map(|work| of(work).scaled(1, work.time_line.crew_size.max(1)))
        .sum();
    let stretched = crewed.scaled(
        10_000_i64.saturating_add(card.allowance.ten_thousandths()),
        10_000,
    );
    let productive = Labour::from_minutes(factors.shift_min).less(around(card, 1));
    let capacity = i128::from(productive.us().max(60_000_000));
    let n_shifts = divide(i128::from(stretched.us()), capacity, Rounding::Up).unwrap_or(0);
    basis.push(Basis {
        id: "shifts".to_owned(),
        what: "shifts of the crew".to_owned(),
        formula: "Σ plans (labour / crew) · (1 + allowance) / (shift - set-up - clean-down)",
        inputs: vec![
            figure("labour", worked.hours(), "h"),
            figure("allowance", card.allowance.pct(), "%"),
            figure("labour_by_crew", crewed.hours(), "h"),
            figure("shift", float(factors.shift_min), "min"),
            figure("set_up_and_clean_down", around(card, 1).minutes(), "min"),
        ],
        result: float(n_shifts),
        unit: "shifts",
        rounding: "up to whole shifts; waits are not counted, other floors fill them",
        source: factors.source.clone(),
        grade: factors.grade,
    });
    n_shifts
}

//! One estimate over many floors: quantities pooled before packs are bought, set-up paid once a shift.

use std::collections::BTreeMap;

use crate::{
    card::RateCard,
    estimate::{
        basis::{Basis, Reasons, Telling, input as figure},
        cost::{CostInput, CostSheet, around_of_crew, cost},
        covered::{covered_on, paced_on},
        labour::LabourLine,
        outlook::{self, Amounts, Outlook, Priced},
        pads::{PadLine, PadWork, pads},
        quantities::{ProductLine, WaterLine, buy, stock_reason},
        spread::Percentiles,
    },
    knowledge::Products,
    money::Money,
    plan::{DraftPlanError, Plan, Stage, Verdict},
    quantity::{Area, Labour, Rounding, Volume, divide, float},
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
    /// How it may turn out.
    pub outlook: Outlook,
    /// In how many shifts of the crew, before they are rounded up to whole ones.
    pub shifts: Percentiles,
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
    let mut all = Pool::default();
    for floor in planned {
        all.add(*floor);
    }
    all.estimate(from, card, stock)
}

/// Plans pooled one after the other. It holds a line for each activity, product and pad, however many floors there are.
#[derive(Debug, Clone, Default)]
pub struct Pool {
    counts: BTreeMap<Verdict, (i64, Area)>,
    labour: Vec<LabourLine>,
    /// Hours at the slowest and at the fastest rate of each plan, for each line of labour.
    bounds: Vec<[f64; 2]>,
    products: Vec<ProductLine>,
    /// What each part of floor care uses of each product: the order of the floors does not decide where it is booked.
    stages: BTreeMap<(String, Stage), Volume>,
    pads: BTreeMap<String, PadWork>,
    water: WaterLine,
    worked: Labour,
    /// Working time shared by the crew of each plan.
    crewed: Labour,
    apart: i64,
    amounts: Amounts,
}

impl Pool {
    /// Adds a floor with its plan.
    pub fn add(&mut self, floor: Planned<'_>) {
        let nothing = (0, Area::ZERO);
        let (n, area) = self.counts.entry(floor.plan.verdict).or_insert(nothing);
        (*n, *area) = (n.saturating_add(1), area.plus(floor.area));
        let Some(work) = &floor.plan.work else {
            return;
        };
        for line in &work.labour {
            self.add_labour(line);
        }
        for line in &work.products {
            self.add_product(line);
        }
        for pad in &work.pads {
            let sum = self.pads.entry(pad.pad.clone()).or_default();
            sum.add(pad.area, pad.whole);
        }
        self.water = WaterLine {
            clean: self.water.clean.plus(work.water.clean),
            dilution: self.water.dilution.plus(work.water.dilution),
            slurry: self.water.slurry.plus(work.water.slurry),
        };
        let time: Labour = work.labour.iter().map(|line| line.time).sum();
        let crew = work.time_line.crew_size.max(1);
        self.worked = self.worked.plus(time);
        self.crewed = self.crewed.plus(time.scaled(1, crew));
        self.apart = self.apart.saturating_add(work.cost.net.amount);
        let labour = (&*work.labour, crew);
        self.amounts.add(labour, &work.products, &work.pads);
    }

    fn add_labour(&mut self, line: &LabourLine) {
        let mut known = self.labour.iter_mut().zip(&mut self.bounds);
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
            self.labour.push(LabourLine {
                quantity: worked,
                times: 1,
                ..line.clone()
            });
            self.bounds.push(hours);
        }
    }

    fn add_product(&mut self, line: &ProductLine) {
        let used = self.stages.entry((line.product.clone(), line.stage));
        let used = used.or_insert(Volume::ZERO);
        *used = used.plus(line.total);
        let mut known = self.products.iter_mut();
        match known.find(|sum| sum.product == line.product) {
            Some(sum) => {
                sum.working = sum.working.plus(line.working);
                sum.need = sum.need.plus(line.need);
                sum.loss = sum.loss.plus(line.loss);
                sum.total = sum.total.plus(line.total);
                sum.whole |= line.whole;
                sum.by_litre = sum.by_litre.plus(line.by_litre);
            }
            None => self.products.push(line.clone()),
        }
    }

    /// What the floors need and cost together: packs bought for all of them, set-up paid once a shift.
    ///
    /// # Errors
    /// [`DraftPlanError::Figure`] where packs cannot be bought.
    pub fn estimate<'a>(
        self,
        from: impl Into<Products<'a>>,
        card: &RateCard,
        stock: Stock<'_>,
    ) -> Result<Estimate, DraftPlanError> {
        let from = from.into();
        let base = from.base;
        let mut basis = Reasons::new(Telling::InFull);
        let (n_shifts, capacity, reason) = shifts(from, card, (self.worked, self.crewed));
        let labour = labour(self.labour, &self.bounds, card, &mut basis);
        let mut products = self.products;
        for line in &mut products {
            let used = |stage: Stage| self.stages.get(&(line.product.clone(), stage)).copied();
            // Of equal ones the earliest.
            let stages = Stage::ALL.iter().rev().copied();
            line.stage = stages
                .max_by_key(|stage| used(*stage))
                .unwrap_or(line.stage);
            buy(line, card, (from, stock), basis.telling)?;
            basis.add(|| product_basis(from, card, line));
            basis.extend(|| stock_reason(line));
        }
        let pads = pads(base, card, &self.pads, &mut basis);
        let water = self.water;
        basis.add(|| reason);
        let cost = cost(&CostInput {
            base,
            card,
            labour: &labour,
            jobs: n_shifts,
            products: &products,
            pads: &pads,
            water,
            first_stage: Stage::Prepare,
            telling: Telling::InFull,
        });
        let priced = Priced {
            products: &products,
            cost: &cost,
            card,
            from,
        };
        let outlook = self.amounts.outlook(&priced, &base.spread);
        basis.add(|| outlook::basis(&outlook, &labour, &base.spread));
        let crewed = self.amounts.crewed_h(card.allowance, &base.spread);
        let shifts = crewed.times(1.0 / capacity.hours());
        let paid = cost.lines.iter().map(|line| line.labour).sum();
        let count = |(verdict, (n_surfaces, area)): (&Verdict, &(i64, Area))| VerdictCount {
            verdict: *verdict,
            n_surfaces: *n_surfaces,
            area: *area,
        };
        Ok(Estimate {
            verdicts: self.counts.iter().map(count).collect(),
            labour,
            paid,
            n_shifts,
            products,
            water,
            pads,
            cost,
            apart: Money {
                amount: self.apart,
                currency: card.currency,
            },
            outlook,
            shifts,
            basis: basis.rows,
        })
    }
}

/// The pooled lines of labour, with the rates that the plans come to.
fn labour(
    mut pooled: Vec<LabourLine>,
    bounds: &[[f64; 2]],
    card: &RateCard,
    basis: &mut Reasons,
) -> Vec<LabourLine> {
    for (line, hours) in pooled.iter_mut().zip(bounds) {
        line.per_h = line.quantity / line.time.hours();
        line.per_h_range = hours.map(|hours| line.quantity / hours);
        line.basis = format!(
            "labour.{}.{}.{}",
            line.stage.word(),
            line.activity,
            basis.rows.len()
        );
        basis.add(|| labour_basis(card, line));
    }
    pooled
}

fn labour_basis(card: &RateCard, line: &LabourLine) -> Basis {
    let paced = paced_on(card, &line.activity);
    let mut inputs = vec![figure("quantity", line.quantity, line.unit)];
    inputs.extend(paced.inputs("rate_multiple"));
    Basis {
        id: line.basis.clone(),
        what: format!("labour: {}", line.name),
        formula: "Σ plans",
        inputs,
        result: line.time.hours(),
        unit: "h",
        rounding: "to the microsecond in each plan",
        source: paced.source("the plans of the surfaces"),
        grade: crate::knowledge::Grade::CommonPractice,
    }
}

fn product_basis(products: Products<'_>, card: &RateCard, line: &ProductLine) -> Basis {
    let row = products.product(&line.product);
    let covers = row.map(|row| covered_on((products.base, card), row));
    let mut inputs = vec![
        figure("need", line.need.l(), "L"),
        figure("loss", line.loss.l(), "L"),
    ];
    inputs.extend(
        covers
            .iter()
            .flat_map(|covers| covers.inputs("coverage_multiple")),
    );
    let source = row.map_or("", |row| row.source.as_str());
    Basis {
        id: line.basis.clone(),
        what: format!("{} at hand", line.name),
        formula: "Σ plans (need + loss)",
        inputs,
        result: line.total.l(),
        unit: "L",
        rounding: "to the microlitre; packs cover it rounded up to the millilitre",
        source: covers.map_or_else(|| source.to_owned(), |covers| covers.source(source)),
        grade: row.map_or(crate::knowledge::Grade::FromMemory, |row| row.grade),
    }
}

/// Whole shifts of the crews that the plans have, and why so many: each loses set-up and clean-down.
/// Also what of a shift is left for work.
fn shifts(
    from: Products<'_>,
    card: &RateCard,
    (worked, crewed): (Labour, Labour),
) -> (i64, Labour, Basis) {
    let factors = &from.base.factors;
    let stretched = crewed.scaled(
        10_000_i64.saturating_add(card.allowance.ten_thousandths()),
        10_000,
    );
    // The crew of each plan counts by its work.
    let lost = if worked > Labour::ZERO {
        around_of_crew(card, (crewed.us(), worked.us()))
    } else {
        around_of_crew(card, (1, 1))
    };
    let productive = Labour::from_minutes(factors.shift_min).less(lost);
    let capacity = productive.max(Labour::from_minutes(1));
    let (needed, each) = (i128::from(stretched.us()), i128::from(capacity.us()));
    let n_shifts = divide(needed, each, Rounding::Up).unwrap_or(0);
    let reason = Basis {
        id: "shifts".to_owned(),
        what: "shifts of the crew".to_owned(),
        formula: "Σ plans (labour / crew) · (1 + allowance) / (shift - set_up_and_clean_down); that is shared by the crew too and stretched by the allowance",
        inputs: vec![
            figure("labour", worked.hours(), "h"),
            figure("allowance", card.allowance.pct(), "%"),
            figure("labour_by_crew", crewed.hours(), "h"),
            figure("shift", float(factors.shift_min), "min"),
            figure("set_up_and_clean_down", lost.minutes(), "min"),
        ],
        result: float(n_shifts),
        unit: "shifts",
        rounding: "up to whole shifts; waits are not counted, other floors fill them",
        source: factors.source.clone(),
        grade: factors.grade,
    };
    (n_shifts, capacity, reason)
}

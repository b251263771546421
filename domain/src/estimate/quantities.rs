//! Litres of product with losses apart, packs at least cost, clean water and slurry.

use crate::{
    card::{PackPrice, RateCard},
    estimate::{
        basis::{Basis, Reasons, Telling, input as figure},
        covered::covered,
        labour::by_area,
        packs::{Pack, PackCover, cover_rest},
    },
    knowledge::{Grade, Product, Products},
    money::Money,
    plan::{DraftPlanError, PlanInput, PlannedStep, Stage, StepProduct},
    quantity::Volume,
    stock::{Stock, StockUse},
};

/// Packs of one size.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PackCount {
    /// Size of one.
    pub size_ml: i64,
    /// How many.
    pub count: i64,
    /// Price of one.
    pub price: Money,
}

/// What is needed of one product and how it is bought.
#[derive(Debug, Clone, PartialEq)]
pub struct ProductLine {
    /// The product's key.
    pub product: String,
    /// Its name.
    pub name: String,
    /// Its class.
    pub class: String,
    /// The version of the tenant's own product that the figures are of; `None` for one of the knowledge base.
    pub version: Option<i64>,
    /// The part of floor care that uses most of it.
    pub stage: Stage,
    /// Working solution.
    pub working: Volume,
    /// Undiluted product in it.
    pub need: Volume,
    /// What is lost in tools, edges and corners.
    pub loss: Volume,
    /// What must be at hand.
    pub total: Volume,
    /// What of it is left over at the site, and what there is not counted.
    pub stock: StockUse,
    /// The packs that hold the rest, at least cost.
    pub packs: Vec<PackCount>,
    /// What the packs hold.
    pub ordered: Volume,
    /// What will be left in them.
    pub surplus: Volume,
    /// What that is worth, by the litre in the pack with the best price.
    pub surplus_value: Money,
    /// Whether packs are opened for this work and paid whole; else what is used is paid by the litre.
    pub whole: bool,
    /// What of the total routine work uses, which pays by the litre.
    pub(crate) by_litre: Volume,
    /// What is paid for it.
    pub price: Money,
    /// How far the litres of one floor may turn out from it: the σ of their logarithm.
    pub sigma: f64,
    /// Whether the prices are the knowledge base's examples.
    pub example_price: bool,
    /// Where its reason stands.
    pub basis: String,
}

impl ProductLine {
    /// What of it neither packs nor left-overs hold: it comes out of packs that routine work pays by the litre.
    pub(crate) fn out_of_open_packs(&self) -> Volume {
        let held = self.ordered.plus(self.stock.total());
        self.by_litre.min(self.total.less(held))
    }
}

/// Clean water, and slurry to get rid of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct WaterLine {
    /// Clean water for rinsing and mopping.
    pub clean: Volume,
    /// Water in diluted products.
    pub dilution: Volume,
    /// Slurry that is taken up.
    pub slurry: Volume,
}

/// The products of a candidate's steps, pooled by product, bought in packs and paid whole or by the litre.
pub(crate) fn products(
    input: &PlanInput<'_>,
    steps: &[PlannedStep],
    whole: bool,
    basis: &mut Reasons,
) -> Result<Vec<ProductLine>, DraftPlanError> {
    let loss_share = by_area(&input.base.factors.loss, input.survey.area.m2());
    let mut lines: Vec<ProductLine> = Vec::new();
    for step in steps {
        let Some(used) = &step.product else { continue };
        let (Some(working), Some(need)) = (used.working, used.concentrate) else {
            continue;
        };
        if let Some(line) = lines.iter_mut().find(|line| line.product == used.key) {
            line.working = line.working.plus(working);
            line.need = line.need.plus(need);
            continue;
        }
        lines.push(ProductLine {
            product: used.key.clone(),
            name: used.name.clone(),
            class: used.class.clone(),
            version: used.version,
            stage: step.stage,
            working,
            need,
            loss: Volume::ZERO,
            total: Volume::ZERO,
            stock: StockUse::default(),
            packs: Vec::new(),
            ordered: Volume::ZERO,
            surplus: Volume::ZERO,
            surplus_value: Money::zero(input.card.currency),
            whole,
            by_litre: Volume::ZERO,
            price: Money::zero(input.card.currency),
            sigma: sigma(input, used),
            example_price: false,
            basis: basis.telling.text(|| format!("product.{}", used.key)),
        });
    }
    for line in &mut lines {
        line.stage = stage_of_most(steps, &line.product).unwrap_or(line.stage);
        let loss = Volume::from_l(line.need.l() * loss_share);
        line.loss = loss.ok_or_else(|| too_large(&line.name))?;
        line.total = line.need.plus(line.loss);
        line.by_litre = if whole { Volume::ZERO } else { line.total };
        let from = (input.products(), input.stock);
        buy(line, input.card, from, basis.telling)?;
        basis.add(|| reason(input, line, loss_share));
        basis.extend(|| stock_reason(line));
    }
    Ok(lines)
}

/// The part of floor care whose steps use most of a product; of equal ones the earliest.
fn stage_of_most(steps: &[PlannedStep], product: &str) -> Option<Stage> {
    let used_in = |stage: Stage| -> Volume {
        let steps = steps.iter().filter(|step| step.stage == stage);
        let used = steps.filter_map(|step| step.product.as_ref());
        let used = used.filter(|used| used.key == product);
        used.filter_map(|used| used.concentrate).sum()
    };
    let stages = Stage::ALL.iter().rev().copied();
    stages.max_by_key(|stage| used_in(*stage))
}

/// Takes what is left over at the site for a line's total, and chooses the packs for the rest.
///
/// # Errors
/// [`DraftPlanError::Figure`] where the product has no usable packs.
pub(crate) fn buy(
    line: &mut ProductLine,
    card: &RateCard,
    (products, stock): (Products<'_>, Stock<'_>),
    telling: Telling,
) -> Result<(), DraftPlanError> {
    let unusable = || DraftPlanError::Figure {
        what: format!("the packs of {}", line.product),
    };
    let row = products.product(&line.product).ok_or_else(unusable)?;
    // A fifth of a drop is what rounding each step may add: it buys no pack.
    let demand = line.total.less(Volume::from_ul(10)).ml_up().max(1);
    line.stock = stock.take(&line.product, Volume::from_ml(demand));
    // Left-overs are kept in whole millilitres, so what is taken is exact.
    let free = line.stock.total();
    let per_litre = card.per_litre(row);
    if !line.whole {
        line.price = per_litre.for_volume(line.total.less(free));
        // Which packs hold what is paid by the litre decides nothing where candidates are compared.
        if !telling.is_full() {
            return Ok(());
        }
    }
    let (sold, example) = card.packs_of(row);
    let sold: Vec<PackPrice> = sold.collect();
    let sizes: Vec<Pack> = sold
        .iter()
        .map(|pack| Pack {
            size_ml: pack.size_ml,
            price: pack.price.amount,
        })
        .collect();
    let cover = |demand: Volume| -> Result<(PackCover, Money), DraftPlanError> {
        let demand = demand.less(Volume::from_ul(10)).ml_up().max(1);
        let cover =
            cover_rest(demand, free.ml_half_even(), &sizes).map_err(|_refused| unusable())?;
        let packs = Money {
            amount: cover.price,
            currency: card.currency,
        };
        Ok((cover, packs.shown()))
    };
    let (mut bought, price) = cover(line.total)?;
    if line.whole {
        line.price = price;
    }
    // Packs for what is paid whole, and the rest by the litre, is no dearer than the floors one by one; packs for all of it
    // may be.
    if line.whole && line.by_litre > Volume::ZERO {
        let (packs, price) = cover(line.total.less(line.by_litre))?;
        let held = free.plus(Volume::from_ml(packs.volume_ml));
        let rest = line.total.less(held);
        let mixed = price
            .amount
            .saturating_add(per_litre.for_volume(rest).amount);
        if mixed < line.price.amount {
            (bought, line.price.amount) = (packs, mixed);
        }
    }
    let count = |(pack, count): (&PackPrice, &i64)| PackCount {
        size_ml: pack.size_ml,
        count: *count,
        price: pack.price,
    };
    line.packs = sold
        .iter()
        .zip(&bought.counts)
        .map(count)
        .filter(|pack| pack.count > 0)
        .collect();
    line.ordered = Volume::from_ml(bought.volume_ml);
    line.surplus = line.ordered.plus(free).less(Volume::from_ml(demand));
    line.surplus_value = per_litre.for_volume(line.surplus);
    line.example_price = example;
    Ok(())
}

/// How far the litres of a product may turn out: as jobs have told, else as the knowledge base says.
fn sigma(input: &PlanInput<'_>, used: &StepProduct) -> f64 {
    let row = input.products().again(&used.key, used.place);
    let learnt = row.and_then(|row| covered(input, row).sigma());
    learnt.unwrap_or(input.base.spread.material)
}

fn reason(input: &PlanInput<'_>, line: &ProductLine, loss_share: f64) -> Basis {
    let row = input.products().product(&line.product);
    // As it is used, which may be another strength than the label's.
    let parts_of_water = if line.need > Volume::ZERO {
        (line.working.l() / line.need.l() - 1.0).max(0.0)
    } else {
        0.0
    };
    let mut inputs = vec![
        figure("working_solution", line.working.l(), "L"),
        figure("parts_of_water", parts_of_water, ""),
        figure("need", line.need.l(), "L"),
        figure("loss", loss_share, ""),
    ];
    // The working solution holds it already.
    let covered = row.map(|row| covered(input, row));
    inputs.extend(
        covered
            .iter()
            .flat_map(|covered| covered.inputs("coverage_multiple")),
    );
    let sheet = row.map_or_else(String::new, |row| row.source.clone());
    Basis {
        id: line.basis.clone(),
        what: format!("{} at hand", line.name),
        formula: "working_solution / (1 + parts_of_water) · (1 + loss)",
        inputs,
        result: line.total.l(),
        unit: "L",
        rounding: "to the microlitre; packs cover it rounded up to the millilitre",
        source: covered.map_or_else(String::new, |covered| covered.source(&sheet)),
        grade: row.map_or(Grade::FromMemory, |row| row.grade),
    }
}

/// What is taken of what is left over at the site, where anything of the product is.
pub(crate) fn stock_reason(line: &ProductLine) -> Option<Basis> {
    let stock = &line.stock;
    if stock.taken.is_empty() && stock.not_counted.is_empty() {
        return None;
    }
    let spoilt: Volume = stock.not_counted.iter().map(|item| item.left).sum();
    Some(Basis {
        id: format!("stock.{}", line.product),
        what: format!("{} from what is left over", line.name),
        formula: "the smaller of at_hand and good; good leaves out what is not good any more on the day of the work",
        inputs: vec![
            figure("at_hand", line.total.l(), "L"),
            figure("good", stock.good.l(), "L"),
            figure("not_good", spoilt.l(), "L"),
        ],
        result: stock.total().l(),
        unit: "L",
        rounding: "up to the millilitre; what spoils first is taken first",
        source: "what the site says is left over; nothing is reserved".to_owned(),
        grade: Grade::FromMemory,
    })
}

/// Clean water and slurry of a candidate's steps; slurry only where what was laid is `picked_up`.
///
/// # Errors
/// [`DraftPlanError::Figure`] for more than the ledger holds.
pub(crate) fn water(
    input: &PlanInput<'_>,
    steps: &[PlannedStep],
    picked_up: bool,
    basis: &mut Reasons,
) -> Result<WaterLine, DraftPlanError> {
    let clean: Volume = steps.iter().map(|step| step.water).sum();
    let mut solution = Volume::ZERO;
    let mut concentrate = Volume::ZERO;
    // What is laid by coverage stays on the floor or in its pores; what is laid by dose is picked up again.
    let stays = |used: &StepProduct| {
        let row = input.products().again(&used.key, used.place);
        row.is_some_and(Product::stays_on_floor)
    };
    for used in steps
        .iter()
        .filter_map(|step| step.product.as_ref())
        .filter(|used| !stays(used))
    {
        solution = solution.plus(used.working.unwrap_or(Volume::ZERO));
        concentrate = concentrate.plus(used.concentrate.unwrap_or(Volume::ZERO));
    }
    let factors = &input.base.factors;
    let laid = solution.plus(clean);
    let slurry = Volume::from_l(laid.l() * factors.slurry_share);
    let slurry = slurry.ok_or_else(|| too_large("slurry"))?;
    let slurry = if picked_up { slurry } else { Volume::ZERO };
    basis.add(|| Basis {
        id: "slurry".to_owned(),
        what: "slurry to get rid of".to_owned(),
        formula: "(working solution + clean water) · share taken up, where the floor is worked wet",
        inputs: vec![
            figure("working_solution", solution.l(), "L"),
            figure("clean_water", clean.l(), "L"),
            figure("share_taken_up", factors.slurry_share, ""),
        ],
        result: slurry.l(),
        unit: "L",
        rounding: "to the microlitre",
        source: factors.source.clone(),
        grade: factors.grade,
    });
    Ok(WaterLine {
        clean,
        dilution: solution.less(concentrate),
        slurry,
    })
}

/// A figure that is more than the ledger holds.
fn too_large(what: &str) -> DraftPlanError {
    DraftPlanError::Figure {
        what: format!("the quantity of {what}"),
    }
}

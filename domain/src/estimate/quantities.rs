//! Litres of product with losses apart, packs at least cost, clean water, slurry and pads.

use std::collections::BTreeMap;

use crate::{
    card::{PackPrice, RateCard},
    estimate::{
        basis::{Basis, Reasons, input as figure},
        labour::by_area,
        packs::{Pack, cover_rest},
    },
    knowledge::{Grade, KnowledgeBase, Product, Products},
    money::Money,
    plan::{DraftPlanError, PlanInput, PlannedStep, Stage},
    quantity::{Area, Rounding, Volume, divide, float},
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
    /// What is paid for it.
    pub price: Money,
    /// Whether the prices are the knowledge base's examples.
    pub example_price: bool,
    /// Where its reason stands.
    pub basis: String,
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

/// Pads of one colour.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PadLine {
    /// The colour.
    pub pad: String,
    /// Area that they work.
    pub area: Area,
    /// How many must be at hand.
    pub count: i64,
    /// Price of one.
    pub each: Money,
    /// Whether they are paid whole; else by the share of their life that is worn off.
    pub whole: bool,
    /// What is paid for them.
    pub price: Money,
    /// Where its reason stands.
    pub basis: String,
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
            price: Money::zero(input.card.currency),
            example_price: false,
            basis: basis.telling.text(|| format!("product.{}", used.key)),
        });
    }
    for line in &mut lines {
        line.stage = stage_of_most(steps, &line.product).unwrap_or(line.stage);
        let loss = Volume::from_l(line.need.l() * loss_share);
        line.loss = loss.ok_or_else(|| too_large(&line.name))?;
        line.total = line.need.plus(line.loss);
        buy(line, input.card, input.products(), input.stock)?;
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
    products: Products<'_>,
    stock: Stock<'_>,
) -> Result<(), DraftPlanError> {
    let unusable = || DraftPlanError::Figure {
        what: format!("the packs of {}", line.product),
    };
    let row = products.product(&line.product).ok_or_else(unusable)?;
    let (sold, example) = card.packs_of(row);
    let sizes: Vec<Pack> = sold
        .iter()
        .map(|pack| Pack {
            size_ml: pack.size_ml,
            price: pack.price.amount,
        })
        .collect();
    // A fifth of a drop is what rounding each step may add: it buys no pack.
    let demand = line.total.less(Volume::from_ul(10)).ml_up().max(1);
    line.stock = stock.take(&line.product, Volume::from_ml(demand));
    // Left-overs are kept in whole millilitres, so what is taken is exact.
    let free = line.stock.total();
    let cover = cover_rest(demand, free.ml_half_even(), &sizes).map_err(|_refused| unusable())?;
    let count = |(pack, count): (&PackPrice, &i64)| PackCount {
        size_ml: pack.size_ml,
        count: *count,
        price: pack.price,
    };
    line.packs = sold
        .iter()
        .zip(&cover.counts)
        .map(count)
        .filter(|pack| pack.count > 0)
        .collect();
    line.ordered = Volume::from_ml(cover.volume_ml);
    line.surplus = line.ordered.plus(free).less(Volume::from_ml(demand));
    let per_litre = card.per_litre(row);
    line.surplus_value = per_litre.for_volume(line.surplus);
    let packs = Money {
        amount: cover.price,
        currency: card.currency,
    };
    line.price = if line.whole {
        packs.shown()
    } else {
        per_litre.for_volume(line.total.less(free))
    };
    line.example_price = example;
    Ok(())
}

fn reason(input: &PlanInput<'_>, line: &ProductLine, loss_share: f64) -> Basis {
    let row = input.products().product(&line.product);
    // As it is used, which may be another strength than the label's.
    let parts_of_water = if line.need > Volume::ZERO {
        (line.working.l() / line.need.l() - 1.0).max(0.0)
    } else {
        0.0
    };
    Basis {
        id: line.basis.clone(),
        what: format!("{} at hand", line.name),
        formula: "working_solution / (1 + parts_of_water) · (1 + loss)",
        inputs: vec![
            figure("working_solution", line.working.l(), "L"),
            figure("parts_of_water", parts_of_water, ""),
            figure("need", line.need.l(), "L"),
            figure("loss", loss_share, ""),
        ],
        result: line.total.l(),
        unit: "L",
        rounding: "to the microlitre; packs cover it rounded up to the millilitre",
        source: row.map_or_else(String::new, |row| row.source.clone()),
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
    let stays = |key: &str| {
        let row = input.products().product(key);
        row.is_some_and(Product::stays_on_floor)
    };
    for used in steps
        .iter()
        .filter_map(|step| step.product.as_ref())
        .filter(|used| !stays(&used.key))
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

/// What pads of one colour do: the area that they work, and whether they are paid whole.
pub(crate) type PadWork = (Area, bool);

/// The area that each colour of machine pad works; hand pads of edging tools are left out.
pub(crate) fn pad_works(
    input: &PlanInput<'_>,
    steps: &[PlannedStep],
    whole: bool,
) -> BTreeMap<String, PadWork> {
    let mut works = BTreeMap::new();
    for step in steps {
        let (Some(pad), Some(activity)) = (&step.pad, &step.activity) else {
            continue;
        };
        let mut rates = input.base.rates.iter();
        if rates.any(|rate| rate.machine.is_some() && rate.activity == *activity) {
            let work: &mut PadWork = works.entry(pad.clone()).or_insert((Area::ZERO, whole));
            work.0 = work.0.plus(input.survey.area);
        }
    }
    works
}

/// Whole pads for the areas that they work, both sides used; paid whole or by wear.
pub(crate) fn pads(
    base: &KnowledgeBase,
    card: &RateCard,
    works: &BTreeMap<String, PadWork>,
    basis: &mut Reasons,
) -> Vec<PadLine> {
    let mut lines = Vec::new();
    for (key, (area, whole)) in works {
        let Some(row) = base.pad(key) else { continue };
        let [_, life, _] = row.life_m2;
        let both_sides = life.saturating_mul(2_000_000);
        let count = divide(i128::from(area.mm2()), i128::from(both_sides), Rounding::Up);
        let count = count.unwrap_or(1);
        let each = card.pad_price(base, key);
        let id = basis.telling.text(|| format!("pad.{key}"));
        basis.add(|| Basis {
            id: id.clone(),
            what: format!("{key} pads"),
            formula: "area / (life of one side · 2)",
            inputs: vec![
                figure("area", area.m2(), "m2"),
                figure("life", float(life), "m2"),
            ],
            result: float(count),
            unit: "pads",
            rounding: "up to whole pads at hand; routine work pays the share that is worn off",
            source: row.source.clone(),
            grade: row.grade,
        });
        lines.push(PadLine {
            pad: key.clone(),
            area: *area,
            count,
            each,
            whole: *whole,
            price: if *whole {
                each.times(count, 1)
            } else {
                each.times(area.mm2(), both_sides)
            },
            basis: id,
        });
    }
    lines
}

//! Litres of product with losses apart, packs at least cost, clean water, slurry and pads.

use std::collections::BTreeMap;

use crate::{
    card::{PackPrice, RateCard},
    estimate::{
        basis::{Basis, input as figure},
        labour::by_area,
        packs::{Pack, cover_packs},
    },
    knowledge::{Grade, KnowledgeBase},
    money::Money,
    plan::{DraftPlanError, PlanInput, PlannedStep, Stage},
    quantity::{Area, Rounding, Volume, divide, float},
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
    /// The packs that hold it, at least cost.
    pub packs: Vec<PackCount>,
    /// What the packs hold.
    pub ordered: Volume,
    /// What they cost.
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
    /// How many.
    pub count: i64,
    /// Price of one.
    pub each: Money,
    /// What they cost.
    pub price: Money,
    /// Where its reason stands.
    pub basis: String,
}

/// The products of a candidate's steps, pooled by product, bought in packs.
pub(crate) fn products(
    input: &PlanInput<'_>,
    steps: &[PlannedStep],
    basis: &mut Vec<Basis>,
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
            stage: step.stage,
            working,
            need,
            loss: Volume::ZERO,
            total: Volume::ZERO,
            packs: Vec::new(),
            ordered: Volume::ZERO,
            price: Money::zero(input.card.currency),
            example_price: false,
            basis: format!("product.{}", used.key),
        });
    }
    for line in &mut lines {
        line.loss = Volume::from_l(line.need.l() * loss_share).unwrap_or(Volume::ZERO);
        line.total = line.need.plus(line.loss);
        buy(line, input.card, input.base)?;
        basis.push(reason(input, line, loss_share));
    }
    Ok(lines)
}

/// Chooses the packs for a line's total.
///
/// # Errors
/// [`DraftPlanError::Figure`] where the product has no usable packs.
pub(crate) fn buy(
    line: &mut ProductLine,
    card: &RateCard,
    base: &KnowledgeBase,
) -> Result<(), DraftPlanError> {
    let unusable = || DraftPlanError::Figure {
        what: format!("the packs of {}", line.product),
    };
    let row = base.product(&line.product).ok_or_else(unusable)?;
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
    let cover = cover_packs(demand, &sizes).map_err(|_refused| unusable())?;
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
    line.price = Money {
        amount: cover.price,
        currency: card.currency,
    }
    .shown();
    line.example_price = example;
    Ok(())
}

fn reason(input: &PlanInput<'_>, line: &ProductLine, loss_share: f64) -> Basis {
    let row = input.base.product(&line.product);
    Basis {
        id: line.basis.clone(),
        what: format!("{} at hand", line.name),
        formula: "Σ steps (area / coverage, or area · dose) / (1 + parts of water) · (1 + loss)",
        inputs: vec![
            figure("working_solution", line.working.l(), "L"),
            figure("parts_of_water", row.map_or(0.0, |row| row.dilution), ""),
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

/// Clean water and slurry of a candidate's steps; slurry only where what was laid is `picked_up`.
pub(crate) fn water(
    input: &PlanInput<'_>,
    steps: &[PlannedStep],
    picked_up: bool,
    basis: &mut Vec<Basis>,
) -> WaterLine {
    let clean: Volume = steps.iter().map(|step| step.water).sum();
    let mut solution = Volume::ZERO;
    let mut concentrate = Volume::ZERO;
    for used in steps
        .iter()
        .filter(|step| step.coat.is_none())
        .filter_map(|step| step.product.as_ref())
    {
        solution = solution.plus(used.working.unwrap_or(Volume::ZERO));
        concentrate = concentrate.plus(used.concentrate.unwrap_or(Volume::ZERO));
    }
    let factors = &input.base.factors;
    let laid = solution.plus(clean);
    let slurry = Volume::from_l(laid.l() * factors.slurry_share).unwrap_or(Volume::ZERO);
    let slurry = if picked_up { slurry } else { Volume::ZERO };
    basis.push(Basis {
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
    WaterLine {
        clean,
        dilution: solution.less(concentrate),
        slurry,
    }
}

/// The area that each colour of machine pad works; hand pads of edging tools are left out.
pub(crate) fn pad_areas(input: &PlanInput<'_>, steps: &[PlannedStep]) -> BTreeMap<String, Area> {
    let mut areas = BTreeMap::new();
    for step in steps {
        let by_machine = step.activity.as_ref().is_some_and(|activity| {
            input
                .base
                .rates
                .iter()
                .any(|rate| rate.activity == *activity && rate.machine.is_some())
        });
        if let (Some(pad), true) = (&step.pad, by_machine) {
            let area: &mut Area = areas.entry(pad.clone()).or_insert(Area::ZERO);
            *area = area.plus(input.survey.area);
        }
    }
    areas
}

/// Whole pads for the areas that they work, both sides used.
pub(crate) fn pads(
    base: &KnowledgeBase,
    card: &RateCard,
    areas: &BTreeMap<String, Area>,
    basis: &mut Vec<Basis>,
) -> Vec<PadLine> {
    let mut lines = Vec::new();
    for (key, area) in areas {
        let Some(row) = base.pad(key) else { continue };
        let [_, life, _] = row.life_m2;
        let both_sides = i128::from(life) * 2 * 1_000_000;
        let count = divide(i128::from(area.mm2()), both_sides, Rounding::Up).unwrap_or(1);
        let each = card.pad_price(base, key);
        let id = format!("pad.{key}");
        basis.push(Basis {
            id: id.clone(),
            what: format!("{key} pads"),
            formula: "area / (life of one side · 2)",
            inputs: vec![
                figure("area", area.m2(), "m2"),
                figure("life", float(life), "m2"),
            ],
            result: float(count),
            unit: "pads",
            rounding: "up to whole pads",
            source: row.source.clone(),
            grade: row.grade,
        });
        let price = each.times(count, 1);
        lines.push(PadLine {
            pad: key.clone(),
            area: *area,
            count,
            each,
            price,
            basis: id,
        });
    }
    lines
}

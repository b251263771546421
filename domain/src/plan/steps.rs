//! Writes a process out into numbered steps for one floor.

use super::{
    DraftPlanError, PlanInput, Stage, Wait,
    coats::{CoatPlan, gap_of},
    facts::number,
};
use crate::{
    estimate::{
        basis::Telling,
        covered::covered,
        labour::{machine, rate},
    },
    knowledge::{Fact, Facts, HoldPoint, KnowledgeBase, Process, Product, Step, Truth, Value},
    quantity::{Area, Labour, Length, Volume, float},
    survey::FilmCondition,
    words::words,
};

words! {
    /// In which direction a coat is laid.
    Direction {
        /// Along the room, from one side to the other.
        Along "along",
        /// At a right angle to the coat before.
        Across "across",
    }
}

/// Which coat a step lays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Coat {
    /// Its number, from 1.
    pub number: i64,
    /// How many of its kind are laid.
    pub of: i64,
    /// How it lies to the one before.
    pub direction: Direction,
    /// How far it stops short of the skirting.
    pub gap: Length,
    /// The area that it covers.
    pub area: Area,
    /// Its place above the floor's pores, from 1: later layers drink less.
    pub layer: i64,
}

/// What a step uses of a product.
#[derive(Debug, Clone, PartialEq)]
pub struct StepProduct {
    /// The product's key.
    pub key: String,
    /// Its class.
    pub class: String,
    /// The version of the tenant's own product that the figures are of; `None` for one of the knowledge base.
    pub version: Option<i64>,
    /// Its name.
    pub name: String,
    /// Parts of water to one part of concentrate; 0 is undiluted.
    pub dilution: f64,
    /// Working solution; none where it comes out of another step's quantity.
    pub working: Option<Volume>,
    /// Concentrate in it.
    pub concentrate: Option<Volume>,
    /// What the crew wears.
    pub ppe: Vec<String>,
    /// Where its row stands among the products.
    pub(crate) place: Option<usize>,
}

/// How long a product works before it is scrubbed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dwell {
    /// At least.
    pub least_min: i64,
    /// Usually.
    pub typical_min: i64,
    /// At most: then it is wetted again.
    pub most_min: i64,
    /// After how many minutes the solution would dry in this air; `None` if it never does.
    pub dries_after_min: Option<i64>,
    /// What to watch.
    pub note: String,
}

/// One step of a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedStep {
    /// Its number, from 1.
    pub number: usize,
    /// Its name within the process.
    pub key: String,
    /// The part of floor care that it belongs to.
    pub stage: Stage,
    /// What is done.
    pub action: String,
    /// With what.
    pub tool: Option<String>,
    /// The pad's colour.
    pub pad: Option<String>,
    /// What is used.
    pub product: Option<StepProduct>,
    /// Clean water.
    pub water: Volume,
    /// How long the product works.
    pub dwell: Option<Dwell>,
    /// Which coat it is.
    pub coat: Option<Coat>,
    /// The activity whose labour it belongs to.
    pub activity: Option<String>,
    /// Its share of that activity's time.
    pub share: f64,
    /// Working time of all operatives.
    pub labour: Labour,
    /// The wait after it.
    pub wait: Option<Wait>,
    /// The reading that must be met after it.
    pub hold: Option<HoldPoint>,
    /// What to do if it fails.
    pub if_fails: Option<String>,
    /// The key of the wait, before it is worked out.
    pub(super) wait_key: Option<String>,
    /// Whether it is how the floor is neutralised.
    pub(super) neutralises: bool,
    /// How often its product is laid on the same floor.
    pub(crate) passes: i64,
}

/// The product of a class for this floor: the one that the wish names, else the one that the floor's maker demands, else
/// the one that is chosen for the class.
fn product<'k>(input: &PlanInput<'k>, class: &str, facts: &Facts<'_>) -> Option<&'k Product> {
    let products = input.products();
    if let Some(key) = input.wish.products.get(class) {
        return products.product(key);
    }
    let demanded = input.maker().into_iter().flat_map(|maker| &maker.products);
    let mut rows = demanded.filter_map(|key| products.product(key));
    let demanded = rows.find(|row| row.serves(class) && !row.is_withdrawn());
    demanded.or_else(|| products.of_class(class, &input.survey.material, facts))
}

/// Parts of water to one part of concentrate: as the wish says for the class that the step asks for, else by the label.
fn strength(input: &PlanInput<'_>, class: Option<&str>, product: &Product) -> f64 {
    let wished = class.and_then(|class| input.wish.strengths.get(class));
    let parts = wished.and_then(|strength| strength.parts());
    parts.unwrap_or(product.dilution)
}

/// Whether so many coats lie on the floor that stripping them takes more than one pass.
pub(crate) fn is_built_up(base: &KnowledgeBase, facts: &Facts<'_>) -> bool {
    let coats = number(facts, Fact::FilmCoats);
    coats.is_some_and(|coats| coats > float(base.factors.build_up.over_coats))
}

/// The steps of a process for this floor, with quantities and without times; of what nobody reads, only figures.
///
/// # Errors
/// [`DraftPlanError::Figure`] for a quantity that is more than the ledger holds: a lost litre would be a free one.
pub(super) fn write_out(
    input: &PlanInput<'_>,
    process: &Process,
    coats: &CoatPlan,
    (facts, telling): (&Facts<'_>, Telling),
) -> Result<Vec<PlannedStep>, DraftPlanError> {
    let mut steps: Vec<PlannedStep> = Vec::with_capacity(process.steps.len());
    for row in process
        .steps
        .iter()
        .filter(|row| row.when.holds(facts) == Truth::True)
    {
        let (of, before) = match row.repeat.as_deref() {
            Some("seal") => (coats.seal, 0),
            Some(_) => (coats.polish, coats.seal),
            None => (1, 0),
        };
        for number in 1..=of {
            let coat = row.repeat.as_ref().map(|_kind| {
                let place = Place {
                    number,
                    of,
                    before,
                    below: below(process, facts),
                };
                coat_of(input, place, coats)
            });
            let mut step = planned(input, row, coat, (facts, telling))?;
            step.number = steps.len().saturating_add(1);
            steps.push(step);
        }
    }
    Ok(steps)
}

/// Layers of film that stay below what a process lays, counted as one: what lies on them no longer meets the pores.
///
/// Where a film is worn through, the bare floor drinks as much as it ever did.
fn below(process: &Process, facts: &Facts<'_>) -> i64 {
    let kept = !process.strips && facts.get(Fact::FilmPresent) == Value::Flag(true);
    let whole = facts.get(Fact::FilmCondition) != Value::Word(FilmCondition::Worn.word());
    i64::from(process.recoat || (kept && whole))
}

/// Where a coat stands in a plan.
#[derive(Clone, Copy)]
struct Place {
    number: i64,
    of: i64,
    /// Coats of another kind that the plan lays before.
    before: i64,
    /// Layers that lie on the floor already.
    below: i64,
}

fn coat_of(input: &PlanInput<'_>, place: Place, coats: &CoatPlan) -> Coat {
    let gap = gap_of(place.number, place.of, coats.gap);
    // Seal and polish count as one row of coats.
    let laid = place.number.saturating_add(place.before);
    Coat {
        number: place.number,
        of: place.of,
        direction: if laid % 2 == 0 && coats.crosses {
            Direction::Across
        } else {
            Direction::Along
        },
        gap,
        area: if gap == Length::ZERO {
            input.survey.area
        } else {
            coats.inside
        },
        layer: laid.saturating_add(place.below),
    }
}

fn planned(
    input: &PlanInput<'_>,
    row: &Step,
    coat: Option<Coat>,
    (facts, telling): (&Facts<'_>, Telling),
) -> Result<PlannedStep, DraftPlanError> {
    let area = input.survey.area;
    let class = row.product.as_deref().or(row.product_class_only.as_deref());
    let product = class.and_then(|class| product(input, class, facts));
    let passes = if row.built_up && is_built_up(input.base, facts) {
        input.base.factors.build_up.passes
    } else {
        1
    };
    let used = match product {
        Some(product) => {
            let strength = strength(input, class, product);
            let laid = (coat, passes, strength);
            Some(used(input, product, row, laid, (facts, telling))?)
        }
        None => None,
    };
    let coat = coat.map(|coat| match product {
        Some(product) if product.runs_one_way(facts) => Coat {
            direction: Direction::Along,
            ..coat
        },
        _ => coat,
    });
    // Which machine works there is asked only where the wish says something of it.
    let wishes_tool = input.wish.machine.is_some() || input.wish.pad.is_some();
    let activity = row.labour.as_ref().filter(|_activity| wishes_tool);
    let rate = activity.and_then(|activity| rate(input, activity, facts));
    let machine = rate.and_then(|rate| machine(input, rate));
    let replaced = machine.filter(|row| Some(&row.key) == input.wish.machine.as_ref());
    let dwell = row
        .dwell_min
        .map(|[least_min, typical_min, most_min]| Dwell {
            least_min,
            typical_min: input.wish.limits.waits.dwell_min.unwrap_or(typical_min),
            most_min,
            dries_after_min: None,
            note: telling.text(|| row.dwell_note.clone().unwrap_or_default()),
        });
    Ok(PlannedStep {
        number: 0,
        key: telling.text(|| row.key.clone()),
        stage: Stage::of(&row.stage).unwrap_or(Stage::Maintain),
        action: telling.text(|| row.action.clone()),
        tool: telling
            .text(|| replaced.map_or_else(|| row.tool.clone(), |row| Some(row.name.clone()))),
        pad: row.pad.as_ref().map(|pad| {
            let wished = input.wish.pad.as_ref().filter(|_pad| machine.is_some());
            wished.unwrap_or(pad).clone()
        }),
        product: used,
        water: match row.water_ml_m2 {
            Some(ml) => per_area(area, ml).ok_or_else(|| too_large(row))?,
            None => Volume::ZERO,
        },
        dwell,
        coat,
        activity: row.labour.clone(),
        share: row.share,
        labour: Labour::ZERO,
        wait: None,
        hold: telling.text(|| {
            let point = row.hold.as_deref();
            let hold = point.and_then(|key| input.base.hold_point(key, facts))?;
            Some(HoldPoint {
                least: least_on_slope(hold.least, hold.rises_with_slope, facts),
                ..hold.clone()
            })
        }),
        if_fails: telling.text(|| row.if_fails.clone()),
        wait_key: row.wait.clone(),
        neutralises: row.neutralises,
        passes,
    })
}

/// The lowest value that passes on this floor: a slope asks for one more with each percent.
pub(super) fn least_on_slope(least: Option<f64>, rises: bool, facts: &Facts<'_>) -> Option<f64> {
    let slope = number(facts, Fact::SurveyRampGradientPct).filter(|_slope| rises);
    least.map(|least| least + slope.unwrap_or(0.0))
}

/// What a step uses of a product, laid so many times, in parts of water to one of it.
fn used(
    input: &PlanInput<'_>,
    product: &Product,
    row: &Step,
    (coat, passes, dilution): (Option<Coat>, i64, f64),
    (facts, telling): (&Facts<'_>, Telling),
) -> Result<StepProduct, DraftPlanError> {
    let too_large = || too_large(row);
    let area = input.survey.area;
    let reach = covered(input, product).factor();
    let quantity = || quantity((product, reach), row, coat, area, facts).ok_or_else(too_large);
    let once = row.product.as_ref().map(|_class| quantity()).transpose()?;
    let working = once.map(|once| once.scaled(passes, 1));
    // One part of it to `dilution` parts of water.
    let neat = |working: Volume| Volume::from_l(working.l() / (1.0 + dilution));
    let concentrate = working.map(|working| neat(working).ok_or_else(too_large));
    let concentrate = concentrate.transpose()?;
    Ok(StepProduct {
        key: product.key.clone(),
        class: product.class.clone(),
        version: product.own.as_ref().map(|own| own.version),
        name: product.name.clone(),
        dilution,
        working,
        concentrate,
        ppe: telling.text(|| product.ppe.clone()),
        place: input.products().place_of(product),
    })
}

/// `ml` millilitres on every square metre of `area`.
fn per_area(area: Area, ml: f64) -> Option<Volume> {
    Volume::from_l(area.m2() * ml / 1_000.0)
}

/// Working solution of one step: a coat's area over its coverage, else area times dose, or over what a litre fills; a litre
/// goes `reach` times as far as the data sheet says. `None` where it is more than the ledger holds.
fn quantity(
    (product, reach): (&Product, f64),
    row: &Step,
    coat: Option<Coat>,
    area: Area,
    facts: &Facts<'_>,
) -> Option<Volume> {
    match coat {
        Some(coat) => {
            Volume::from_l(coat.area.m2() / (reach * coverage(product, coat.layer, facts)?))
        }
        None => match row.dose_ml_m2.or(product.dose_ml_m2) {
            Some(dose) => per_area(area, dose),
            None => Volume::from_l(area.m2() / (reach * coverage(product, 1, facts)?)),
        },
    }
}

/// Area in m² that a litre covers as layer `layer`; the first layer meets the floor's pores. `None` for a product that is
/// not laid by coverage.
pub(crate) fn coverage(product: &Product, layer: i64, facts: &Facts<'_>) -> Option<f64> {
    let porosity = match facts.get(Fact::MaterialPorosity) {
        Value::Word(word) => word,
        _ => "high",
    };
    let table = if layer == 1 {
        &product.coverage_first
    } else {
        &product.coverage_next
    };
    table.as_ref().map(|table| table.of(porosity))
}

/// A figure that is more than the ledger holds.
fn too_large(row: &Step) -> DraftPlanError {
    DraftPlanError::Figure {
        what: format!("the quantity of {}", row.key),
    }
}

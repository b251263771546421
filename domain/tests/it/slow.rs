//! The estimate worked out a second time: slowly, plainly, in exact fractions, from the rows of the knowledge base.
//!
//! It follows the planner's choices (which layer meets the pores, how many coats a recoat lays, what is slurry) and finds
//! slips of computation, not errors of thought: those are for the scenarios, the cases and the laws.
//! It calls nothing of the planner or the estimator. What it takes from a plan are the minutes of its waits, which
//! tables of their own check. Figures of the ledger are rounded where the ledger says so, and nowhere else.

#![expect(
    clippy::expect_used,
    clippy::indexing_slicing,
    reason = "a computation that is meant to be obvious stops where it is not"
)]

use std::collections::BTreeMap;

use domain::{
    card::RateCard,
    knowledge::{Fact, Facts, Fills, KnowledgeBase, LaysSeal, Process, Rate, Step, Truth},
    survey::{FilmCondition, FilmKind, Neutralise, Obstruction, Soil, Survey, Traffic, Wish},
};
use num_bigint::BigInt;
use num_traits::{One, Zero};

use crate::exact::{Q, half_even, int, ln, small, text, written};

/// A table over the logarithm of the area, flat outside.
fn by_area(table: &[[f64; 2]], area_m2: &Q) -> Q {
    let last = table.len() - 1;
    if *area_m2 <= written(table[0][0]) {
        return written(table[0][1]);
    }
    if *area_m2 >= written(table[last][0]) {
        return written(table[last][1]);
    }
    let right = table
        .iter()
        .position(|row| *area_m2 <= written(row[0]))
        .expect("inside");
    let (a, b) = (table[right - 1], table[right]);
    let share = (ln(area_m2) - ln(&written(a[0]))) / (ln(&written(b[0])) - ln(&written(a[0])));
    written(a[1]) + share * (written(b[1]) - written(a[1]))
}

/// The edge in mm: as given where it can enclose the area, else that of a rectangle twice as long as wide.
pub(crate) fn edge_mm(survey: &Survey) -> i64 {
    let area = int(survey.area.mm2());
    let pi = text("3.14159265358979323846");
    let given = survey.perimeter.map(|edge| int(edge.mm()));
    match given {
        Some(edge) if &edge * &edge * text("1.001") >= int(4) * pi * &area => {
            small(&edge.to_integer())
        }
        _ => {
            // 3·√(2·area) is the root of 18·area.
            let square: BigInt = BigInt::from(survey.area.mm2()) * 18;
            let root = square.sqrt();
            let nearer_above = &square - &root * &root > root;
            small(&(root + i64::from(nearer_above)))
        }
    }
}

/// What is left inside a strip of `gap_mm` along every edge, in mm².
fn inset(survey: &Survey, gap_mm: i64) -> Q {
    let (area, edge, gap) = (int(survey.area.mm2()), int(edge_mm(survey)), int(gap_mm));
    let corner = if &edge * &edge >= int(16) * &area {
        int(4)
    } else {
        Q::new(355.into(), 113.into())
    };
    if edge < int(2) * &corner * &gap {
        return Q::zero();
    }
    let rest = &area - &edge * &gap + corner * &gap * &gap;
    rest.max(Q::zero()).min(area)
}

/// One step with its ledger figures.
#[derive(Debug, Clone)]
pub(crate) struct SlowStep<'k> {
    pub(crate) row: &'k Step,
    pub(crate) coat: bool,
    pub(crate) gap_mm: i64,
    pub(crate) product: Option<String>,
    pub(crate) working_ul: i64,
    pub(crate) need_ul: i64,
    pub(crate) water_ul: i64,
    pub(crate) labour_us: i64,
}

/// One activity of one stage.
#[derive(Debug, Clone)]
pub(crate) struct SlowLabour {
    pub(crate) activity: String,
    pub(crate) stage: String,
    pub(crate) time_us: i64,
    pub(crate) machine: Option<String>,
}

/// Everything about a floor that the computation reads.
pub(crate) struct Scene<'a> {
    pub(crate) base: &'a KnowledgeBase,
    pub(crate) card: &'a RateCard,
    pub(crate) survey: &'a Survey,
    pub(crate) wish: &'a Wish,
    pub(crate) process: &'a Process,
}

impl<'a> Scene<'a> {
    fn material(&self) -> &'a domain::knowledge::Material {
        self.base
            .material(&self.survey.material)
            .expect("a material")
    }

    pub(crate) fn area_m2(&self) -> Q {
        int(self.survey.area.mm2()) / int(1_000_000)
    }

    /// The facts that the conditions of steps, products and rates speak of.
    fn facts(&self) -> Facts<'a> {
        let material = self.material();
        let mut facts = Facts::new();
        let pad = self.base.pad(&material.pad_restorative).expect("a pad");
        facts.set(Fact::MaterialPadRestorative, f64::from(pad.rank));
        let pad = self.base.pad(&material.pad_routine).expect("a pad");
        facts.set(Fact::MaterialPadRoutine, f64::from(pad.rank));
        facts.set(Fact::SurveyOccupied, self.survey.occupied);
        facts.set(Fact::MaterialTextured, material.textured);
        facts.set(Fact::MaterialPhRestorativeMax, material.ph_restorative_max);
        // The floors that are worked out a second time are of 2012.
        facts.set(Fact::SurveyAsbestosSuspected, false);
        facts.set(Fact::SurveyWetInUse, self.survey.wet_in_use);
        facts.set(Fact::SurveyHeritage, self.survey.heritage);
        let around = &self.survey.surroundings;
        facts.set(Fact::SurveyFloorBoxes, around.floor_boxes);
        facts.set(Fact::SurveySmokeDetection, around.smoke_detection);
        let wood_moisture = self.survey.closer.wood_moisture_pct;
        facts.set(Fact::SurveyWoodMoisturePct, wood_moisture);
        facts.set(Fact::SurveyStaticControl, self.survey.static_control);
        facts.set(Fact::SurveyMoistureRhPct, self.survey.moisture_rh_pct);
        let (seal, polish) = self.coats();
        facts.set(Fact::ProcessLaysFilm, seal + polish > 0);
        facts.set(Fact::ProcessImpregnates, self.process.impregnates);
        facts.set(Fact::MaterialWood, material.wood);
        facts.set(Fact::MaterialStone, material.stone);
        facts.set(Fact::MaterialResilient, material.resilient);
        facts.set(Fact::MaterialConcrete, material.concrete);
        facts.set(Fact::SurveyAreaM2, self.survey.area.m2());
        facts.set(
            Fact::SurveySpace,
            self.survey.space.map_or("room", |space| space.word()),
        );
        facts.set(Fact::ProcessSands, self.process.sands);
        facts.set(Fact::ProcessBurnishes, self.process.burnishes);
        facts.set(Fact::ProcessLaysPolish, self.process.lays_polish);
        facts.set(Fact::ProcessWetness, f64::from(self.process.wetness));
        facts.set(Fact::SurveyStaticControl, self.survey.static_control);
        facts.set(Fact::SurveyWetInUse, self.survey.wet_in_use);
        facts.set(Fact::WishGoal, self.wish.goal.word());
        let acid = match self.wish.limits.neutralise {
            Some(choice) => choice == Neutralise::Acid,
            None => material.acid_weak == 0,
        };
        facts.set(Fact::PlanAcid, acid);
        facts
    }

    /// Coats of seal and of polish.
    pub(crate) fn coats(&self) -> (i64, i64) {
        let (limits, factors) = (self.wish.limits, &self.base.factors);
        let seal = match self.process.lays_seal {
            LaysSeal::Never => 0,
            LaysSeal::Plan if self.material().seal != "needed" => limits.seal_coats.unwrap_or(0),
            _ => {
                let usual = self.process.seal_coats.unwrap_or(factors.seal_coats);
                limits.seal_coats.unwrap_or(usual)
            }
        };
        let traffic = self.survey.traffic.unwrap_or(Traffic::Medium);
        let usual = if self.process.recoat {
            if self.survey.film.coats.unwrap_or(0) >= 3 {
                1
            } else {
                2
            }
        } else {
            factors.coats[traffic.word()]
        };
        let polish = limits.polish_coats.unwrap_or(usual);
        (seal, if self.process.lays_polish { polish } else { 0 })
    }

    /// More than eight coats take two passes.
    fn is_built_up(&self) -> bool {
        self.survey.film.coats.is_some_and(|coats| coats > 8)
    }

    /// The steps with quantities in µL, each rounded once.
    pub(crate) fn steps(&self) -> Vec<SlowStep<'a>> {
        let facts = self.facts();
        let (seal, polish) = self.coats();
        // An old seal or polish that stays keeps new layers off the pores, unless it is worn through.
        let film = self.survey.film;
        let strippable = [FilmKind::Seal, FilmKind::Polish, FilmKind::SealAndPolish];
        let kept = !self.process.strips
            && film.kind.is_some_and(|kind| strippable.contains(&kind))
            && film.condition != Some(FilmCondition::Worn);
        let below = i64::from(self.process.recoat || kept);
        let gap = self.wish.limits.edge_gap.map(domain::quantity::Length::mm);
        let gap = gap.unwrap_or(self.base.factors.edge_gap_mm);
        let area_ml = |ml: f64| half_even(&(self.area_m2() * written(ml) * int(1_000)));
        let mut steps = Vec::new();
        for row in &self.process.steps {
            if row.when.holds(&facts) != Truth::True {
                continue;
            }
            let (times, under) = match row.repeat.as_deref() {
                Some("seal") => (seal, below),
                Some(_) => (polish, below + seal),
                None => (1, 0),
            };
            for number in 1..=times {
                let found = row.product.as_ref().map(|class| {
                    let fits = |p: &&domain::knowledge::Product| {
                        p.class == *class && p.when.holds(&facts) == Truth::True
                    };
                    self.base.products.iter().find(fits).expect("a product")
                });
                let coat = row.repeat.is_some();
                let gap_mm = if coat && number < times { gap } else { 0 };
                let working_ul = found.map_or(0, |product| {
                    if let Some(dose) = row.dose_ml_m2.or(product.dose_ml_m2) {
                        let twice = row.built_up && self.is_built_up();
                        return area_ml(dose) * if twice { 2 } else { 1 };
                    }
                    let first = number + under == 1;
                    let table = if first {
                        &product.coverage_first
                    } else {
                        &product.coverage_next
                    };
                    let table = table.as_ref().expect("a coverage");
                    let m2_l = match self.material().porosity.as_str() {
                        "none" => table.none,
                        "low" => table.low,
                        "medium" => table.medium,
                        _ => table.high,
                    };
                    half_even(&(inset(self.survey, gap_mm) / written(m2_l)))
                });
                let parts = found.map_or_else(Q::one, |p| int(1) + written(p.dilution));
                steps.push(SlowStep {
                    row,
                    coat,
                    gap_mm,
                    product: found.map(|product| product.key.clone()),
                    working_ul,
                    need_ul: half_even(&(int(working_ul) / parts)),
                    water_ul: row.water_ml_m2.map_or(0, area_ml),
                    labour_us: 0,
                });
            }
        }
        steps
    }

    /// What skill and the number of operatives do to every rate.
    fn crew(&self) -> Q {
        let skill = self.wish.limits.skill;
        let skill = skill.map_or("trained", domain::survey::Skill::word);
        let skill = self.base.crew.skill(skill).expect("a skill").rate;
        let crew = self.wish.limits.crew_size.unwrap_or(self.card.crew_size);
        let sizes = &self.base.crew.size;
        let at = usize::try_from(crew - 1).expect("a crew");
        written(skill) * written(sizes[at.min(sizes.len() - 1)])
    }

    /// What filling takes for so many µL or a quantity worked so often, in µs.
    fn filling_us(&self, row: &Rate, laid_ul: i64, worked: &Q) -> i64 {
        let litres = int(laid_ul) / int(1_000_000);
        let minutes = match row.fills {
            Some(Fills::Tank) => {
                let machine = row.machine.as_ref().expect("a machine");
                let machine = self.base.machine(machine).expect("a machine");
                let fill = int(machine.fill_min.expect("minutes"));
                litres / int(machine.tank_l.expect("a tank")) * fill
            }
            Some(Fills::Bucket) => {
                let fill = written(self.base.crew.bucket_fill_min);
                let dirty = worked / written(self.base.crew.bucket_m2);
                dirty.max(litres / written(self.base.bays.bucket_l)) * fill
            }
            None => Q::zero(),
        };
        half_even(&(minutes * int(60_000_000)))
    }

    /// Labour by activity and stage; tells each step its share.
    pub(crate) fn labour(&self, steps: &mut [SlowStep<'a>]) -> Vec<SlowLabour> {
        let facts = self.facts();
        let factors = &self.base.factors;
        let mut lines: Vec<SlowLabour> = Vec::new();
        for index in 0..steps.len() {
            let Some(activity) = &steps[index].row.labour else {
                continue;
            };
            let stage = &steps[index].row.stage;
            if lines
                .iter()
                .any(|line| line.activity == *activity && line.stage == *stage)
            {
                continue;
            }
            let same = |step: &SlowStep<'_>| {
                step.row.labour.as_ref() == Some(activity) && step.row.stage == *stage
            };
            let shares: Q = steps
                .iter()
                .filter(|s| same(s))
                .map(|s| written(s.row.share))
                .sum();
            // Steps that share one pass add up to one; whole steps and coats are passes of their own.
            let times = shares.round();
            let row = self
                .base
                .rates
                .iter()
                .find(|row| row.activity == *activity && row.when.holds(&facts) == Truth::True)
                .expect("a rate");
            let mut per_h = written(row.per_h[1]);
            per_h *= self.crew();
            let obstruction = self.survey.obstruction.unwrap_or(Obstruction::Light);
            if row.obstructed {
                per_h *= written(factors.obstruction[obstruction.word()]);
            }
            if row.sized {
                per_h *= by_area(&factors.room, &self.area_m2());
            }
            if row.built_up && self.is_built_up() {
                per_h *= written(0.5);
            }
            if row.soiled {
                per_h *= written(factors.soil[self.survey.soil.unwrap_or(Soil::Normal).word()]);
            }
            let quantity = if row.unit == "m" {
                int(edge_mm(self.survey)) / int(1_000)
            } else {
                self.area_m2()
            };
            let laid: i64 = steps
                .iter()
                .filter(|s| same(s))
                .map(|step| step.working_ul + step.water_ul)
                .sum();
            let filling = self.filling_us(row, laid, &(&quantity * &times));
            let time_us = half_even(&(quantity * &times / per_h * int(3_600_000_000))) + filling;
            lines.push(SlowLabour {
                activity: activity.clone(),
                stage: stage.clone(),
                time_us,
                machine: row.machine.clone(),
            });
            for step in steps.iter_mut().filter(|step| {
                step.row.labour.as_ref() == Some(activity) && step.row.stage == *stage
            }) {
                step.labour_us = half_even(&(int(time_us) * written(step.row.share) / &shares));
            }
        }
        lines
    }

    /// Undiluted product with losses, in µL, by product.
    pub(crate) fn totals(&self, steps: &[SlowStep<'a>]) -> BTreeMap<String, i64> {
        let mut needs: BTreeMap<String, i64> = BTreeMap::new();
        for step in steps {
            if let Some(product) = &step.product {
                *needs.entry(product.clone()).or_default() += step.need_ul;
            }
        }
        let loss = by_area(&self.base.factors.loss, &self.area_m2());
        for need in needs.values_mut() {
            *need += half_even(&(int(*need) * &loss));
        }
        needs
    }
}

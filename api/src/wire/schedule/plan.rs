//! What a schedule reads of a kept plan. Members that it does not use are passed over.

use domain::{
    card::RateCard,
    knowledge::KnowledgeBase,
    placing::{Part, PlanStep, Sizes, Wait, parts},
    quantity::{Area, Labour},
};
use serde::Deserialize;

/// A plan.
#[derive(Debug, Deserialize)]
pub(crate) struct KeptPlan {
    work: Option<Work>,
}

#[derive(Debug, Deserialize)]
struct Work {
    #[serde(default)]
    steps: Vec<Step>,
    time_line: TimeLine,
    #[serde(default)]
    layouts: Vec<Layout>,
}

#[derive(Debug, Deserialize)]
struct Step {
    number: i64,
    labour_h: f64,
    machine: Option<String>,
    product: Option<Product>,
    water_l: Option<f64>,
    dwell: Option<Dwell>,
    coat: Option<Coat>,
    wait: Option<StepWait>,
}

#[derive(Debug, Deserialize)]
struct Product {
    working_l: Option<f64>,
}

#[derive(Debug, Deserialize)]
struct Dwell {
    least_min: i64,
    most_min: i64,
}

#[derive(Debug, Deserialize)]
struct Coat {}

#[derive(Debug, Deserialize)]
struct StepWait {
    p50_min: i64,
    used_min: i64,
}

#[derive(Debug, Deserialize)]
struct TimeLine {
    crew_size: i64,
    bare_floor_min: Option<i64>,
    #[serde(default)]
    events: Vec<Event>,
}

#[derive(Debug, Deserialize)]
struct Event {
    key: String,
    used_min: i64,
}

#[derive(Debug, Deserialize)]
struct Layout {
    #[serde(default)]
    treats: Vec<String>,
    n_bays: i64,
    largest_bay_m2: Option<f64>,
    #[serde(default)]
    bays: Vec<Bay>,
}

#[derive(Debug, Deserialize)]
struct Bay {
    area_m2: f64,
}

/// The work of a plan as a schedule needs it.
#[derive(Debug, Clone)]
pub(crate) struct Kept {
    /// Operatives who work at once.
    pub(crate) crew_size: u32,
    /// Its parts.
    pub(crate) parts: Vec<Part>,
    /// Minutes from walking on the floor to bringing furniture back, where the plan says.
    pub(crate) furniture_min: Option<i64>,
    /// Minutes from walking on the floor to cleaning it wet, where the plan says.
    pub(crate) wet_clean_min: Option<i64>,
}

impl KeptPlan {
    /// The work, if the plan has any. `machines` are the keys of those that are scarce.
    pub(crate) fn work(
        &self,
        card: &RateCard,
        base: &KnowledgeBase,
        machines: &[&str],
    ) -> Option<Kept> {
        let work = self.work.as_ref()?;
        let crew = work.time_line.crew_size.max(1);
        let steps = work.steps.iter();
        let steps: Vec<PlanStep> = steps
            .map(|step| step.read((card, crew), machines))
            .collect();
        let bare_min = work.time_line.bare_floor_min.unwrap_or_else(|| {
            let hold = base.hold(&base.factors.bare_floor_wait);
            hold.map_or(0, |hold| hold.typical_min)
        });
        let rinsed = Wait {
            p50: bare_min,
            used: bare_min,
        };
        let coats = work.steps.iter().rev().filter(|step| step.coat.is_some());
        let mut waits = coats.filter_map(|step| step.wait.as_ref());
        let foot = waits.next().map_or(Wait::default(), StepWait::read);
        let at = |key: &str| {
            let mut events = work.time_line.events.iter();
            events
                .find(|event| event.key == key)
                .map(|event| event.used_min)
        };
        let walk = at("walk").unwrap_or(0);
        let after_walk = |key| at(key).map(|used| used.saturating_sub(walk).max(0));
        Some(Kept {
            crew_size: u32::try_from(crew).unwrap_or(u32::MAX),
            parts: parts(&steps, &sizes(&work.layouts), (rinsed, foot)),
            furniture_min: after_walk("furniture"),
            wet_clean_min: after_walk("wet_clean"),
        })
    }
}

impl StepWait {
    fn read(&self) -> Wait {
        Wait {
            p50: self.p50_min.max(0),
            used: self.used_min.max(0),
        }
    }
}

impl Step {
    fn read(&self, (card, crew): (&RateCard, i64), machines: &[&str]) -> PlanStep {
        let laid = self.product.as_ref().and_then(|used| used.working_l);
        let wets = laid.unwrap_or(0.0) > 0.0 || self.water_l.unwrap_or(0.0) > 0.0;
        let dwell = self.dwell.as_ref();
        let machine = self.machine.as_deref();
        let stretched = 10_000_i64.saturating_add(card.allowance.ten_thousandths());
        let labour = Labour::from_hours(self.labour_h).unwrap_or(Labour::ZERO);
        PlanStep {
            number: self.number,
            crew_time: labour.scaled(stretched, crew.saturating_mul(10_000)),
            coat: self.coat.is_some(),
            wets: wets || self.coat.is_some(),
            dwell: dwell.map(|dwell| (dwell.least_min.max(0), dwell.most_min.max(0))),
            wait: self.wait.as_ref().map_or(Wait::default(), StepWait::read),
            machine: machine.and_then(|key| machines.iter().position(|named| *named == key)),
        }
    }
}

/// The bays of the parts.
fn sizes(layouts: &[Layout]) -> Sizes {
    let of = |name: &str| {
        let mut named = layouts.iter();
        named.find(|layout| layout.treats.iter().any(|part| part == name))
    };
    let bays = |layout: Option<&Layout>| {
        let Some(layout) = layout else {
            return Vec::new();
        };
        if layout.bays.is_empty() {
            return (0..layout.n_bays.clamp(1, 1_000)).map(|_bay| 1).collect();
        }
        let areas = layout.bays.iter();
        areas
            .map(|bay| Area::from_m2(bay.area_m2).map_or(1, |area| area.mm2().max(1)))
            .collect()
    };
    let is_coat = |layout: &&Layout| layout.treats.iter().any(|part| part.starts_with("coat "));
    let before = layouts.iter().find(|layout| !is_coat(layout));
    Sizes {
        before: bays(before),
        before_is_free: before.is_none_or(|layout| layout.largest_bay_m2.is_none()),
        odd: bays(of("coat 1")),
        even: bays(of("coat 2")),
    }
}

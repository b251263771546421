//! How large a bay may be, and into how many bays the floor is cut for each part of the work.
//!
//! A bay is what the crew finishes before something dries: the stripper or cleaner that works on it, or the edge of
//! the coat that the next stroke must meet. What comes before the first coat and the coats themselves dry by
//! different clocks, so each has bays of its own; where nothing dries, only access windows cut the floor.

use super::{
    PlanInput, PlannedStep,
    nights::Cut,
    time_line::{Cuts, crewed},
};
use crate::{
    estimate::basis::{Basis, Input, Reasons, input as figure},
    quantity::{Area, Labour, Rounding, Volume, divide, float},
};

/// The largest bay of a part of the work, and how many bays that makes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Size {
    /// What the crew can treat at most before it dries.
    pub(super) largest: Area,
    /// How many equal bays no larger than that the floor has.
    pub(super) n: i64,
}

/// The bays of the parts of the work; `None` where nothing sets a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Sizes {
    /// Before the first coat, or all of the work.
    pub(super) before: Option<Size>,
    /// Each coat.
    pub(super) coats: Option<Size>,
    /// How many bays windows may ask for where nothing dries.
    most: i64,
}

/// What limits a bay.
struct Limit<'s> {
    m2: f64,
    step: &'s PlannedStep,
    minutes: f64,
    crew_time: Labour,
    laid: Option<Volume>,
}

impl Limit<'_> {
    /// What it was worked out from.
    fn inputs(&self, input: &PlanInput<'_>, crew: i64) -> Vec<Input> {
        vec![
            figure("floor", input.survey.area.m2(), "m2"),
            figure("time", self.minutes, "min"),
            figure("crew_time", self.crew_time.minutes(), "min"),
            figure("bucket", input.base.bays.bucket_l, "L"),
            figure("crew", float(crew), ""),
            figure("laid", self.laid.map_or(0.0, Volume::l), "L"),
        ]
    }
}

/// The names by which the sizes' reasons are found.
pub(super) const BEFORE: &str = "bay.before_coats";
pub(super) const COATS: &str = "bay.coats";

/// Sizes the bays of a candidate; tells why.
pub(super) fn sizes(
    input: &PlanInput<'_>,
    steps: &[PlannedStep],
    crew: i64,
    basis: &mut Reasons,
) -> Sizes {
    let first_coat = steps.iter().position(|step| step.coat.is_some());
    let (before, coats) = steps.split_at(first_coat.unwrap_or(steps.len()));
    let before = before.iter().enumerate().filter_map(|(index, step)| {
        let next = before.iter().skip(index.saturating_add(1));
        dwelling(input, step, next, crew)
    });
    let coats = coats.iter().filter_map(|step| laying(input, step, crew));
    let area = input.survey.area;
    let least = input.base.bays.least_m2.saturating_mul(1_000_000);
    Sizes {
        before: settle(input, before, crew, (BEFORE, basis)),
        coats: settle(input, coats, crew, (COATS, basis)),
        most: area.mm2().checked_div(least.max(1)).unwrap_or(1).max(1),
    }
}

impl Sizes {
    /// Whether what comes before the first coat is done bay by bay, each of them through all of its steps.
    pub(super) fn is_bay_by_bay(&self) -> bool {
        self.before.is_some_and(|size| size.n > 1)
    }

    /// The cuts of equal bays.
    pub(super) fn cuts(&self) -> Cuts {
        let cut = |size: Option<Size>, more: i64| match size {
            Some(Size { n: 1, .. }) => Cut::Equal(1),
            Some(size) => Cut::Equal(size.n.saturating_add(more)),
            None => Cut::AsNeeded(self.most),
        };
        Cuts {
            before: cut(self.before, 0),
            odd: cut(self.coats, 0),
            // Their seams lie half a bay off, so there is one bay more.
            even: cut(self.coats, 1),
        }
    }
}

/// The limit of a step whose product works for a while: what follows it, until something else is laid, is done
/// between the least and the longest time that the product works.
fn dwelling<'s>(
    input: &PlanInput<'_>,
    step: &'s PlannedStep,
    next: impl Iterator<Item = &'s PlannedStep>,
    crew: i64,
) -> Option<Limit<'s>> {
    let dwell = step.dwell.as_ref()?;
    let lays = |step: &PlannedStep| {
        let laid = step.product.as_ref().and_then(|used| used.working);
        laid.is_some() || step.water.ul() > 0 || step.coat.is_some()
    };
    let taken: Labour = next
        .take_while(|step| !lays(step))
        .map(|step| step.labour)
        .sum();
    let work = if taken.us() > 0 { taken } else { step.labour };
    let minutes = dwell.most_min.saturating_sub(dwell.least_min);
    Some(limit(input, step, (float(minutes), work), crew))
}

/// The limit of a coat: the next stroke meets an edge that is still wet.
fn laying<'s>(input: &PlanInput<'_>, step: &'s PlannedStep, crew: i64) -> Option<Limit<'s>> {
    step.coat?;
    let minutes = float(input.base.bays.wet_edge_min);
    Some(limit(input, step, (minutes, step.labour), crew))
}

/// What the crew does of `work` on the whole floor in so many minutes, and no more than its buckets hold.
fn limit<'s>(
    input: &PlanInput<'_>,
    step: &'s PlannedStep,
    (minutes, work): (f64, Labour),
    crew: i64,
) -> Limit<'s> {
    let area = input.survey.area.m2();
    let crewed = crewed(input.card, work, crew);
    let in_time = if crewed.us() > 0 {
        area * minutes / crewed.minutes()
    } else {
        area
    };
    let bucket = input.base.bays.bucket_l;
    let laid = step.product.as_ref().and_then(|used| used.working);
    let reach = laid.filter(|laid| laid.ul() > 0);
    let reach = reach.map_or(f64::INFINITY, |laid| {
        area * bucket * float(crew.max(1)) / laid.l()
    });
    Limit {
        m2: in_time.min(reach),
        step,
        minutes,
        crew_time: crewed,
        laid,
    }
}

fn settle<'s>(
    input: &PlanInput<'_>,
    limits: impl Iterator<Item = Limit<'s>>,
    crew: i64,
    (id, basis): (&str, &mut Reasons),
) -> Option<Size> {
    let least = limits.min_by(|a, b| a.m2.total_cmp(&b.m2))?;
    let area = input.survey.area;
    // A bay is never smaller than what one pair of feet stands on.
    let largest = Area::from_m2(least.m2)?
        .max(Area::from_mm2(1_000_000))
        .min(area);
    let bays = &input.base.bays;
    basis.add(|| Basis {
        id: id.to_owned(),
        what: format!("largest bay, set by {}", least.step.key),
        formula: "min(floor · time / crew_time, floor · bucket · crew / laid)",
        inputs: least.inputs(input, crew),
        result: largest.m2(),
        unit: "m2",
        rounding: "to the mm²; the floor is cut into whole equal bays no larger",
        source: bays.source.clone(),
        grade: bays.grade,
    });
    let n = divide(
        i128::from(area.mm2()),
        i128::from(largest.mm2()),
        Rounding::Up,
    )?;
    Some(Size {
        largest,
        n: n.max(1),
    })
}

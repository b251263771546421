//! How fast bays come wet: a floor is rinsed and coated bay by bay, and the first of them dry while the last are laid.

use super::super::{PlanInput, PlannedStep, bays::Sizes, time_line::crewed};
use crate::{
    physics::room::Laying,
    quantity::{Area, Labour},
};

/// Over what time bays are laid, step by step of a plan.
pub(in crate::plan) struct Pace<'a> {
    input: &'a PlanInput<'a>,
    crew: i64,
    /// Whether a bay goes through all steps from what works on it to its last rinse before the next is begun.
    bay_by_bay: bool,
    /// Work from the last step on whose product works on a bay, where bays go through all of them.
    since_dwell: Option<Labour>,
    /// Work during which the water came onto the floor that was laid last.
    water: Labour,
}

impl<'a> Pace<'a> {
    pub(in crate::plan) fn new(input: &'a PlanInput<'a>, crew: i64, sizes: &Sizes) -> Self {
        Self {
            input,
            crew,
            bay_by_bay: sizes.is_bay_by_bay(),
            since_dwell: None,
            water: Labour::ZERO,
        }
    }

    /// Goes on by a step whose labour is known.
    ///
    /// A step that lays water or solution lays it at its own pace; where bays are taken from the stripper to the last rinse
    /// one by one, at the pace of all that is done to them.
    pub(in crate::plan) fn pass(&mut self, step: &PlannedStep) {
        if step.coat.is_some() {
            self.since_dwell = None;
            return;
        }
        if step.dwell.is_some() && self.bay_by_bay {
            self.since_dwell = Some(Labour::ZERO);
        }
        self.since_dwell = self.since_dwell.map(|work| work.plus(step.labour));
        let laid = step.product.as_ref().and_then(|used| used.working);
        if laid.is_some_and(|laid| laid.ul() > 0) || step.water.ul() > 0 {
            self.water = self.since_dwell.unwrap_or(step.labour);
        }
    }

    /// How the water came onto the floor that was laid last.
    pub(super) fn of_water(&self) -> Laying {
        self.laying(self.input.survey.area, self.water)
    }

    /// How a coat comes onto its area.
    pub(super) fn of_coat(&self, step: &PlannedStep, area: Area) -> Laying {
        self.laying(area, step.labour)
    }

    fn laying(&self, area: Area, work: Labour) -> Laying {
        Laying {
            area_m2: area.m2(),
            over_s: crewed(self.input.card, work, self.crew).minutes() * 60.0,
        }
    }
}

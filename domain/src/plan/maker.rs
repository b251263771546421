//! What the maker of the floor says, put beside a candidate: it is read first and wins over general practice.

use super::{PlanInput, PlannedStep, waits::wait_of};
use crate::{
    knowledge::{Fact, Facts, Process},
    survey::{Limits, MakerFinish, MakerInstruction, Wetness, longest_window},
};

impl<'a> PlanInput<'a> {
    /// The caller's limits; what they leave open is filled with the maker's figures and the floor's access windows.
    pub(super) fn limits(&self) -> Limits {
        let mut limits = self.wish.limits;
        let windows = &self.survey.access_windows;
        limits.window_min = limits.window_min.or_else(|| longest_window(windows));
        if let Some(maker) = self.maker() {
            let sealed = maker.finish.is_some_and(MakerFinish::has_seal);
            let seal = sealed.then_some(self.base.factors.seal_coats);
            limits.seal_coats = limits.seal_coats.or(maker.seal_coats).or(seal);
            limits.edge_gap = limits.edge_gap.or(maker.edge_gap);
            let later = |key: &str, makers: Option<i64>| {
                let least = self.base.hold(key).map_or(0, |hold| hold.least_min);
                makers.map(|makers| makers.max(least))
            };
            let (waits, makers) = (&mut limits.waits, &maker.waits);
            let furniture = later("to_furniture", makers.to_furniture_min);
            waits.to_furniture_min = waits.to_furniture_min.or(furniture);
            let wet_clean = later("to_wet_clean", makers.to_wet_clean_min);
            waits.to_wet_clean_min = waits.to_wet_clean_min.or(wet_clean);
        }
        limits
    }

    /// The instruction of the floor's maker.
    pub(super) const fn maker(&self) -> Option<&'a MakerInstruction> {
        self.survey.maker_instruction.as_ref()
    }

    /// The shortest wait of a key that the maker allows.
    pub(super) fn makers_wait(&self, key: &str) -> Option<i64> {
        wait_of(key, &self.maker()?.waits)
    }
}

/// Tells the facts how a candidate stands to what the maker says.
pub(super) fn add_maker(
    facts: &mut Facts<'_>,
    input: &PlanInput<'_>,
    process: &Process,
    steps: &[PlannedStep],
) {
    let Some(maker) = input.maker() else {
        let flags = [
            Fact::MakerRead,
            Fact::MakerForbidsProcess,
            Fact::MakerForbidsProduct,
            Fact::MakerForbidsPad,
            Fact::MakerOtherProduct,
            Fact::MakerOverruled,
        ];
        for flag in flags {
            facts.set(flag, false);
        }
        return;
    };
    let used = || steps.iter().filter_map(|step| step.product.as_ref());
    let forbids = maker.forbidden_processes.contains(&process.key);
    let product = used().any(|product| maker.forbidden_classes.contains(&product.class));
    let mut pads = steps.iter().filter_map(|step| step.pad.as_ref());
    let pad = !maker.pads.is_empty() && pads.any(|pad| !maker.pads.contains(pad));
    let demanded = |class: &str| {
        let products = maker.products.iter();
        let mut rows = products.filter_map(|key| input.products().product(key));
        rows.any(|row| row.serves(class))
    };
    let other =
        used().any(|product| demanded(&product.class) && !maker.products.contains(&product.key));
    facts.set(Fact::MakerRead, true);
    facts.set(Fact::MakerForbidsProcess, forbids);
    facts.set(Fact::MakerForbidsProduct, product);
    facts.set(Fact::MakerForbidsPad, pad);
    facts.set(Fact::MakerOtherProduct, other);
    let overruled = maker.is_overruled_by(&input.wish.limits);
    facts.set(Fact::MakerOverruled, overruled);
    let wettest = maker.wettest.map(Wetness::level).map(f64::from);
    facts.set(Fact::MakerWettest, wettest);
    facts.set(Fact::MakerPhMin, maker.ph_min);
    facts.set(Fact::MakerPhMax, maker.ph_max);
    facts.set(Fact::MakerFinish, maker.finish.map(MakerFinish::word));
}

//! How many coats a candidate lays, where each of them stops, and whether acid neutralises the floor before.

use super::{PlanInput, facts::number, ground::Ground};
use crate::{
    knowledge::{Fact, Facts, LaysSeal, Material, Process, Value},
    quantity::{Area, Length},
    survey::{Neutralise, Traffic},
};

/// What decided the coats of polish.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum By {
    /// The process lays none.
    Process,
    /// The wish.
    Wish,
    /// A recoat, by the coats that lie there, where somebody counted them.
    Film(Option<i64>),
    /// The floor's maker.
    Maker,
    /// The traffic.
    Traffic,
}

/// What a candidate lays and how it neutralises.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct CoatPlan {
    pub(super) seal: i64,
    pub(super) polish: i64,
    pub(super) by: By,
    pub(super) gap: Length,
    /// What lies inside the gap.
    pub(super) inside: Area,
    pub(super) acid: bool,
    /// Whether every second coat is laid at a right angle to the one before.
    pub(super) crosses: bool,
}

/// Decides coats by the wish, else by traffic, floor and process; tells the facts.
pub(super) fn decide(
    input: &PlanInput<'_>,
    material: &Material,
    process: &Process,
    ground: &Ground,
    facts: &mut Facts<'_>,
) -> CoatPlan {
    let limits = input.limits();
    let factors = &input.base.factors;
    let usual = process.seal_coats.unwrap_or(factors.seal_coats);
    let seal = match process.lays_seal {
        LaysSeal::Never => 0,
        LaysSeal::Always => limits.seal_coats.unwrap_or(usual),
        LaysSeal::Plan if material.seal == "needed" => limits.seal_coats.unwrap_or(usual),
        LaysSeal::Plan => limits.seal_coats.unwrap_or(0),
    };
    let traffic = input.survey.traffic.unwrap_or(Traffic::Medium).word();
    let full = factors.coats.get(traffic).copied().unwrap_or(3);
    let here = number(facts, Fact::FilmCoats).and_then(crate::quantity::whole);
    let makers = input.maker().and_then(|maker| maker.polish_coats);
    let (polish, by) = match (process.lays_polish, limits.polish_coats, makers) {
        (false, _, _) => (0, By::Process),
        (true, Some(coats), _) => (coats, By::Wish),
        (true, None, _) if process.recoat => (recoat_of(here), By::Film(here)),
        (true, None, Some(coats)) => (coats, By::Maker),
        (true, None, None) => (full, By::Traffic),
    };
    let sensitive = material.acid_weak >= 1;
    let acid = match limits.neutralise {
        Some(Neutralise::Acid) => true,
        Some(Neutralise::Rinse) => false,
        None => !sensitive,
    };
    let neutralises = process.steps.iter().any(|step| step.neutralises);
    let keeps = if process.strips { 0 } else { here.unwrap_or(0) };
    facts.set(Fact::ProcessLaysSeal, seal > 0);
    facts.set(Fact::ProcessLaysFilm, seal > 0 || polish > 0);
    facts.set(Fact::PlanSealCoats, crate::quantity::float(seal));
    facts.set(Fact::PlanNewCoats, crate::quantity::float(polish));
    let total =
        if process.lays_polish && !process.strips && facts.get(Fact::FilmCoats) == Value::Unknown {
            Value::Unknown
        } else {
            Value::Number(crate::quantity::float(keeps.saturating_add(polish)))
        };
    facts.set(Fact::PlanTotalCoats, total);
    facts.set(Fact::PlanAcid, neutralises && acid);
    facts.set(Fact::PlanRinsesInstead, neutralises && !acid && sensitive);
    let several = seal.saturating_add(polish) > 1;
    facts.set(Fact::PlanCoatsOneWay, several && !ground.crosses);
    let seal_open = process.lays_seal == LaysSeal::Plan && material.seal == "optional";
    facts.set(Fact::PlanSealLeftOut, seal_open && seal == 0 && polish > 0);
    CoatPlan {
        seal,
        polish,
        gap: ground.gap,
        inside: ground.inside,
        by,
        acid,
        crosses: ground.crosses,
    }
}

/// How many coats a recoat lays: two where the film is thin or nobody counted it, else one.
pub(crate) fn recoat_of(here: Option<i64>) -> i64 {
    if here.is_some_and(|coats| coats >= 3) {
        1
    } else {
        2
    }
}

/// The gap of coat `number` of `of`: early coats stop short of the skirting, the last goes up to it.
pub(super) fn gap_of(number: i64, of: i64, gap: Length) -> Length {
    if number < of { gap } else { Length::ZERO }
}

//! How many coats a candidate lays, where each of them stops, and whether acid neutralises the floor before.

use super::{PlanInput, facts::number};
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
    pub(super) acid: bool,
}

/// Decides coats by the wish, else by traffic, floor and process; tells the facts.
pub(super) fn decide(
    input: &PlanInput<'_>,
    material: &Material,
    process: &Process,
    facts: &mut Facts<'_>,
) -> CoatPlan {
    let limits = input.limits();
    let factors = &input.base.factors;
    let seal = match process.lays_seal {
        LaysSeal::Never => 0,
        LaysSeal::Always => limits.seal_coats.unwrap_or(factors.seal_coats),
        LaysSeal::Plan if material.seal == "needed" => {
            limits.seal_coats.unwrap_or(factors.seal_coats)
        }
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
    let seal_open = process.lays_seal == LaysSeal::Plan && material.seal == "optional";
    facts.set(Fact::PlanSealLeftOut, seal_open && seal == 0 && polish > 0);
    let gap = limits
        .edge_gap
        .unwrap_or(Length::from_mm(factors.edge_gap_mm));
    CoatPlan {
        seal,
        polish,
        by,
        gap,
        acid,
    }
}

/// How many coats a recoat lays: two where the film is thin or nobody counted it, else one.
pub(super) fn recoat_of(here: Option<i64>) -> i64 {
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

/// The area that is left when a strip of width `gap` is taken off along every edge.
///
/// Without an outline the floor is taken as a rectangle of the same area and edge, for which this is exact:
/// `A - P·g + 4·g²`. Where the edge is too short for a rectangle, corners are taken as round: `A - P·g + π·g²`.
pub(crate) fn inset(area: Area, edge: Length, gap: Length) -> Area {
    let (a, p, g) = (
        i128::from(area.mm2()),
        i128::from(edge.mm()),
        i128::from(gap.mm()),
    );
    let (corners, widest) = if p * p >= 16 * a {
        (g * g * 4, g * 8)
    } else {
        (g * g * 355 / 113, g * 710 / 113)
    };
    // Narrower than two gaps: nothing is left inside. Narrower both ways, the formula would grow again.
    let rest = if p < widest { 0 } else { a - p * g + corners };
    i64::try_from(rest.max(0)).map_or(Area::ZERO, |rest| Area::from_mm2(rest.min(area.mm2())))
}

#[cfg(test)]
mod tests {
    use super::inset;
    use crate::quantity::{Area, Length};

    #[test]
    fn a_rectangle_loses_its_border_exactly() {
        // 30 m by 8 m less 10 cm on every side is 29.8 m by 7.8 m.
        let rest = inset(
            Area::from_mm2(240_000_000),
            Length::from_mm(76_000),
            Length::from_mm(100),
        );
        assert_eq!(rest, Area::from_mm2(232_440_000));
    }

    #[test]
    fn a_strip_narrower_than_two_gaps_has_no_inside() {
        let rest = inset(
            Area::from_mm2(1_500_000),
            Length::from_mm(20_300),
            Length::from_mm(100),
        );
        assert_eq!(rest, Area::ZERO);
        // 30 cm by 33 cm is narrower than two gaps of 30 cm both ways.
        let rest = inset(
            Area::from_mm2(99_000),
            Length::from_mm(1_260),
            Length::from_mm(300),
        );
        assert_eq!(rest, Area::ZERO);
    }
}

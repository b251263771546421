//! What the shape of the floor says to every candidate: how far early coats stop from the wall, and what that leaves.

use super::PlanInput;
use crate::{
    estimate::basis::{Basis, input as figure},
    geometry::Inside,
    knowledge::Grade,
    quantity::{Area, Length, float},
};

/// The gap along the walls and what lies inside it.
#[derive(Debug, Clone)]
pub(super) struct Ground {
    /// How far early coats stop short of the skirting.
    pub(super) gap: Length,
    /// The area inside it.
    pub(super) inside: Area,
    /// Its shape, where the floor has an outline.
    pub(super) shape: Option<Inside>,
    /// What lies further from the walls than a machine's rim is held, corners not reckoned.
    pub(super) clear: Area,
    /// How wide a floor or a bay must be for strokes across it, in m.
    pub(super) least_width_m: f64,
    /// Whether the floor is wide enough for coats at a right angle to one another.
    pub(super) crosses: bool,
}

impl Ground {
    /// The ground of a floor and a wish.
    pub(super) fn of(input: &PlanInput<'_>) -> Self {
        let default = Length::from_mm(input.base.factors.edge_gap_mm);
        let gap = input.limits().edge_gap.unwrap_or(default);
        let survey = input.survey;
        let shape = survey
            .outline
            .as_ref()
            .map(|outline| outline.inset(gap.m()));
        let inside = match &shape {
            // What is left is never more than there was, whatever rounding does.
            Some(shape) => Area::from_m2(shape.area_m2())
                .unwrap_or(Area::ZERO)
                .min(survey.area),
            None => inset(survey.area, survey.edge().length, gap),
        };
        let bays = &input.base.bays;
        let edge = survey.edge().length;
        let least_width_m = float(bays.applicator_mm.saturating_mul(bays.strokes_across)) / 1e3;
        let width_m = match &survey.outline {
            Some(outline) => outline.across_m(),
            None => short_side(survey.area.m2(), edge.m()),
        };
        Self {
            gap,
            inside,
            shape,
            clear: inset(survey.area, edge, Length::from_mm(bays.clear_mm)),
            least_width_m,
            crosses: width_m >= least_width_m,
        }
    }

    /// Why early coats cover what they cover.
    pub(super) fn basis(&self, input: &PlanInput<'_>) -> Basis {
        let survey = input.survey;
        Basis {
            id: "inside_gap".to_owned(),
            what: "area of the coats that stop short of the skirting".to_owned(),
            formula: if self.shape.is_some() {
                "all points of the outline at least the gap away from every edge"
            } else {
                "rectangle of the same area and edge: area - edge · gap + 4 · gap²"
            },
            inputs: vec![
                figure("area", survey.area.m2(), "m2"),
                figure("edge", survey.edge().length.m(), "m"),
                figure("gap", self.gap.m(), "m"),
            ],
            result: self.inside.m2(),
            unit: "m2",
            rounding: "to the mm²",
            source: "geometry".to_owned(),
            grade: Grade::Published,
        }
    }
}

/// The shorter side of a rectangle of this area and edge; of a square where the edge is too short for a rectangle.
fn short_side(area_m2: f64, edge_m: f64) -> f64 {
    let quarter = edge_m / 4.0;
    quarter - (quarter * quarter - area_m2).max(0.0).sqrt()
}

/// The area that is left when a strip of width `gap` is taken off along every edge.
///
/// Without an outline the floor is taken as a rectangle of the same area and edge, for which this is exact:
/// `A - P·g + 4·g²`. Where the edge is too short for a rectangle, corners are taken as round: `A - P·g + π·g²`.
fn inset(area: Area, edge: Length, gap: Length) -> Area {
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

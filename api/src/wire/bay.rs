//! The shape of a floor and the bays of a plan on the wire.

use domain::{
    geometry::Point,
    plan::{BayLayout, Direction, DrawnBay, PlannedBay, Shape},
    quantity::Area,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::{
    number,
    outline::{Position, Ring},
};

/// What the outline of the floor says to the work.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[schema(as = FloorShapeView)]
pub(crate) struct ShapeView {
    /// The direction along which bays follow one another and coats are laid along, as a vector of length 1.
    axis: DirectionView,
    /// Where the crew leaves: the first door.
    exit: Position,
    /// Whether no door was given and the exit is the middle of the edge at one end of the axis.
    exit_assumed: bool,
    /// In how many pieces lies what early coats cover; necks narrower than two gaps part it.
    inside_pieces: usize,
    /// The border in m² that early coats leave out and the last one alone covers, by hand.
    #[schema(minimum = 0)]
    border_m2: f64,
}

/// A direction: a vector of length 1.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
pub(crate) struct DirectionView {
    /// Along x.
    #[schema(minimum = -1, maximum = 1)]
    x: f64,
    /// Along y.
    #[schema(minimum = -1, maximum = 1)]
    y: f64,
}

impl From<Point> for DirectionView {
    fn from(direction: Point) -> Self {
        Self {
            x: number::figure(direction.x),
            y: number::figure(direction.y),
        }
    }
}

impl From<&Shape> for ShapeView {
    fn from(shape: &Shape) -> Self {
        Self {
            axis: shape.axis.into(),
            exit: shape.exit.into(),
            exit_assumed: shape.exit_assumed,
            inside_pieces: shape.n_inside,
            border_m2: number::square_metres(shape.border),
        }
    }
}

/// The bays in which a part of the work is done.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct BayLayoutView {
    /// The parts of the work: `prepare`, `coat 1` and so on, as in the time line; `the work` where there is one part.
    #[schema(min_items = 1, max_items = 60)]
    treats: Vec<String>,
    /// How many bays there are.
    #[schema(minimum = 1)]
    n_bays: i64,
    /// What the crew can treat at most before something dries, in m²; absent where nothing does and only the access
    /// window cuts the floor.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    largest_bay_m2: Option<f64>,
    /// Where the reason for that stands.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 100)]
    basis: Option<&'static str>,
    /// Whether the seams lie half a bay off those of the coat before, so that no seam lies on another.
    staggered: bool,
    /// How its coats are laid: `along` the axis, or `across` it, at a right angle to the coat before.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 10)]
    direction: Option<&'static str>,
    /// What the machine does not reach along walls, in corners and in necks, in m²: done by hand.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    by_hand_m2: Option<f64>,
    /// The bays in the order of treatment, in which the crew never cuts itself off from the exit; empty if there are
    /// more than 200.
    #[schema(max_items = 1000)]
    bays: Vec<BayView>,
}

/// One bay.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct BayView {
    /// When its turn is, from 1.
    #[schema(minimum = 1)]
    number: i64,
    /// Its area in m².
    #[schema(minimum = 0)]
    area_m2: f64,
    /// What of it the coats cover that stop short of the skirting, in m².
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    inside_gap_m2: Option<f64>,
    /// What of it the machine does not reach, in m².
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    by_hand_m2: Option<f64>,
    /// Where it lies; absent if the surface has no outline, for then bays are equal parts by number only.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    drawn: Option<DrawnBayView>,
}

/// Where a bay lies and how it is worked.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct DrawnBayView {
    /// Its rings in the frame of the outline, the outer one first; not closed.
    #[schema(min_items = 1, max_items = 200)]
    rings: Vec<Ring>,
    /// The point towards which the crew works and by which it leaves the bay.
    towards: Position,
    /// The direction in which its coats are laid.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    strokes: Option<DirectionView>,
    /// Whether that is at a right angle to the coat before; false too where the floor is too narrow there.
    crossed: bool,
}

impl From<&BayLayout> for BayLayoutView {
    fn from(layout: &BayLayout) -> Self {
        Self {
            treats: layout.treats.clone(),
            n_bays: layout.n_bays,
            largest_bay_m2: metres(layout.largest),
            basis: layout.basis,
            staggered: layout.staggered,
            direction: layout.direction.map(Direction::word),
            by_hand_m2: metres(layout.by_hand),
            bays: layout.bays.iter().map(Into::into).collect(),
        }
    }
}

impl From<&PlannedBay> for BayView {
    fn from(bay: &PlannedBay) -> Self {
        Self {
            number: bay.number,
            area_m2: number::square_metres(bay.area),
            inside_gap_m2: metres(bay.inside),
            by_hand_m2: metres(bay.by_hand),
            drawn: bay.drawn.as_ref().map(Into::into),
        }
    }
}

impl From<&DrawnBay> for DrawnBayView {
    fn from(bay: &DrawnBay) -> Self {
        let ring = |ring: &Vec<Point>| ring.iter().copied().collect();
        Self {
            rings: bay.rings.iter().map(ring).collect(),
            towards: bay.towards.into(),
            strokes: bay.strokes.map(Into::into),
            crossed: bay.crossed,
        }
    }
}

fn metres(area: Option<Area>) -> Option<f64> {
    area.map(number::square_metres)
}

//! The outline of a floor: one outer ring and holes, held to what a floor can be.

use geo::{Coord, LineString, Polygon};

use super::{Point, simple};
use crate::quantity::{Area, Length};

/// The largest number of rings, the outer one included.
pub const MAX_RINGS: usize = 200;
/// The largest number of points of all rings together.
pub const MAX_VERTICES: usize = 1_000;
/// The largest size of a coordinate in m: the grids of national surveys stay below it.
pub const MAX_COORDINATE_M: f64 = 10_000_000.0;

/// A point of a ring by its place in the input, both from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// The ring.
    pub ring: usize,
    /// Its point.
    pub vertex: usize,
}

/// What is wrong with an outline.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum OutlineFault {
    /// There is no ring, or there are too many rings or points.
    #[error("an outline has 1 to {MAX_RINGS} rings and at most {MAX_VERTICES} points")]
    Size,
    /// A coordinate is not a number of metres that is read here.
    #[error("a coordinate lies between -{MAX_COORDINATE_M} and {MAX_COORDINATE_M} m")]
    Coordinate {
        /// Whose coordinate.
        at: Place,
    },
    /// A ring has fewer than three different points.
    #[error("a ring has at least three different points")]
    TooFewPoints {
        /// The ring.
        ring: usize,
    },
    /// Two edges cross, touch or run back on one another.
    #[error(
        "the edge from this point meets the edge from point {} of ring {}: a ring does not cross or touch itself, \
         and rings stay apart", other.vertex, other.ring
    )]
    Meets {
        /// Where the first edge begins.
        at: Place,
        /// Where the other begins.
        other: Place,
    },
    /// A hole does not lie within the outer ring, the first one.
    #[error("this hole does not lie inside the first ring")]
    HoleOutside {
        /// The hole.
        ring: usize,
    },
    /// A hole lies within another hole.
    #[error("this hole lies inside hole {other}")]
    HoleInHole {
        /// The hole.
        ring: usize,
        /// The hole around it.
        other: usize,
    },
}

impl OutlineFault {
    /// The ring and, where one is to blame, the point that the fault is about.
    pub const fn place(&self) -> (Option<usize>, Option<usize>) {
        match self {
            Self::Size => (None, None),
            Self::Coordinate { at } | Self::Meets { at, .. } => (Some(at.ring), Some(at.vertex)),
            Self::TooFewPoints { ring }
            | Self::HoleOutside { ring }
            | Self::HoleInHole { ring, .. } => (Some(*ring), None),
        }
    }
}

/// The outline of one floor: a ring around it and a ring around each hole (column, void, fixed plant).
///
/// ```
/// use domain::geometry::{Outline, Point};
///
/// let ring = [(0.0, 0.0), (30.0, 0.0), (30.0, 8.0), (0.0, 8.0)].map(|(x, y)| Point::new(x, y));
/// let outline = Outline::new(&[ring.to_vec()]).expect("a rectangle");
/// assert_eq!(outline.area_m2(), 240.0);
/// assert_eq!(outline.perimeter_m(), 76.0);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Outline {
    /// The first point, from which everything else is reckoned.
    pub(super) origin: Point,
    /// The rings about `origin`: the outer one anticlockwise, holes clockwise.
    pub(super) polygon: Polygon<f64>,
    area_m2: f64,
    perimeter_m: f64,
}

impl Outline {
    /// Takes the rings, the outer one first, in either sense of rotation.
    ///
    /// A ring is closed by itself: its last point may repeat the first or leave it out. Points that follow one
    /// another in the same place count once.
    ///
    /// # Errors
    /// Every [`OutlineFault`], up to some twenty: first those of single points and rings, and only if there are none,
    /// those of edges; and only if there are none, those of holes.
    pub fn new(rings: &[Vec<Point>]) -> Result<Self, Vec<OutlineFault>> {
        let open = simple::open_rings(rings)?;
        simple::check(&open)?;
        let origin = open
            .first()
            .and_then(|ring| ring.first())
            .map_or(Point::new(0.0, 0.0), |vertex| vertex.at);
        let mut lines = open.iter().enumerate().map(|(number, ring)| {
            let coords = ring.iter().map(|vertex| Coord {
                x: vertex.at.x - origin.x,
                y: vertex.at.y - origin.y,
            });
            let mut coords: Vec<Coord<f64>> = coords.collect();
            // The outer ring runs anticlockwise, holes clockwise, whichever way they were given.
            if (signed_area(&coords) < 0.0) == (number == 0) {
                coords.reverse();
            }
            LineString::from(coords)
        });
        let outer = lines.next().unwrap_or_else(LineString::empty);
        let polygon = Polygon::new(outer, lines.collect());
        Ok(Self {
            origin,
            area_m2: area_of(&polygon),
            perimeter_m: perimeter_of(&polygon),
            polygon,
        })
    }

    /// Its area in m², holes left out.
    pub const fn area_m2(&self) -> f64 {
        self.area_m2
    }

    /// The length of its edges in m, those of holes included: they are all walked along.
    pub const fn perimeter_m(&self) -> f64 {
        self.perimeter_m
    }

    /// Its area as the ledger keeps it.
    pub fn area(&self) -> Area {
        Area::from_m2(self.area_m2).unwrap_or(Area::ZERO)
    }

    /// The length of its edges as the ledger keeps it.
    pub fn edge(&self) -> Length {
        Length::from_m(self.perimeter_m).unwrap_or(Length::ZERO)
    }

    /// The length of the outer ring in m.
    pub fn outer_m(&self) -> f64 {
        length(self.polygon.exterior())
    }

    /// How far a point lies from the nearest edge, in m.
    pub fn distance_to_edge(&self, point: Point) -> f64 {
        let point = self.local(point);
        rings(&self.polygon)
            .flat_map(LineString::lines)
            .map(|line| distance_to(line, point))
            .fold(f64::INFINITY, f64::min)
    }

    /// A point of the site's frame as seen from the origin.
    pub(super) fn local(&self, point: Point) -> Coord<f64> {
        Coord {
            x: point.x - self.origin.x,
            y: point.y - self.origin.y,
        }
    }
}

/// All rings of a polygon.
pub(super) fn rings(polygon: &Polygon<f64>) -> impl Iterator<Item = &LineString<f64>> {
    std::iter::once(polygon.exterior()).chain(polygon.interiors())
}

/// The area of a polygon, by the shoelace formula about the first point of each ring.
pub(super) fn area_of(polygon: &Polygon<f64>) -> f64 {
    let holes: f64 = polygon
        .interiors()
        .iter()
        .map(|ring| signed_area(&ring.0).abs())
        .sum();
    signed_area(&polygon.exterior().0).abs() - holes
}

fn perimeter_of(polygon: &Polygon<f64>) -> f64 {
    rings(polygon).map(length).sum()
}

fn length(ring: &LineString<f64>) -> f64 {
    ring.lines()
        .map(|line| (line.end.x - line.start.x).hypot(line.end.y - line.start.y))
        .sum()
}

/// The area within a ring, positive where it runs anticlockwise.
pub(super) fn signed_area(ring: &[Coord<f64>]) -> f64 {
    let Some(first) = ring.first() else {
        return 0.0;
    };
    let about = ring
        .iter()
        .map(|point| (point.x - first.x, point.y - first.y));
    let pairs = about.clone().zip(about.skip(1));
    pairs
        .map(|((ax, ay), (bx, by))| ax * by - bx * ay)
        .sum::<f64>()
        / 2.0
}

/// How far a point lies from a stretch of a line.
pub(super) fn distance_to(line: geo::Line<f64>, point: Coord<f64>) -> f64 {
    let (dx, dy) = (line.end.x - line.start.x, line.end.y - line.start.y);
    let (px, py) = (point.x - line.start.x, point.y - line.start.y);
    let size = dx * dx + dy * dy;
    let share = if size > 0.0 {
        ((px * dx + py * dy) / size).clamp(0.0, 1.0)
    } else {
        0.0
    };
    (px - share * dx).hypot(py - share * dy)
}

/// Whether a point that does not lie on a ring lies within it: an odd number of edges lies to its right.
pub(super) fn ring_holds(ring: &LineString<f64>, point: Coord<f64>) -> bool {
    let right = |line: &geo::Line<f64>| {
        let (a, b) = (line.start, line.end);
        let spans = (a.y > point.y) != (b.y > point.y);
        spans && point.x < a.x + (point.y - a.y) / (b.y - a.y) * (b.x - a.x)
    };
    ring.lines().filter(right).count() % 2 == 1
}

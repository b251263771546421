//! Cuts a floor into strips of equal area, each in one or several pieces.

use geo::{BooleanOps, Coord, LineString, MapCoords, MultiPolygon, Polygon, coord};

use super::{
    Point,
    outline::{area_of, rings},
};

/// Halvings of the place of a cut: 2⁻⁵⁰ of the floor's length is far below the width of an atom.
const HALVINGS: u32 = 50;

/// A floor turned so that its axis points along x; cuts run along y.
#[derive(Debug, Clone)]
pub(super) struct Turned {
    axis: Point,
    pub(super) polygon: Polygon<f64>,
    ends: (f64, f64),
}

/// A strip between two cuts.
#[derive(Debug, Clone)]
pub(super) struct Strip {
    /// Where it begins and ends along the axis.
    pub(super) ends: (f64, f64),
    /// Its pieces.
    pub(super) pieces: Vec<Polygon<f64>>,
}

impl Turned {
    /// Turns a floor whose axis is a unit vector.
    pub(super) fn new(polygon: &Polygon<f64>, axis: Point) -> Self {
        let polygon = polygon.map_coords(|at| turn(axis, at));
        let ends = ends(&polygon);
        Self {
            axis,
            polygon,
            ends,
        }
    }

    /// Another area of the same floor, turned alike.
    pub(super) fn turn(&self, pieces: &MultiPolygon<f64>) -> MultiPolygon<f64> {
        pieces.map_coords(|at| turn(self.axis, at))
    }

    /// A point turned alike.
    pub(super) fn turn_point(&self, point: Coord<f64>) -> Coord<f64> {
        turn(self.axis, point)
    }

    /// A point turned back.
    pub(super) fn back(&self, at: Coord<f64>) -> Coord<f64> {
        turn(Point::new(self.axis.x, -self.axis.y), at)
    }

    /// Strips that hold these shares of the area, which add up to 1, in the order of the axis.
    pub(super) fn strips(&self, shares: &[f64]) -> Vec<Strip> {
        let whole = area_of(&self.polygon);
        let mut strips = Vec::with_capacity(shares.len());
        let (mut share, mut from) = (0.0, self.ends.0);
        for (index, part) in shares.iter().enumerate() {
            share += part;
            let last = index.saturating_add(1) == shares.len();
            let to = if last {
                self.ends.1
            } else {
                self.cut_at(share * whole, from)
            };
            strips.push(Strip {
                ends: (from, to),
                pieces: self.between(from, to),
            });
            from = to;
        }
        strips
    }

    /// Where the cut lies that has `area` before it, which grows with the place of the cut.
    fn cut_at(&self, area: f64, from: f64) -> f64 {
        let (mut low, mut high) = (from, self.ends.1);
        for _halving in 0..HALVINGS {
            let middle = f64::midpoint(low, high);
            if before(&self.polygon, middle) < area {
                low = middle;
            } else {
                high = middle;
            }
        }
        f64::midpoint(low, high)
    }

    /// The pieces of the floor between two cuts.
    fn between(&self, from: f64, to: f64) -> Vec<Polygon<f64>> {
        if (from, to) == self.ends {
            return vec![self.polygon.clone()];
        }
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for at in self.polygon.exterior().coords() {
            (low, high) = (low.min(at.y), high.max(at.y));
        }
        let strip = geo::Rect::new(
            coord! { x: from, y: low - 1.0 },
            coord! { x: to, y: high + 1.0 },
        );
        self.polygon.intersection(&strip.to_polygon()).0
    }
}

/// The area of pieces between two cuts.
pub(super) fn area_between(pieces: &MultiPolygon<f64>, (from, to): (f64, f64)) -> f64 {
    let of = |piece: &Polygon<f64>| before(piece, to) - before(piece, from);
    pieces.0.iter().map(of).sum()
}

/// The area of a polygon that lies before `x`: the integral of -y dx along what of its rings lies there (Green's
/// theorem). The cut itself, along which x does not change, adds nothing.
fn before(polygon: &Polygon<f64>, x: f64) -> f64 {
    let along = |ring: &LineString<f64>| -> f64 {
        let pairs = ring.0.iter().zip(ring.0.iter().skip(1));
        pairs.map(|(a, b)| strip_under(a, b, x)).sum()
    };
    rings(polygon).map(along).sum()
}

/// The integral of -y dx along what of an edge lies before `x`.
fn strip_under(a: &Coord<f64>, b: &Coord<f64>, x: f64) -> f64 {
    let (ax, bx) = (a.x.min(x), b.x.min(x));
    if ax.total_cmp(&bx).is_eq() {
        return 0.0;
    }
    let slope = (b.y - a.y) / (b.x - a.x);
    let (ay, by) = (a.y + slope * (ax - a.x), a.y + slope * (bx - a.x));
    -(bx - ax) * f64::midpoint(ay, by)
}

fn turn(axis: Point, at: Coord<f64>) -> Coord<f64> {
    coord! {
        x: at.x * axis.x + at.y * axis.y,
        y: at.y * axis.x - at.x * axis.y,
    }
}

fn ends(polygon: &Polygon<f64>) -> (f64, f64) {
    let xs = polygon.exterior().coords().map(|at| at.x);
    xs.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| {
        (low.min(x), high.max(x))
    })
}

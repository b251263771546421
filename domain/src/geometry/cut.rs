//! Cuts a floor into parts of equal area by parallel lines, and looks after walls in doing so.

use geo::{Coord, LineString, MapCoords, MultiPolygon, Polygon, coord};

use super::{
    Point, clip,
    outline::{area_of, rings},
};

/// Halvings of the place of a cut: 2⁻⁵⁰ of the floor's length is far below the width of an atom.
const HALVINGS: u32 = 50;
/// Places that differ by less than this, in m, are one.
pub(super) const SAME: f64 = 1e-5;

/// A frame whose x runs along an axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Frame(pub(super) Point);

impl Frame {
    /// Shapes as seen in the frame.
    pub(super) fn shapes(self, pieces: &MultiPolygon<f64>) -> MultiPolygon<f64> {
        pieces.map_coords(|at| self.seen(at))
    }

    /// Shapes of the frame as seen from outside.
    pub(super) fn shapes_back(self, pieces: &MultiPolygon<f64>) -> MultiPolygon<f64> {
        pieces.map_coords(|at| self.back(at))
    }

    /// A point as seen in the frame.
    pub(super) fn seen(self, at: Coord<f64>) -> Coord<f64> {
        let axis = self.0;
        coord! { x: at.x * axis.x + at.y * axis.y, y: at.y * axis.x - at.x * axis.y }
    }

    /// A point of the frame as seen from outside.
    pub(super) fn back(self, at: Coord<f64>) -> Coord<f64> {
        Self(Point::new(self.0.x, -self.0.y)).seen(at)
    }
}

/// What lies between two cuts.
#[derive(Debug, Clone)]
pub(super) struct Strip {
    /// Where the cuts are.
    pub(super) ends: (f64, f64),
    /// Its pieces.
    pub(super) pieces: MultiPolygon<f64>,
}

/// Cuts pieces along x into strips that hold these shares of the area, in their order.
///
/// A cut that would come closer than `passage_m` to a wall that runs along it, or to where the floor parts or ends, is
/// moved there: else it would leave a neck in which nobody can stand. What comes after shares the rest.
pub(super) fn strips(pieces: &MultiPolygon<f64>, shares: &[f64], passage_m: f64) -> Vec<Strip> {
    let walls = walls(pieces, passage_m);
    let (start, end) = ends(pieces);
    let whole = area_before(pieces, end);
    let mut strips = Vec::with_capacity(shares.len());
    let mut rest: f64 = shares.iter().sum();
    let (mut from, mut done) = (start, 0.0);
    for (index, share) in shares.iter().enumerate() {
        let last = index.saturating_add(1) == shares.len();
        let to = if last {
            end
        } else {
            let aim = cut_at(pieces, done + (whole - done) * share / rest, (from, end));
            let near = |wall: &f64| *wall > from + SAME && *wall < end - SAME;
            let near = walls.iter().copied().filter(near);
            let nearest = near.min_by(|a, b| (a - aim).abs().total_cmp(&(b - aim).abs()));
            nearest
                .filter(|wall| (wall - aim).abs() < passage_m)
                .unwrap_or(aim)
        };
        strips.push(Strip {
            ends: (from, to),
            pieces: between(pieces, (from, to), (start, end)),
        });
        rest -= share;
        done = area_before(pieces, to);
        from = to;
    }
    strips
}

/// Where the cut lies that has `area` before it, which grows with the place of the cut.
fn cut_at(pieces: &MultiPolygon<f64>, area: f64, (mut low, mut high): (f64, f64)) -> f64 {
    for _halving in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        if area_before(pieces, middle) < area {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

/// What lies between two cuts; all of it if they are its ends.
fn between(pieces: &MultiPolygon<f64>, cuts: (f64, f64), ends: (f64, f64)) -> MultiPolygon<f64> {
    if cuts == ends {
        return pieces.clone();
    }
    let parts = pieces.0.iter();
    parts
        .flat_map(|piece| clip::between(piece, cuts.0, cuts.1))
        .collect()
}

/// Where walls run along y for at least `least_m`, and where the floor parts or ends along x.
fn walls(pieces: &MultiPolygon<f64>, least_m: f64) -> Vec<f64> {
    let mut found = Vec::new();
    for ring in pieces.0.iter().flat_map(rings) {
        for line in ring.lines() {
            let along = (line.end.x - line.start.x).abs() < SAME;
            if along && (line.end.y - line.start.y).abs() >= least_m {
                found.push(line.start.x);
            }
        }
        let mut places: Vec<f64> = ring.coords().map(|at| at.x).collect();
        places.dedup_by(|a, b| (*a - *b).abs() < SAME);
        if places.len() > 1 && same(places.first(), places.last()) {
            places.pop();
        }
        let before = places.iter().cycle().skip(places.len().saturating_sub(1));
        let after = places.iter().cycle().skip(1);
        for ((place, before), after) in places.iter().zip(before).zip(after) {
            if (before - place) * (after - place) > 0.0 {
                found.push(*place);
            }
        }
    }
    found.sort_by(f64::total_cmp);
    found.dedup_by(|a, b| (*a - *b).abs() < SAME);
    found
}

fn same(a: Option<&f64>, b: Option<&f64>) -> bool {
    a.zip(b).is_some_and(|(a, b)| (a - b).abs() < SAME)
}

/// The area of pieces between two cuts.
pub(super) fn area_between(pieces: &MultiPolygon<f64>, (from, to): (f64, f64)) -> f64 {
    area_before(pieces, to) - area_before(pieces, from)
}

/// The area of all pieces.
pub(super) fn area(pieces: &MultiPolygon<f64>) -> f64 {
    pieces.0.iter().map(area_of).sum()
}

/// The area of pieces that lies before `x`: the integral of -y dx along what of their rings lies there (Green's
/// theorem). The cut itself, along which x does not change, adds nothing.
fn area_before(pieces: &MultiPolygon<f64>, x: f64) -> f64 {
    let along = |ring: &LineString<f64>| -> f64 {
        let pairs = ring.0.iter().zip(ring.0.iter().skip(1));
        pairs.map(|(a, b)| under(a, b, x)).sum()
    };
    pieces.0.iter().flat_map(rings).map(along).sum()
}

/// The integral of -y dx along what of an edge lies before `x`.
fn under(a: &Coord<f64>, b: &Coord<f64>, x: f64) -> f64 {
    let (ax, bx) = (a.x.min(x), b.x.min(x));
    // 0 and -0 are one place.
    if (bx - ax).abs() <= 0.0 {
        return 0.0;
    }
    let slope = (b.y - a.y) / (b.x - a.x);
    let (ay, by) = (a.y + slope * (ax - a.x), a.y + slope * (bx - a.x));
    -(bx - ax) * f64::midpoint(ay, by)
}

fn ends(pieces: &MultiPolygon<f64>) -> (f64, f64) {
    let outer = pieces
        .0
        .iter()
        .flat_map(|piece: &Polygon<f64>| piece.exterior().coords());
    span(outer.map(|at| at.x))
}

/// The least and the greatest of some values.
pub(super) fn span(values: impl Iterator<Item = f64>) -> (f64, f64) {
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
        (low.min(value), high.max(value))
    })
}

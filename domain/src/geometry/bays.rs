//! Bays with a shape and a place in the order of work.

use geo::{Area, BooleanOps, Coord, LineString, MultiPolygon, Polygon};

use super::{
    Inside, Outline, Point,
    cut::{Strip, Turned, area_between},
    order::{Piece, order},
    outline::{area_of, rings},
};

/// A part of a floor that is treated in one go.
#[derive(Debug, Clone, PartialEq)]
pub struct Bay {
    /// When its turn is, from 1.
    pub number: usize,
    /// Its strip along the axis, from 1; a strip in several pieces makes several bays.
    pub strip: usize,
    /// Its rings in the site's frame, the outer one first; not closed.
    pub rings: Vec<Vec<Point>>,
    /// Its area in m².
    pub area_m2: f64,
    /// Its greatest extent at a right angle to the axis, in m.
    pub across_m: f64,
    /// The point by which the crew leaves it: the middle of the seam to what is still untreated, at last the exit.
    pub towards: Point,
    /// Its shape in the turned frame, and where its strip lies there.
    piece: Polygon<f64>,
    ends: (f64, f64),
    /// Whether it is all of its strip.
    alone: bool,
}

/// A floor cut into bays.
#[derive(Debug, Clone)]
pub struct Layout {
    /// The direction along which the bays follow one another: that of the longest edge.
    pub axis: Point,
    /// The bays in the order of treatment.
    pub bays: Vec<Bay>,
    turned: Turned,
}

impl Outline {
    /// The direction of the longest edge of the outer ring, as a unit vector; of equally long ones, of the first.
    pub fn axis(&self) -> Point {
        let mut longest = (0.0, Point::new(1.0, 0.0));
        for line in self.polygon.exterior().lines() {
            let (x, y) = (line.end.x - line.start.x, line.end.y - line.start.y);
            let length = x.hypot(y);
            // Edges that differ by less than rounding are equally long.
            if length > longest.0 * (1.0 + 1e-9) {
                longest = (length, Point::new(x / length, y / length));
            }
        }
        let axis = longest.1;
        if axis.x < 0.0 || (axis.x <= 0.0 && axis.y < 0.0) {
            Point::new(-axis.x, -axis.y)
        } else {
            axis
        }
    }

    /// Where the crew is taken to leave when nobody says: the middle of the edge that lies nearest the axis's start.
    pub fn assumed_exit(&self) -> Point {
        let axis = self.axis();
        let along = |at: Coord<f64>| at.x * axis.x + at.y * axis.y;
        let middle = |line: geo::Line<f64>| Coord {
            x: f64::midpoint(line.start.x, line.end.x),
            y: f64::midpoint(line.start.y, line.end.y),
        };
        let middles = self.polygon.exterior().lines().map(middle);
        let first = middles.min_by(|a, b| along(*a).total_cmp(&along(*b)));
        first.map_or(self.origin, |at| self.site(at))
    }

    /// Cuts the floor into `n_bays` strips of equal area, or for `staggered` ones into one more, the first and the
    /// last of half the area, so that the seams of the two lie half a bay apart.
    ///
    /// `exit` is where the crew leaves.
    pub fn lay_out(&self, n_bays: u32, staggered: bool, exit: Point) -> Layout {
        let axis = self.axis();
        let turned = Turned::new(&self.polygon, axis);
        let strips = turned.strips(&shares(n_bays.max(1), staggered));
        let pieces: Vec<Piece<'_>> = strips.iter().enumerate().flat_map(pieces).collect();
        let exit = turned.turn_point(self.local(exit));
        let bays = order(&pieces, exit).into_iter().enumerate();
        let bays = bays.filter_map(|(index, turn)| {
            let piece = pieces.get(turn.piece)?;
            let site = |at: Coord<f64>| self.site(turned.back(at));
            Some(Bay {
                number: index.saturating_add(1),
                strip: piece.strip.saturating_add(1),
                rings: rings(piece.polygon)
                    .map(|ring| open(ring).map(site).collect())
                    .collect(),
                area_m2: area_of(piece.polygon),
                across_m: across(piece.polygon),
                towards: site(turn.towards),
                piece: piece.polygon.clone(),
                ends: piece.ends,
                alone: strips
                    .get(piece.strip)
                    .is_some_and(|strip| strip.pieces.len() == 1),
            })
        });
        let bays = bays.collect();
        Layout { axis, bays, turned }
    }

    /// A point seen from the origin as one of the site's frame.
    fn site(&self, at: Coord<f64>) -> Point {
        Point::new(at.x + self.origin.x, at.y + self.origin.y)
    }
}

impl Layout {
    /// How much of a part of the floor lies in each bay, in m², in the order of treatment.
    pub fn share(&self, part: &Inside) -> Vec<f64> {
        let part = self.turned.turn(&part.pieces);
        self.bays.iter().map(|bay| bay.holds(&part)).collect()
    }
}

impl Bay {
    fn holds(&self, part: &MultiPolygon<f64>) -> f64 {
        if self.alone {
            // The strip has no other piece, so all that lies between its cuts is this bay's.
            area_between(part, self.ends)
        } else {
            part.intersection(&self.piece).unsigned_area()
        }
    }
}

/// The shares of the strips.
fn shares(n_bays: u32, staggered: bool) -> Vec<f64> {
    let share = 1.0 / f64::from(n_bays);
    let whole = |n: u32| (0..n).map(move |_strip| share);
    if staggered && n_bays > 1 {
        let half = std::iter::once(share / 2.0);
        half.clone().chain(whole(n_bays - 1)).chain(half).collect()
    } else {
        whole(n_bays).collect()
    }
}

fn pieces((strip, of): (usize, &Strip)) -> impl Iterator<Item = Piece<'_>> {
    of.pieces.iter().map(move |polygon| Piece {
        strip,
        ends: of.ends,
        polygon,
    })
}

/// The points of a ring, the last one, which repeats the first, left out.
fn open(ring: &LineString<f64>) -> impl Iterator<Item = Coord<f64>> {
    let n_points = ring.0.len().saturating_sub(1);
    ring.0.iter().take(n_points).copied()
}

fn across(polygon: &Polygon<f64>) -> f64 {
    let ys = polygon.exterior().coords().map(|at| at.y);
    let (low, high) = ys.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), y| {
        (low.min(y), high.max(y))
    });
    high - low
}

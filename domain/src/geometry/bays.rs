//! Bays with a shape and a place in the order of work.

use geo::{Area, BooleanOps, Coord, LineString, MultiPolygon, Polygon};

use super::{
    Inside, Outline, Point,
    cut::{Frame, area, area_between, span, strips},
    order::order,
    outline::{area_of, rings},
};

/// How a floor is cut into bays.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CutRule {
    /// At least so many bays of equal area.
    pub n_bays: u32,
    /// Whether seams lie half a bay off: the first and the last bay of a row are half as large, and there is one more.
    pub staggered: bool,
    /// The least depth of a bay along the axis in m: where bays from wall to wall would be thinner, rows of bays are
    /// laid side by side.
    pub depth_m: f64,
    /// No cut leaves a neck narrower than this, in m.
    pub passage_m: f64,
}

/// A part of a floor that is treated in one go.
#[derive(Debug, Clone, PartialEq)]
pub struct Bay {
    /// When its turn is, from 1.
    pub number: usize,
    /// Its strip along the axis, from 1; a strip has several bays where it has several pieces or rows.
    pub strip: usize,
    /// Its rings in the site's frame, the outer one first; not closed.
    pub rings: Vec<Vec<Point>>,
    /// Its area in m².
    pub area_m2: f64,
    /// The width across the axis of the strip that it lies in, in m: how far strokes across can run.
    pub across_m: f64,
    /// The point by which the crew leaves it: the middle of the seam to what is still untreated, at last the exit.
    pub towards: Point,
    /// Its shape in the axis's frame.
    piece: Polygon<f64>,
    /// The ends of its strip, if it is all of it.
    alone: Option<(f64, f64)>,
}

/// A floor cut into bays.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    /// The direction along which the bays follow one another: that of the longest edge.
    pub axis: Point,
    /// The bays in the order of treatment.
    pub bays: Vec<Bay>,
}

/// A piece of a strip.
struct Piece {
    strip: usize,
    polygon: Polygon<f64>,
    across_m: f64,
    alone: Option<(f64, f64)>,
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

    /// Its greatest extent at a right angle to the axis, in m.
    pub fn across_m(&self) -> f64 {
        let turned = self.axis().turned();
        let outer = self.polygon.exterior().coords();
        let (low, high) = span(outer.map(|at| at.x * turned.x + at.y * turned.y));
        high - low
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

    /// Cuts the floor into bays and puts them in an order in which the crew always gets out at `exit`.
    ///
    /// Cuts run across the axis from wall to wall. They make strips of equal area, except where a cut is moved to a
    /// wall, see [`CutRule::passage_m`]; strips in several pieces make several bays.
    pub fn lay_out(&self, rule: &CutRule, exit: Point) -> Layout {
        let frame = Frame(self.axis());
        let floor = frame.shapes(&MultiPolygon::new(vec![self.polygon.clone()]));
        let pieces = pieces(&floor, rule, self.across_m());
        let polygons: Vec<&Polygon<f64>> = pieces.iter().map(|piece| &piece.polygon).collect();
        let turns = order(&polygons, frame.seen(self.local(exit)), rule.passage_m);
        let site = |at: Coord<f64>| self.site(frame.back(at));
        let bays = turns.into_iter().enumerate().filter_map(|(index, turn)| {
            let piece = pieces.get(turn.piece)?;
            Some(Bay {
                number: index.saturating_add(1),
                strip: piece.strip,
                rings: rings(&piece.polygon)
                    .map(|ring| open(ring).map(site).collect())
                    .collect(),
                area_m2: area_of(&piece.polygon),
                across_m: piece.across_m,
                towards: site(turn.towards),
                piece: piece.polygon.clone(),
                alone: piece.alone,
            })
        });
        Layout {
            axis: frame.0,
            bays: bays.collect(),
        }
    }

    /// A point seen from the origin as one of the site's frame.
    fn site(&self, at: Coord<f64>) -> Point {
        Point::new(at.x + self.origin.x, at.y + self.origin.y)
    }
}

impl Layout {
    /// How much of a part of the floor lies in each bay, in m², in the order of treatment.
    pub fn share(&self, part: &Inside) -> Vec<f64> {
        let part = Frame(self.axis).shapes(&part.pieces);
        self.bays.iter().map(|bay| bay.holds(&part)).collect()
    }
}

impl Bay {
    fn holds(&self, part: &MultiPolygon<f64>) -> f64 {
        match self.alone {
            // The strip has no other piece, so all that lies between its cuts is this bay's.
            Some(ends) => area_between(part, ends),
            None => part.intersection(&self.piece).unsigned_area(),
        }
    }
}

/// The pieces of a floor that lies in the axis's frame.
fn pieces(floor: &MultiPolygon<f64>, rule: &CutRule, across_m: f64) -> Vec<Piece> {
    let n_bays = rule.n_bays.max(1);
    // How deep bays from wall to wall would be, and how many side by side make them deep enough.
    let depth_m = area(floor) / f64::from(n_bays) / across_m;
    let n_rows = (1..=n_bays).find(|n| f64::from(*n) * depth_m >= rule.depth_m);
    let n_rows = n_rows.unwrap_or(n_bays);
    let shares = shares(n_bays.div_ceil(n_rows), rule.staggered);
    let mut pieces = Vec::new();
    for (index, strip) in strips(floor, &shares, rule.passage_m)
        .into_iter()
        .enumerate()
    {
        let across = strip
            .pieces
            .0
            .iter()
            .flat_map(|piece| piece.exterior().coords());
        let (low, high) = span(across.map(|at| at.y));
        let whole = n_rows == 1 && strip.pieces.0.len() == 1;
        let alone = whole.then_some(strip.ends);
        let parts = if n_rows == 1 {
            strip.pieces.0
        } else {
            rows(&strip.pieces, n_rows, rule)
        };
        pieces.extend(parts.into_iter().map(|polygon| Piece {
            strip: index.saturating_add(1),
            polygon,
            across_m: high - low,
            alone,
        }));
    }
    pieces
}

/// A strip cut along the axis into rows of equal area.
fn rows(strip: &MultiPolygon<f64>, n_rows: u32, rule: &CutRule) -> Vec<Polygon<f64>> {
    let frame = Frame(Point::new(0.0, 1.0));
    let shares = shares(n_rows, rule.staggered);
    let rows = strips(&frame.shapes(strip), &shares, rule.passage_m);
    let back = rows.iter().map(|row| frame.shapes_back(&row.pieces));
    back.flatten().collect()
}

/// The shares of strips or rows.
fn shares(n: u32, staggered: bool) -> Vec<f64> {
    let share = 1.0 / f64::from(n);
    let whole = |n: u32| (0..n).map(move |_strip| share);
    if staggered && n > 1 {
        let half = std::iter::once(share / 2.0);
        half.clone().chain(whole(n - 1)).chain(half).collect()
    } else {
        whole(n).collect()
    }
}

/// The points of a ring, the last one, which repeats the first, left out.
fn open(ring: &LineString<f64>) -> impl Iterator<Item = Coord<f64>> {
    let n_points = ring.0.len().saturating_sub(1);
    ring.0.iter().take(n_points).copied()
}

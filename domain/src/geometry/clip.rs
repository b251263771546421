//! Cuts polygons by an upright line.
//!
//! Nothing is snapped to a grid here: seams lie exactly where they were put, on both sides of them.

use geo::{Coord, LineString, MapCoords, Polygon};

use super::outline::{ring_holds, rings, signed_area};

/// Smaller pieces, in m², are rounding.
const DUST: f64 = 1e-9;

/// What of a polygon lies between two upright lines; its outer ring runs anticlockwise, its holes clockwise.
pub(super) fn between(polygon: &Polygon<f64>, from: f64, to: f64) -> Vec<Polygon<f64>> {
    let turned = |polygon: &Polygon<f64>| polygon.map_coords(|at| Coord { x: -at.x, y: -at.y });
    let before = before(polygon, to);
    let halves = before.iter().map(turned);
    let parts = halves.flat_map(|half| self::before(&half, -from));
    parts.map(|part| turned(&part)).collect()
}

/// A stretch of a ring before the line: it enters from beyond and leaves again.
#[derive(Debug)]
struct Chain {
    points: Vec<Coord<f64>>,
    enters: f64,
    leaves: f64,
}

/// What of a polygon lies before an upright line. Points on the line count as beyond it.
fn before(polygon: &Polygon<f64>, x: f64) -> Vec<Polygon<f64>> {
    let is_before = |at: &Coord<f64>| at.x < x;
    if polygon.exterior().coords().all(is_before) {
        return vec![polygon.clone()];
    }
    let mut chains: Vec<Chain> = Vec::new();
    let mut whole: Vec<LineString<f64>> = Vec::new();
    for ring in rings(polygon) {
        if ring.coords().all(is_before) {
            whole.push(ring.clone());
        } else {
            chains_of(ring, x, &mut chains);
        }
    }
    let mut outer: Vec<(LineString<f64>, Vec<LineString<f64>>)> = link(chains)
        .into_iter()
        .filter(|ring| signed_area(&ring.0) > DUST)
        .map(|ring| (ring, Vec::new()))
        .collect();
    for hole in whole {
        let Some(point) = hole.0.first().copied() else {
            continue;
        };
        if let Some((_, holes)) = outer.iter_mut().find(|(ring, _)| ring_holds(ring, point)) {
            holes.push(hole);
        }
    }
    let polygons = outer
        .into_iter()
        .map(|(ring, holes)| Polygon::new(ring, holes));
    polygons.collect()
}

/// Adds the stretches of a ring before the line.
fn chains_of(ring: &LineString<f64>, x: f64, chains: &mut Vec<Chain>) {
    let lines: Vec<geo::Line<f64>> = ring.lines().collect();
    let Some(first) = lines
        .iter()
        .position(|line| line.start.x >= x && line.end.x < x)
    else {
        return;
    };
    let mut open: Option<Chain> = None;
    for line in lines.iter().cycle().skip(first).take(lines.len()) {
        let (starts, ends) = (line.start.x < x, line.end.x < x);
        if !starts && ends {
            let y = crossing(line.end, line.start, x);
            open = Some(Chain {
                points: vec![Coord { x, y }, line.end],
                enters: y,
                leaves: y,
            });
        } else if let Some(mut chain) = open.take() {
            if ends {
                chain.points.push(line.end);
                open = Some(chain);
            } else {
                chain.leaves = crossing(line.start, line.end, x);
                chain.points.push(Coord { x, y: chain.leaves });
                chains.push(chain);
            }
        }
    }
}

/// Where an edge from before the line to beyond it, or onto it, crosses.
fn crossing(before: Coord<f64>, beyond: Coord<f64>, x: f64) -> f64 {
    if beyond.x <= x {
        return beyond.y;
    }
    before.y + (x - before.x) / (beyond.x - before.x) * (beyond.y - before.y)
}

/// Joins stretches along the line to rings.
///
/// Rings have the floor to their left. So where one leaves across the line, the floor lies above it on the line, up to
/// where the next enters: the lowest that leaves belongs to the lowest that enters, and so on upwards.
fn link(chains: Vec<Chain>) -> Vec<LineString<f64>> {
    let sorted = |place: fn(&Chain) -> f64| {
        let mut order: Vec<usize> = (0..chains.len()).collect();
        let of = |index: &usize| chains.get(*index).map_or(0.0, place);
        order.sort_by(|a, b| of(a).total_cmp(&of(b)));
        order
    };
    let (leaving, entering) = (sorted(|chain| chain.leaves), sorted(|chain| chain.enters));
    let mut next = vec![0; chains.len()];
    for (from, to) in leaving.into_iter().zip(entering) {
        if let Some(next) = next.get_mut(from) {
            *next = to;
        }
    }
    let mut chains: Vec<Option<Chain>> = chains.into_iter().map(Some).collect();
    let mut linked = Vec::new();
    for first in 0..chains.len() {
        let mut points: Vec<Coord<f64>> = Vec::new();
        let mut at = first;
        while let Some(chain) = chains.get_mut(at).and_then(Option::take) {
            points.extend(chain.points);
            at = next.get(at).copied().unwrap_or(first);
        }
        points.dedup();
        if points.len() > 2 {
            linked.push(LineString::from(points));
        }
    }
    for ring in &mut linked {
        ring.close();
    }
    linked
}
#[cfg(test)]
mod tests {
    use geo::{Coord, LineString, Polygon};

    use super::between;
    use crate::geometry::outline::{area_of, signed_area};

    fn ring(points: &[(f64, f64)]) -> LineString<f64> {
        points.to_vec().into()
    }

    fn areas(polygon: &Polygon<f64>, from: f64, to: f64) -> Vec<f64> {
        let mut areas: Vec<f64> = between(polygon, from, to).iter().map(area_of).collect();
        areas.sort_by(f64::total_cmp);
        areas
    }

    #[test]
    fn a_line_through_arms_and_holes_makes_pieces() {
        let u = [
            (0.0, 0.0),
            (9.0, 0.0),
            (9.0, 6.0),
            (0.0, 6.0),
            (0.0, 4.0),
            (7.0, 4.0),
            (7.0, 2.0),
            (0.0, 2.0),
        ];
        let u = Polygon::new(ring(&u), Vec::new());
        assert_eq!(areas(&u, 1.0, 3.0), [4.0, 4.0]);
        assert_eq!(areas(&u, 6.0, 8.0), [12.0 - 2.0]);
        // Cuts along a wall, on both of its sides.
        assert_eq!(areas(&u, 3.0, 7.0), [8.0, 8.0]);
        assert_eq!(areas(&u, 7.0, 9.0), [12.0]);
        let hole = ring(&[(2.0, 2.0), (2.0, 4.0), (4.0, 4.0), (4.0, 2.0), (2.0, 2.0)]);
        let square = ring(&[(0.0, 0.0), (6.0, 0.0), (6.0, 6.0), (0.0, 6.0)]);
        let hall = Polygon::new(square, vec![hole]);
        assert_eq!(areas(&hall, 0.0, 3.0), [16.0]);
        assert_eq!(areas(&hall, 2.0, 4.0), [4.0, 4.0]);
        assert_eq!(areas(&hall, 1.0, 5.0), [20.0]);
        assert_eq!(between(&hall, 1.0, 5.0)[0].interiors().len(), 1);
    }

    #[test]
    fn a_corner_on_the_line_makes_no_piece_of_its_own() {
        let diamond = ring(&[(0.0, -2.0), (2.0, 0.0), (0.0, 2.0), (-2.0, 0.0)]);
        let diamond = Polygon::new(diamond, Vec::new());
        assert_eq!(areas(&diamond, -2.0, 0.0), [4.0]);
        assert_eq!(areas(&diamond, 2.0, 3.0), [0.0; 0]);
        // A notch whose tip touches the line.
        let notch = ring(&[(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0), (2.0, 2.0)]);
        let notch = Polygon::new(notch, Vec::new());
        assert_eq!(areas(&notch, 0.0, 2.0), [2.0, 2.0]);
        assert_eq!(areas(&notch, 2.0, 4.0), [8.0]);
        for piece in between(&notch, 0.0, 2.0) {
            assert!(signed_area(&piece.exterior().0) > 0.0);
            assert!(piece.exterior().coords().all(|at: &Coord<f64>| at.x <= 2.0));
        }
    }
}

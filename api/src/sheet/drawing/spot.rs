//! Where in a bay there is room for its number and its arrow.

/// Points of the grid on which a roomier place is looked for, each way.
const GRID: u32 = 24;
/// The middle is kept while it has so much of the room that a rectangle of the bay's size would have there.
const ENOUGH: f64 = 0.6;

/// A place inside a bay, in metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spot {
    /// Where it is.
    pub(super) at: [f64; 2],
    /// How far it is to the next edge on the left or the right.
    pub(super) beside: f64,
    /// How far it is to the next edge above or below.
    pub(super) above: f64,
}

/// The middle of a bay (its centroid) where that lies well inside, else the place that is farthest from all edges: the middle of
/// a bay round a corner may lie on a wall, and that of one with a column in the column. None for a bay without an area.
pub(super) fn spot(rings: &[Vec<[f64; 2]>]) -> Option<Spot> {
    let outer = rings.first()?;
    let middle = centroid(outer)?;
    let reach = |of: usize| {
        let values = outer.iter().filter_map(|point| point.get(of)).copied();
        let (least, most) = values.fold((f64::MAX, f64::MIN), |(least, most), value| {
            (least.min(value), most.max(value))
        });
        (least, most - least)
    };
    let ((left, width), (bottom, depth)) = (reach(0), reach(1));
    let enough = ENOUGH * 0.5 * width.min(depth);
    let mut best = (clearance(rings, middle), middle);
    if best.0 < enough {
        let steps = || (1..GRID).map(|step| f64::from(step) / f64::from(GRID));
        for x in steps() {
            for y in steps() {
                let at = [left + x * width, bottom + y * depth];
                let room = clearance(rings, at);
                if room > best.0 {
                    best = (room, at);
                }
            }
        }
    }
    let (_, at) = best;
    Some(Spot {
        at,
        beside: along(rings, at, 0),
        above: along(rings, at, 1),
    })
}

/// The centroid of a ring.
fn centroid(ring: &[[f64; 2]]) -> Option<[f64; 2]> {
    let first = ring.first()?;
    // Relative to a corner: sites have frames whose origin lies far away.
    let from = |[x, y]: [f64; 2]| (x - first[0], y - first[1]);
    let (mut area, mut x, mut y) = (0.0, 0.0, 0.0);
    for (here, there) in edges(ring) {
        let ((x0, y0), (x1, y1)) = (from(here), from(there));
        let cross = x0 * y1 - x1 * y0;
        area += cross;
        x += (x0 + x1) * cross;
        y += (y0 + y1) * cross;
    }
    (area.abs() > 1e-9).then(|| [first[0] + x / (3.0 * area), first[1] + y / (3.0 * area)])
}

fn edges(ring: &[[f64; 2]]) -> impl Iterator<Item = ([f64; 2], [f64; 2])> {
    let next = ring.iter().cycle().skip(1);
    ring.iter().copied().zip(next.copied())
}

/// How far a place inside is from the next edge; less than nothing outside.
fn clearance(rings: &[Vec<[f64; 2]>], [x, y]: [f64; 2]) -> f64 {
    let (mut is_inside, mut nearest) = (false, f64::MAX);
    for ([x0, y0], [x1, y1]) in rings.iter().flat_map(|ring| edges(ring)) {
        if (y0 > y) != (y1 > y) && x < x0 + (y - y0) / (y1 - y0) * (x1 - x0) {
            is_inside = !is_inside;
        }
        let (dx, dy) = (x1 - x0, y1 - y0);
        let length = dx * dx + dy * dy;
        let share = if length > 0.0 {
            (((x - x0) * dx + (y - y0) * dy) / length).clamp(0.0, 1.0)
        } else {
            0.0
        };
        nearest = nearest.min((x0 + share * dx - x).hypot(y0 + share * dy - y));
    }
    if is_inside { nearest } else { -nearest }
}

/// How far it is from a place to the next edge either way, along the first or the second axis.
fn along(rings: &[Vec<[f64; 2]>], at: [f64; 2], axis: usize) -> f64 {
    let split = |[x, y]: [f64; 2]| if axis == 0 { (x, y) } else { (y, x) };
    let (from, level) = split(at);
    let crossings = rings
        .iter()
        .flat_map(|ring| edges(ring))
        .filter_map(|(here, there)| {
            let ((u0, v0), (u1, v1)) = (split(here), split(there));
            ((v0 > level) != (v1 > level)).then(|| u0 + (level - v0) / (v1 - v0) * (u1 - u0))
        });
    crossings.fold(f64::MAX, |nearest, crossing| {
        nearest.min((crossing - from).abs())
    })
}

#[cfg(test)]
mod tests {
    use super::{Spot, centroid, clearance, spot};

    fn rectangle([left, bottom]: [f64; 2], [right, top]: [f64; 2]) -> Vec<[f64; 2]> {
        vec![[left, bottom], [right, bottom], [right, top], [left, top]]
    }

    /// An angle whose legs are 1 wide and 10 long.
    fn angle() -> Vec<[f64; 2]> {
        vec![
            [100.0, 200.0],
            [110.0, 200.0],
            [110.0, 201.0],
            [101.0, 201.0],
            [101.0, 210.0],
            [100.0, 210.0],
        ]
    }

    /// The centroid of an L of three unit squares is the mean of theirs.
    #[test]
    fn the_middle_is_the_centroid() {
        let l = [
            [10.0, 20.0],
            [12.0, 20.0],
            [12.0, 21.0],
            [11.0, 21.0],
            [11.0, 22.0],
            [10.0, 22.0],
        ];
        let [x, y] = centroid(&l).unwrap();
        assert!(
            (x - (10.5 + 11.5 + 10.5) / 3.0).abs() < 1e-12
                && (y - (20.5 + 20.5 + 21.5) / 3.0).abs() < 1e-12
        );
        assert_eq!(centroid(&[[0.0, 0.0], [1.0, 1.0]]), None);
    }

    #[test]
    fn a_rectangle_is_labelled_in_its_middle_with_half_of_it_each_way() {
        let found = spot(&[rectangle([2.0, 3.0], [12.0, 5.0])]).unwrap();
        assert_eq!(
            found,
            Spot {
                at: [7.0, 4.0],
                beside: 5.0,
                above: 1.0
            }
        );
        assert_eq!(spot(&[vec![[0.0, 0.0], [1.0, 1.0]]]), None);
        assert_eq!(spot(&[]), None);
    }

    #[test]
    fn a_label_stands_neither_on_a_wall_nor_in_a_column() {
        let round_a_corner = vec![angle()];
        assert!(clearance(&round_a_corner, centroid(&angle()).unwrap()) < 0.0);
        let with_a_column = vec![
            rectangle([0.0, 0.0], [6.0, 4.0]),
            rectangle([2.0, 1.0], [4.0, 3.0]),
        ];
        for (rings, roomiest) in [(round_a_corner, 0.5), (with_a_column, 1.0)] {
            let found = spot(&rings).unwrap();
            let room = clearance(&rings, found.at);
            // The grid is as fine as a twenty-fourth of the bay.
            assert!(room > 0.8 * roomiest, "{found:?}: {room}");
            assert!(found.beside >= room && found.above >= room, "{found:?}");
        }
    }
}

//! Laws of shapes, on rooms made up of rectangles, with columns.

mod cases;

use std::collections::VecDeque;

use geo::{BooleanOps, MultiPolygon, Rect, coord};
use proptest::prelude::*;

use super::{CutRule, Layout, Outline, Point};

fn ring(points: &[(f64, f64)]) -> Vec<Point> {
    points.iter().map(|&(x, y)| Point::new(x, y)).collect()
}

fn rectangle(x: f64, y: f64, width: f64, height: f64) -> Vec<Point> {
    ring(&[
        (x, y),
        (x + width, y),
        (x + width, y + height),
        (x, y + height),
    ])
}

fn close(actual: f64, expected: f64, tolerance: f64) -> bool {
    (actual - expected).abs() <= tolerance * expected.abs().max(1.0)
}

fn rule(n_bays: u32, staggered: bool) -> CutRule {
    CutRule {
        n_bays,
        staggered,
        depth_m: 1.5,
        passage_m: 0.4,
    }
}

/// Rooms on a grid of 1 m: each rectangle overlaps the one before it; then columns of 0.5 m. `None` where the rooms
/// touch in a point, which is no floor.
fn room(walk: &[(u8, u8, u8, u8)], columns: &[(u8, u8)]) -> Option<Outline> {
    let mut floor = MultiPolygon::new(Vec::new());
    let (mut x, mut y) = (0.0, 0.0);
    for &(dx, dy, width, height) in walk {
        let (w, h) = (f64::from(width), f64::from(height));
        let next = Rect::new(coord! {x: x, y: y}, coord! {x: x + w, y: y + h}).to_polygon();
        floor = floor.union(&next);
        // The next one begins within this one.
        x += f64::from(dx % width.max(1)) - f64::from(dy % 3) * 2.0;
        y += f64::from(dy % height.max(1));
    }
    for &(cx, cy) in columns {
        let at = coord! {x: f64::from(cx) + 0.25, y: f64::from(cy) + 0.25};
        let column = Rect::new(at, at + coord! {x: 0.5, y: 0.5}).to_polygon();
        if floor
            .0
            .iter()
            .any(|part| geo::Contains::contains(part, &column))
        {
            floor = floor.difference(&column);
        }
    }
    let [part] = floor.0.as_slice() else {
        return None;
    };
    let rings = super::outline::rings(part).map(|ring| {
        let points = ring.coords();
        // The engine's grid is fine, but it is a grid: the floor's own is quarters of a metre.
        points
            .map(|at| Point::new((at.x * 4.0).round() / 4.0, (at.y * 4.0).round() / 4.0))
            .collect()
    });
    Outline::new(&rings.collect::<Vec<_>>()).ok()
}

fn rooms() -> impl Strategy<Value = Outline> {
    let walk = prop::collection::vec((0..12_u8, 0..12_u8, 2..12_u8, 2..12_u8), 1..7);
    let columns = prop::collection::vec((0..14_u8, 0..14_u8), 0..6);
    (walk, columns).prop_filter_map("touches itself", |(walk, columns)| room(&walk, &columns))
}

/// Points of a raster that lie in a bay, by counting how many edges lie to the right: no code of the engine.
fn holds(rings: &[Vec<Point>], at: Point) -> bool {
    let crossings = rings.iter().flat_map(|ring| {
        let ends = ring.iter().cycle().skip(1);
        ring.iter().zip(ends).filter(|(a, b)| {
            let spans = (a.y > at.y) != (b.y > at.y);
            spans && at.x < a.x + (at.y - a.y) / (b.y - a.y) * (b.x - a.x)
        })
    });
    crossings.count() % 2 == 1
}

/// The bay of each point of a raster of 0.25 m over the floor, row by row.
fn raster(layout: &Layout) -> Vec<Vec<Option<usize>>> {
    let points = layout
        .bays
        .iter()
        .flat_map(|bay| bay.rings.iter().flatten());
    let (mut low, mut high) = ((f64::MAX, f64::MAX), (f64::MIN, f64::MIN));
    for at in points {
        low = (low.0.min(at.x), low.1.min(at.y));
        high = (high.0.max(at.x), high.1.max(at.y));
    }
    let steps = |from: f64, to: f64| {
        std::iter::successors(Some(from + 0.121_37), |at| Some(at + 0.25))
            .take_while(move |at| *at < to)
    };
    steps(low.1, high.1)
        .map(|y| {
            steps(low.0, high.0)
                .map(|x| {
                    let at = Point::new(x, y);
                    let mut inside = layout.bays.iter().filter(|bay| holds(&bay.rings, at));
                    let bay = inside.next().map(|bay| bay.number);
                    assert!(inside.next().is_none(), "two bays overlap at {at:?}");
                    bay
                })
                .collect()
        })
        .collect()
}

/// Whether all points of the raster whose bay is at least `from` hang together.
fn connected(raster: &[Vec<Option<usize>>], from: usize) -> bool {
    let open = |row: usize, column: usize| {
        let bay = raster.get(row).and_then(|row| row.get(column));
        bay.copied().flatten().is_some_and(|bay| bay >= from)
    };
    let all: Vec<(usize, usize)> = raster
        .iter()
        .enumerate()
        .flat_map(|(row, columns)| (0..columns.len()).map(move |column| (row, column)))
        .filter(|&(row, column)| open(row, column))
        .collect();
    let Some(&first) = all.first() else {
        return true;
    };
    let mut seen = vec![vec![false; raster[0].len()]; raster.len()];
    seen[first.0][first.1] = true;
    let (mut queue, mut reached) = (VecDeque::from([first]), 1);
    while let Some((row, column)) = queue.pop_front() {
        let around = [
            (row.wrapping_sub(1), column),
            (row + 1, column),
            (row, column.wrapping_sub(1)),
            (row, column + 1),
        ];
        for (row, column) in around {
            if open(row, column) && !seen[row][column] {
                seen[row][column] = true;
                reached += 1;
                queue.push_back((row, column));
            }
        }
    }
    reached == all.len()
}

/// The crew gets out after every bay: what is left hangs together and holds the exit.
fn never_painted_in(layout: &Layout, exit: Point) -> Result<(), TestCaseError> {
    let raster = raster(layout);
    for bay in &layout.bays {
        prop_assert!(
            connected(&raster, bay.number),
            "cut off before bay {} of {}",
            bay.number,
            layout.bays.len()
        );
    }
    let last = layout
        .bays
        .last()
        .ok_or_else(|| TestCaseError::fail("no bay"))?;
    let edges = last.rings.iter().flat_map(|ring| {
        let ends = ring.iter().cycle().skip(1);
        ring.iter().zip(ends)
    });
    let nearest = edges
        .map(|(a, b)| {
            let line = geo::Line::new(coord! {x: a.x, y: a.y}, coord! {x: b.x, y: b.y});
            super::outline::distance_to(line, coord! {x: exit.x, y: exit.y})
        })
        .fold(f64::MAX, f64::min);
    prop_assert!(nearest < 1e-4, "the last bay is {nearest} m from the exit");
    prop_assert_eq!(last.towards, exit);
    Ok(())
}

/// A shape that is turned by `angle` and moved.
fn moved(outline: &Outline, angle: f64, by: Point) -> Outline {
    let (sin, cos) = angle.sin_cos();
    let rings = super::outline::rings(&outline.polygon).map(|ring| {
        ring.coords()
            .map(|at| {
                let (x, y) = (at.x + outline.origin.x, at.y + outline.origin.y);
                Point::new(x * cos - y * sin + by.x, x * sin + y * cos + by.y)
            })
            .collect()
    });
    Outline::new(&rings.collect::<Vec<_>>()).expect("still a floor")
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 96,
        failure_persistence: None,
        rng_seed: proptest::test_runner::RngSeed::Fixed(20_261),
        ..ProptestConfig::default()
    })]

    #[test]
    fn bays_cover_the_floor_once(outline in rooms(), n in 1..40_u32, staggered: bool) {
        let layout = outline.lay_out(&rule(n, staggered), outline.assumed_exit());
        let whole: f64 = layout.bays.iter().map(|bay| bay.area_m2).sum();
        prop_assert!(close(whole, outline.area_m2(), 1e-6), "{whole} of {}", outline.area_m2());
        // No point of the floor lies in two bays, see `raster`; and as many lie in one as the area has room for.
        let points = raster(&layout).iter().flatten().flatten().count();
        let points = f64::from(u32::try_from(points).expect("a small floor"));
        prop_assert!(close(points / 16.0, outline.area_m2(), 0.15));
    }

    #[test]
    fn bays_of_a_room_without_corners_in_it_are_equal(
        width in 3.0..40.0_f64, height in 3.0..40.0_f64, angle in 0.0..6.3_f64, n in 1..60_u32, staggered: bool,
    ) {
        let room = Outline::new(&[rectangle(0.0, 0.0, width, height)]).expect("a floor");
        let room = moved(&room, angle, Point::new(1_000.0, -500.0));
        let layout = room.lay_out(&rule(n, staggered), room.assumed_exit());
        prop_assert!(layout.bays.len() >= usize::try_from(n).expect("small"));
        let largest = layout.bays.iter().map(|bay| bay.area_m2).fold(0.0, f64::max);
        prop_assert!(largest <= room.area_m2() / f64::from(n) * (1.0 + 1e-6));
        // Whole bays, and at the ends of staggered rows halves and quarters of them.
        for bay in &layout.bays {
            let share = [1.0, 2.0, 4.0].iter().any(|of| close(bay.area_m2 * of, largest, 1e-6));
            prop_assert!(share, "{} of {largest}", bay.area_m2);
            prop_assert!(staggered || close(bay.area_m2, largest, 1e-6));
        }
    }

    #[test]
    fn strips_are_equal_up_to_what_walls_moved(outline in rooms(), n in 1..9_u32) {
        let wide = CutRule { depth_m: 0.0, ..rule(n, false) };
        let layout = outline.lay_out(&wide, outline.assumed_exit());
        let share = outline.area_m2() / f64::from(n);
        for strip in 1..=usize::try_from(n).expect("small") {
            let bays = layout.bays.iter().filter(|bay| bay.strip == strip);
            let area: f64 = bays.map(|bay| bay.area_m2).sum();
            prop_assert!((area - share).abs() < 2.0 * wide.passage_m * outline.across_m(), "{strip}: {area}");
        }
    }

    #[test]
    fn the_crew_is_never_painted_in(outline in rooms(), n in 1..40_u32, staggered: bool, door in 0..40_usize) {
        // The raster is too coarse for bays of less than 4 m².
        let n = (1..=n).rfind(|n| f64::from(*n) * 4.0 <= outline.area_m2()).unwrap_or(1);
        let edges: Vec<_> = outline.polygon.exterior().lines().collect();
        let middle = geo::Line::delta(&edges[door % edges.len()]) / 2.0 + edges[door % edges.len()].start;
        let exit = Point::new(middle.x + outline.origin.x, middle.y + outline.origin.y);
        let layout = outline.lay_out(&rule(n, staggered), exit);
        let last = layout.bays.last().expect("a bay");
        prop_assert!(last.towards.distance(exit) < 1e-9);
        never_painted_in(&layout, last.towards)?;
    }

    #[test]
    fn what_is_inside_shrinks_as_the_gap_grows(outline in rooms(), gap in 0.0..0.6_f64, more in 0.01..0.5_f64) {
        let (wide, narrow) = (outline.inset(gap), outline.inset(gap + more));
        prop_assert!(narrow.area_m2() < wide.area_m2() || wide.n_pieces() == 0);
        prop_assert!(wide.area_m2() <= outline.area_m2() * (1.0 + 1e-9));
        // What a machine covers lies inside its clearance, and leaves the corners.
        let reached = outline.reached(0.43, gap);
        // Six chords in a quarter circle stay 0.9 % of the square of its radius short of it, at each corner.
        let rings = std::iter::once(outline.polygon.exterior()).chain(outline.polygon.interiors());
        let corners: f64 = rings.map(|ring| ring.lines().map(|_| 1.0).sum::<f64>()).sum();
        let chords = corners * 0.009 * (0.215 + gap).powi(2);
        prop_assert!(reached.area_m2() <= wide.area_m2() * (1.0 + 1e-6) + chords);
    }

    #[test]
    fn shares_of_bays_add_up_to_the_part(outline in rooms(), n in 1..9_u32, gap in 0.01..0.4_f64) {
        let inside = outline.inset(gap);
        let layout = outline.lay_out(&rule(n, n % 2 == 0), outline.assumed_exit());
        let shares = layout.share(&inside);
        for (share, bay) in shares.iter().zip(&layout.bays) {
            prop_assert!(*share >= -1e-9 && *share <= bay.area_m2 + 1e-6);
        }
        prop_assert!(close(shares.iter().sum(), inside.area_m2(), 1e-6));
    }

    #[test]
    fn turning_and_moving_a_floor_changes_no_measure(
        outline in rooms(), angle in 0.0..6.3_f64, x in -5e6..5e6_f64, y in -5e6..5e6_f64,
    ) {
        let other = moved(&outline, angle, Point::new(x, y));
        // A double of millions of metres has digits down to a nanometre.
        prop_assert!(close(other.area_m2(), outline.area_m2(), 1e-7));
        prop_assert!(close(other.perimeter_m(), outline.perimeter_m(), 1e-7));
        prop_assert!(close(other.inset(0.1).area_m2(), outline.inset(0.1).area_m2(), 1e-6));
    }

    #[test]
    fn directions_at_a_right_angle_have_no_product(outline in rooms(), angle in 0.0..6.3_f64) {
        let axis = moved(&outline, angle, Point::new(0.0, 0.0)).axis();
        prop_assert!(axis.dot(axis.turned()).abs().total_cmp(&0.0).is_eq());
        prop_assert!(close(axis.dot(axis), 1.0, 1e-12));
    }

    #[test]
    fn rings_of_any_points_are_taken_or_refused_and_never_break(
        points in prop::collection::vec((-3..4_i8, -3..4_i8), 0..9),
        hole in prop::collection::vec((-3..4_i8, -3..4_i8), 0..5),
    ) {
        let of = |points: &[(i8, i8)]| {
            points.iter().map(|&(x, y)| Point::new(f64::from(x), f64::from(y))).collect::<Vec<_>>()
        };
        match Outline::new(&[of(&points), of(&hole)]) {
            Ok(outline) => prop_assert!(outline.area_m2() > 0.0),
            Err(faults) => prop_assert!(!faults.is_empty()),
        }
    }
}

//! Shapes with known answers, and what is no shape of a floor.

use super::{close, never_painted_in, rectangle, ring, rule};
use crate::geometry::{Outline, OutlineFault, Place, Point};

fn faults(rings: &[Vec<Point>]) -> Vec<OutlineFault> {
    Outline::new(rings).expect_err("not a floor")
}

#[test]
fn every_fault_is_told_with_its_ring_and_point() {
    let place = |ring, vertex| Place { ring, vertex };
    let square = || rectangle(0.0, 0.0, 10.0, 10.0);
    assert_eq!(faults(&[]), [OutlineFault::Size]);
    let many = (0..1_001).map(|n| Point::new(f64::from(n), 0.0)).collect();
    assert_eq!(faults(&[many]), [OutlineFault::Size]);
    let far = ring(&[(0.0, 0.0), (1e8, 0.0), (f64::NAN, 1.0)]);
    let two = ring(&[(0.0, 0.0), (1.0, 0.0), (1.0, 0.0), (0.0, 0.0)]);
    assert_eq!(
        faults(&[far, two]),
        [
            OutlineFault::Coordinate { at: place(0, 1) },
            OutlineFault::Coordinate { at: place(0, 2) },
            OutlineFault::TooFewPoints { ring: 1 },
        ]
    );
    let bow = ring(&[(0.0, 0.0), (4.0, 4.0), (4.0, 0.0), (0.0, 4.0)]);
    let meets = |at, other| OutlineFault::Meets { at, other };
    assert_eq!(faults(&[bow]), [meets(place(0, 0), place(0, 2))]);
    // A spike runs out and back.
    let spike = ring(&[(0.0, 0.0), (4.0, 0.0), (8.0, 0.0), (4.0, 0.0), (4.0, 4.0)]);
    assert!(faults(&[spike]).contains(&meets(place(0, 1), place(0, 2))));
    // A corner that touches the far wall.
    let pinched = ring(&[(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (2.0, 0.0), (0.0, 4.0)]);
    assert_eq!(
        faults(&[pinched]),
        [
            meets(place(0, 0), place(0, 2)),
            meets(place(0, 0), place(0, 3)),
        ]
    );
    let flush = rectangle(0.0, 4.0, 2.0, 2.0);
    assert!(!faults(&[square(), flush]).is_empty());
    let outside = rectangle(20.0, 0.0, 2.0, 2.0);
    assert_eq!(
        faults(&[square(), outside]),
        [OutlineFault::HoleOutside { ring: 1 }]
    );
    let (column, core) = (rectangle(2.0, 2.0, 4.0, 4.0), rectangle(3.0, 3.0, 1.0, 1.0));
    assert_eq!(
        faults(&[square(), column, core]),
        [OutlineFault::HoleInHole { ring: 2, other: 1 }]
    );
}

#[test]
fn a_ring_may_be_closed_or_open_and_run_either_way() {
    let mut closed = rectangle(0.0, 0.0, 30.0, 8.0);
    closed.push(closed[0]);
    let mut clockwise = rectangle(0.0, 0.0, 30.0, 8.0);
    clockwise.reverse();
    for ring in [rectangle(0.0, 0.0, 30.0, 8.0), closed, clockwise] {
        let outline = Outline::new(&[ring, rectangle(4.0, 2.0, 1.0, 1.0)]).expect("a floor");
        assert!(close(outline.area_m2(), 239.0, 1e-12));
        assert!(close(outline.perimeter_m(), 80.0, 1e-12));
        assert!(close(outline.outer_m(), 76.0, 1e-12));
    }
}

#[test]
fn a_machine_leaves_a_strip_along_the_walls_and_the_corners() {
    let outline = Outline::new(&[rectangle(0.0, 0.0, 10.0, 10.0)]).expect("a floor");
    // 9.9 m by 9.9 m, less what a circle of 0.215 m radius leaves of four corners.
    let corners = (4.0 - std::f64::consts::PI) * 0.215 * 0.215;
    let reached = outline.reached(0.43, 0.05).area_m2();
    assert!(close(reached, 9.9 * 9.9 - corners, 1e-4), "{reached}");
    let duct = Outline::new(&[rectangle(0.0, 0.0, 10.0, 0.5)]).expect("a floor");
    assert_eq!(duct.reached(0.43, 0.05).n_pieces(), 0);
}

#[test]
fn a_corridor_is_left_by_its_door() {
    let corridor = Outline::new(&[rectangle(100.0, 50.0, 30.0, 8.0)]).expect("a floor");
    let door = Point::new(130.0, 54.0);
    let layout = corridor.lay_out(&rule(4, false), door);
    assert_eq!(layout.axis, Point::new(1.0, 0.0));
    let leaves: Vec<Point> = layout.bays.iter().map(|bay| bay.towards).collect();
    let expected = [107.5, 115.0, 122.5, 130.0].map(|x| Point::new(x, 54.0));
    for (leaves, expected) in leaves.iter().zip(expected) {
        assert!(leaves.distance(expected) < 1e-6, "{leaves:?}");
    }
    // The seams of the next coat lie half a bay further on.
    let next = corridor.lay_out(&rule(4, true), door);
    let areas: Vec<f64> = next.bays.iter().map(|bay| bay.area_m2).collect();
    for (area, expected) in areas.iter().zip([30.0, 60.0, 60.0, 60.0, 30.0]) {
        assert!(close(*area, expected, 1e-6));
    }
    let one = corridor.lay_out(&rule(1, true), door);
    assert_eq!(one.bays.len(), 1);
}

#[test]
fn both_arms_of_a_u_are_left_before_its_foot() {
    let u = ring(&[
        (0.0, 0.0),
        (27.0, 0.0),
        (27.0, 18.0),
        (18.0, 18.0),
        (18.0, 6.0),
        (9.0, 6.0),
        (9.0, 18.0),
        (0.0, 18.0),
    ]);
    let outline = Outline::new(&[u]).expect("a floor");
    let exit = Point::new(13.5, 0.0);
    let layout = outline.lay_out(&rule(6, false), exit);
    never_painted_in(&layout, layout.bays.last().expect("a bay").towards).expect("a way out");
    assert_eq!(layout.bays.len(), 6);
    // The same bays the other way round cut the crew off: the test sees it.
    let mut reversed = layout.clone();
    for bay in &mut reversed.bays {
        bay.number = 7 - bay.number;
    }
    assert!(never_painted_in(&reversed, exit).is_err());
    // One arm is finished before the other is begun.
    let strips: Vec<usize> = layout.bays.iter().map(|bay| bay.strip).collect();
    let arms = [[1, 2], [6, 5]].map(|arm| strips.windows(2).position(|pair| pair == arm));
    assert!(arms.iter().all(Option::is_some), "{strips:?}");
}

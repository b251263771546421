//! Whether rings enclose a floor: none crosses or touches itself or another, holes lie inside and apart.

use geo::{Contains, Coord, Intersects, Line, LineString, Polygon};

use super::{
    Point,
    outline::{MAX_COORDINATE_M, MAX_RINGS, MAX_VERTICES, OutlineFault, Place},
};

/// More faults than this help nobody.
const MAX_FAULTS: usize = 20;

/// A point of a ring and its place in the input.
#[derive(Debug, Clone, Copy)]
pub(super) struct Vertex {
    pub(super) at: Point,
    place: Place,
}

/// The rings without points that repeat the one before them or close the ring.
pub(super) fn open_rings(rings: &[Vec<Point>]) -> Result<Vec<Vec<Vertex>>, Vec<OutlineFault>> {
    let n_vertices: usize = rings.iter().map(Vec::len).sum();
    if rings.is_empty() || rings.len() > MAX_RINGS || n_vertices > MAX_VERTICES {
        return Err(vec![OutlineFault::Size]);
    }
    let mut faults = Vec::new();
    let open = rings.iter().enumerate().map(|(ring, points)| {
        let mut open: Vec<Vertex> = Vec::with_capacity(points.len());
        for (vertex, &at) in points.iter().enumerate() {
            let place = Place { ring, vertex };
            let legal = |value: f64| value.abs() <= MAX_COORDINATE_M;
            if !legal(at.x) || !legal(at.y) {
                faults.push(OutlineFault::Coordinate { at: place });
            }
            if open.last().is_none_or(|last| last.at != at) {
                open.push(Vertex { at, place });
            }
        }
        while open.len() > 1
            && open.first().map(|first| first.at) == open.last().map(|last| last.at)
        {
            open.pop();
        }
        if open.len() < 3 {
            faults.push(OutlineFault::TooFewPoints { ring });
        }
        open
    });
    let open: Vec<Vec<Vertex>> = open.collect();
    if faults.is_empty() {
        return Ok(open);
    }
    faults.truncate(MAX_FAULTS);
    Err(faults)
}

/// An edge and its place.
#[derive(Debug, Clone, Copy)]
struct Edge {
    line: Line<f64>,
    place: Place,
    /// Its number within its ring, and how many there are.
    nth: usize,
    of: usize,
}

impl Edge {
    fn span(&self) -> (f64, f64) {
        let (a, b) = (self.line.start.x, self.line.end.x);
        (a.min(b), a.max(b))
    }

    /// Whether `next` begins where this edge ends, in the same ring.
    const fn leads_to(&self, next: &Self) -> bool {
        self.place.ring == next.place.ring && (self.nth + 1) % self.of == next.nth
    }

    /// Whether two edges have a point in common that they should not have. Exact: see the predicates of Shewchuk
    /// (1997), which the geometry library uses.
    fn meets(&self, other: &Self) -> bool {
        if self.leads_to(other) {
            return runs_back(self.line, other.line);
        }
        if other.leads_to(self) {
            return runs_back(other.line, self.line);
        }
        self.line.intersects(&other.line)
    }
}

/// Whether the second of two edges runs back along the first.
fn runs_back(first: Line<f64>, second: Line<f64>) -> bool {
    let ahead = |line: Line<f64>, point: Coord<f64>| line.intersects(&point);
    ahead(first, second.end) || ahead(second, first.start)
}

/// Holds the rings to what a floor can be.
pub(super) fn check(rings: &[Vec<Vertex>]) -> Result<(), Vec<OutlineFault>> {
    let mut edges: Vec<Edge> = rings.iter().flat_map(|ring| edges(ring)).collect();
    edges.sort_by(|a, b| a.span().0.total_cmp(&b.span().0));
    let mut faults = Vec::new();
    'all: for (index, edge) in edges.iter().enumerate() {
        let end = edge.span().1;
        let later = edges.iter().skip(index.saturating_add(1));
        for other in later.take_while(|other| other.span().0 <= end) {
            if edge.meets(other) {
                let (at, other) = (edge.place.min(other.place), edge.place.max(other.place));
                faults.push(OutlineFault::Meets { at, other });
                if faults.len() >= MAX_FAULTS {
                    break 'all;
                }
            }
        }
    }
    if faults.is_empty() {
        faults = misplaced(rings);
    }
    if faults.is_empty() {
        return Ok(());
    }
    faults.sort_by_key(|fault| match fault {
        OutlineFault::Meets { at, other } => (fault.place(), Some((*at, *other))),
        _ => (fault.place(), None),
    });
    Err(faults)
}

fn edges(ring: &[Vertex]) -> impl Iterator<Item = Edge> {
    let ends = ring.iter().cycle().skip(1);
    ring.iter().zip(ends).enumerate().map(|(nth, (a, b))| Edge {
        line: Line::new(coord(a.at), coord(b.at)),
        place: a.place,
        nth,
        of: ring.len(),
    })
}

const fn coord(point: Point) -> Coord<f64> {
    Coord {
        x: point.x,
        y: point.y,
    }
}

/// Holes that do not lie in the first ring, or lie in one another. No two rings touch, so one point tells.
fn misplaced(rings: &[Vec<Vertex>]) -> Vec<OutlineFault> {
    let areas: Vec<Polygon<f64>> = rings
        .iter()
        .map(|ring| {
            let coords: Vec<Coord<f64>> = ring.iter().map(|vertex| coord(vertex.at)).collect();
            Polygon::new(LineString::from(coords), Vec::new())
        })
        .collect();
    let mut faults = Vec::new();
    for (ring, hole) in rings.iter().enumerate().skip(1) {
        let Some(point) = hole.first().map(|vertex| coord(vertex.at)) else {
            continue;
        };
        if !areas.first().is_some_and(|outer| outer.contains(&point)) {
            faults.push(OutlineFault::HoleOutside { ring });
        }
        let mut others = areas.iter().enumerate().skip(1);
        let around = others.find(|(other, area)| *other != ring && area.contains(&point));
        if let Some((other, _area)) = around {
            faults.push(OutlineFault::HoleInHole { ring, other });
        }
        if faults.len() >= MAX_FAULTS {
            break;
        }
    }
    faults
}

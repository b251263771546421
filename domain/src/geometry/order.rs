//! In which order bays are treated so that the crew never walks on what it has just laid.

use geo::{Coord, Line, Polygon};

use super::{
    cut::SAME,
    outline::{distance_to, rings},
};

/// Longer than any way on a floor, in m.
const TOO_NARROW: f64 = 1e9;

/// A piece in its turn, and the point by which the crew leaves it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Turn {
    pub(super) piece: usize,
    pub(super) towards: Coord<f64>,
}

/// The order of treatment, from the far end to the exit.
///
/// The pieces make a graph, two of them joined where they share a stretch of a cut. The shortest ways from the exit
/// make a tree in it, and the pieces are taken from the leaves to the root, one branch after the other, the deepest
/// first. Whatever is left is a tree that still has the root: the crew always gets out over what is not yet treated.
pub(super) fn order(pieces: &[&Polygon<f64>], exit: Coord<f64>, passage_m: f64) -> Vec<Turn> {
    let gates = gates(pieces, passage_m);
    let Some(root) = nearest(pieces, exit) else {
        return Vec::new();
    };
    let tree = shortest_ways(pieces.len(), &gates, (root, exit));
    let mut turns = Vec::with_capacity(pieces.len());
    leave(&tree, root, &mut turns);
    turns
}

/// A stretch of a cut that two pieces share, by its middle.
#[derive(Debug, Clone, Copy)]
struct Gate {
    between: (usize, usize),
    at: Coord<f64>,
    /// What is added to every way through it, in m: nobody takes one that is too narrow while there is another.
    detour_m: f64,
}

/// A stretch of a piece's edge that may be a seam: cuts run along x or along y.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    /// Whether it runs along y.
    upright: bool,
    /// Where it lies, across its direction.
    place: f64,
    from: f64,
    to: f64,
}

impl Stretch {
    /// What two stretches share: its length and its middle.
    fn shared(self, other: Self) -> Option<(f64, Coord<f64>)> {
        let one_line = self.upright == other.upright && (self.place - other.place).abs() < SAME;
        let (from, to) = (self.from.max(other.from), self.to.min(other.to));
        let middle = f64::midpoint(from, to);
        let (x, y) = if self.upright {
            (self.place, middle)
        } else {
            (middle, self.place)
        };
        (one_line && to - from > SAME).then_some((to - from, Coord { x, y }))
    }
}

/// Where pieces meet: the widest stretch that each pair shares. Two pieces share no wall, only seams.
fn gates(pieces: &[&Polygon<f64>], passage_m: f64) -> Vec<Gate> {
    let edges: Vec<Vec<Stretch>> = pieces.iter().map(|piece| stretches(piece)).collect();
    let mut gates = Vec::new();
    for (a, ours) in edges.iter().enumerate() {
        for (b, theirs) in edges.iter().enumerate().skip(a.saturating_add(1)) {
            let shared = ours
                .iter()
                .flat_map(|one| theirs.iter().filter_map(|other| one.shared(*other)));
            if let Some((width, at)) = shared.max_by(|one, other| one.0.total_cmp(&other.0)) {
                gates.push(Gate {
                    between: (a, b),
                    at,
                    detour_m: if width < passage_m { TOO_NARROW } else { 0.0 },
                });
            }
        }
    }
    gates
}

/// The stretches of a piece's edge that run along x or y.
fn stretches(polygon: &Polygon<f64>) -> Vec<Stretch> {
    let lines = rings(polygon).flat_map(geo::LineString::lines);
    let stretches = lines.filter_map(|line: Line<f64>| {
        let (a, b) = (line.start, line.end);
        if (a.x - b.x).abs() < SAME {
            let (from, to) = (a.y.min(b.y), a.y.max(b.y));
            Some((true, a.x, from, to))
        } else if (a.y - b.y).abs() < SAME {
            let (from, to) = (a.x.min(b.x), a.x.max(b.x));
            Some((false, a.y, from, to))
        } else {
            None
        }
    });
    let stretch = |(upright, place, from, to)| Stretch {
        upright,
        place,
        from,
        to,
    };
    stretches.map(stretch).collect()
}

/// The piece that the exit opens into.
fn nearest(pieces: &[&Polygon<f64>], exit: Coord<f64>) -> Option<usize> {
    let distance = |piece: &&Polygon<f64>| {
        rings(piece)
            .flat_map(geo::LineString::lines)
            .map(|line| distance_to(line, exit))
            .fold(f64::INFINITY, f64::min)
    };
    let all = pieces.iter().map(distance).enumerate();
    all.min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(index, _)| index)
}

/// A piece in the tree of shortest ways.
#[derive(Debug, Clone)]
struct Node {
    /// By which point the crew leaves it.
    towards: Coord<f64>,
    children: Vec<usize>,
    /// How far the farthest piece of its branch is from the exit.
    depth: f64,
}

/// Dijkstra's search over the pieces from the exit: each is entered by the point that is nearest by the way so far.
fn shortest_ways(
    n_pieces: usize,
    gates: &[Gate],
    (root, exit): (usize, Coord<f64>),
) -> Vec<Option<Node>> {
    let mut found: Vec<Option<Node>> = vec![None; n_pieces];
    let mut open: Vec<(f64, usize, Coord<f64>, Option<usize>)> = vec![(0.0, root, exit, None)];
    let mut settled = Vec::with_capacity(n_pieces);
    while let Some(next) = least(&open) {
        let (distance, piece, towards, parent) = open.swap_remove(next);
        if found.get(piece).is_none_or(Option::is_some) {
            continue;
        }
        if let Some(node) = found.get_mut(piece) {
            *node = Some(Node {
                towards,
                children: Vec::new(),
                depth: distance,
            });
        }
        settled.push((piece, parent));
        for gate in gates {
            let other = match gate.between {
                (a, b) if a == piece => b,
                (a, b) if b == piece => a,
                _ => continue,
            };
            let way = (gate.at.x - towards.x).hypot(gate.at.y - towards.y) + gate.detour_m;
            open.push((distance + way, other, gate.at, Some(piece)));
        }
    }
    // From the farthest to the nearest: each tells the one before it how deep its branch is.
    for (piece, parent) in settled.into_iter().rev() {
        let depth = found
            .get(piece)
            .and_then(Option::as_ref)
            .map(|node| node.depth);
        let parent = parent.and_then(|parent| found.get_mut(parent)?.as_mut());
        if let (Some(depth), Some(parent)) = (depth, parent) {
            parent.children.push(piece);
            parent.depth = parent.depth.max(depth);
        }
    }
    found
}

/// The entry that is nearest to the exit; of two, the one with the lower number.
fn least(open: &[(f64, usize, Coord<f64>, Option<usize>)]) -> Option<usize> {
    let entries = open.iter().enumerate();
    let least = entries.min_by(|(_, a), (_, b)| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    least.map(|(index, _)| index)
}

/// Takes a branch from its leaves to its root, the deepest of its own branches first.
fn leave(tree: &[Option<Node>], root: usize, turns: &mut Vec<Turn>) {
    // Nodes whose branches are done are taken when they come up again.
    let mut stack = vec![(root, false)];
    while let Some((piece, done)) = stack.pop() {
        let Some(node) = tree.get(piece).and_then(Option::as_ref) else {
            continue;
        };
        if done || node.children.is_empty() {
            turns.push(Turn {
                piece,
                towards: node.towards,
            });
            continue;
        }
        stack.push((piece, true));
        let depth = |child: &usize| {
            let child = tree.get(*child).and_then(Option::as_ref);
            child.map_or(0.0, |node| node.depth)
        };
        let mut children = node.children.clone();
        children.sort_by(|a, b| depth(a).total_cmp(&depth(b)).then(b.cmp(a)));
        stack.extend(children.into_iter().map(|child| (child, false)));
    }
}

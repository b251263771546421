//! In which order bays are treated so that the crew never walks on what it has just laid.

use geo::{Coord, Line, Polygon};

use super::outline::{distance_to, rings};

/// How close to a cut an edge lies that was made by it, in m: the grid of the clipping engine is far finer.
const ON_CUT: f64 = 1e-5;

/// A piece of floor, and where along the axis its strip begins and ends.
#[derive(Debug, Clone, Copy)]
pub(super) struct Piece<'a> {
    pub(super) strip: usize,
    pub(super) ends: (f64, f64),
    pub(super) polygon: &'a Polygon<f64>,
}

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
pub(super) fn order(pieces: &[Piece<'_>], exit: Coord<f64>) -> Vec<Turn> {
    let gates = gates(pieces);
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
}

/// Where pieces of neighbouring strips meet: the widest stretch that each pair shares.
fn gates(pieces: &[Piece<'_>]) -> Vec<Gate> {
    let mut gates = Vec::new();
    for (a, before) in pieces.iter().enumerate() {
        let after = pieces.iter().enumerate();
        for (b, after) in after.filter(|(_, after)| after.strip == before.strip.saturating_add(1)) {
            let x = before.ends.1;
            let (ours, theirs) = (on_cut(before.polygon, x), on_cut(after.polygon, x));
            let shared = ours.iter().flat_map(|&(low, high)| {
                theirs
                    .iter()
                    .map(move |&(from, to)| (low.max(from), high.min(to)))
            });
            let widest = shared
                .filter(|(low, high)| high - low > ON_CUT)
                .max_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0)));
            if let Some((low, high)) = widest {
                gates.push(Gate {
                    between: (a, b),
                    at: Coord {
                        x,
                        y: f64::midpoint(low, high),
                    },
                });
            }
        }
    }
    gates
}

/// The stretches of a piece's edge that lie on a cut.
fn on_cut(polygon: &Polygon<f64>, x: f64) -> Vec<(f64, f64)> {
    let on =
        |line: &Line<f64>| (line.start.x - x).abs() < ON_CUT && (line.end.x - x).abs() < ON_CUT;
    let lines = rings(polygon).flat_map(geo::LineString::lines);
    lines
        .filter(on)
        .map(|line| (line.start.y.min(line.end.y), line.start.y.max(line.end.y)))
        .collect()
}

/// The piece that the exit opens into.
fn nearest(pieces: &[Piece<'_>], exit: Coord<f64>) -> Option<usize> {
    let distance = |piece: &Piece<'_>| {
        rings(piece.polygon)
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
            let way = (gate.at.x - towards.x).hypot(gate.at.y - towards.y);
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

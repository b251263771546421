//! The order in which the parts of a condition are asked.

use super::{Node, collect};

/// The same condition, in each list of parts first those that a candidate alone decides, the plain ones of them foremost.
pub(super) fn candidate_first(node: &Node) -> Node {
    let sorted = |parts: &[Node]| {
        let mut parts: Vec<Node> = parts.iter().map(candidate_first).collect();
        parts.sort_by_cached_key(|part| {
            let mut facts = Vec::new();
            collect(part, &mut facts);
            let of_floor = !facts.iter().all(|fact| fact.is_of_candidate());
            (of_floor, facts.len())
        });
        parts
    };
    match node {
        Node::All(parts) => Node::All(sorted(parts)),
        Node::Any(parts) => Node::Any(sorted(parts)),
        Node::Not(part) => Node::Not(Box::new(candidate_first(part))),
        _ => node.clone(),
    }
}

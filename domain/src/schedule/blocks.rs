//! Steps that are placed together, and the order that links leave.

use std::collections::BTreeSet;

use super::check::{Fault, Place, Wrong};
use super::network::Arc;

/// Items in an order in which each comes before those after it, the lowest index first; those in a circle if there is one.
pub(super) fn sorted<I: Iterator<Item = usize>>(
    n: usize,
    after: impl Fn(usize) -> I,
) -> Result<Vec<usize>, Vec<usize>> {
    let mut waits = vec![0_usize; n];
    for item in 0..n {
        after(item).for_each(|next| waits[next] += 1);
    }
    let mut ready: BTreeSet<usize> = (0..n).filter(|i| waits[*i] == 0).collect();
    let mut order = Vec::with_capacity(n);
    while let Some(item) = ready.pop_first() {
        order.push(item);
        for next in after(item) {
            waits[next] -= 1;
            if waits[next] == 0 {
                ready.insert(next);
            }
        }
    }
    if order.len() == n {
        return Ok(order);
    }
    Err((0..n).filter(|i| waits[*i] > 0).collect())
}

/// Steps joined by longest waits that must be met in one go.
pub(super) fn chains(
    order: &[usize],
    before: &[Vec<Arc>],
    after: &[Vec<Arc>],
    chained: impl Fn(usize, &Arc) -> bool,
) -> Vec<Vec<usize>> {
    let mut chains = Vec::new();
    for head in order {
        if before[*head].iter().any(|arc| chained(*head, arc)) {
            continue;
        }
        let mut chain = vec![*head];
        let mut last = *head;
        while let Some(next) = after[last].iter().find(|arc| chained(arc.step, arc)) {
            last = next.step;
            chain.push(last);
        }
        chains.push(chain);
    }
    chains
}

pub(super) type Blocks = (
    Vec<Vec<usize>>,
    Vec<usize>,
    Vec<Vec<usize>>,
    Vec<Vec<usize>>,
);

/// Blocks in an order that respects all links.
pub(super) fn block_order(chains: &[Vec<usize>], after: &[Vec<Arc>]) -> Result<Blocks, Vec<Fault>> {
    let index = |blocks: &[Vec<usize>]| {
        let mut block_of = vec![0; after.len()];
        for (at, block) in blocks.iter().enumerate() {
            for step in block {
                block_of[*step] = at;
            }
        }
        block_of
    };
    let next = |blocks: &[Vec<usize>], block_of: &[usize]| -> Vec<Vec<usize>> {
        let of = |(at, block): (usize, &Vec<usize>)| {
            let arcs = block.iter().flat_map(|step| &after[*step]);
            let mut next: Vec<usize> = arcs.map(|arc| block_of[arc.step]).collect();
            next.retain(|other| *other != at);
            next.sort_unstable();
            next.dedup();
            next
        };
        blocks.iter().enumerate().map(of).collect()
    };
    let block_of = index(chains);
    let block_after = next(chains, &block_of);
    let order = sorted(chains.len(), |b| block_after[b].iter().copied());
    let order = order.map_err(|stuck| {
        let steps = stuck.into_iter().flat_map(|b| chains[b].iter().copied());
        let fault = |step| Fault {
            place: Place::Step(step),
            wrong: Wrong::Interlocked,
        };
        steps.map(fault).collect::<Vec<_>>()
    })?;
    let blocks: Vec<Vec<usize>> = order.into_iter().map(|b| chains[b].clone()).collect();
    let block_of = index(&blocks);
    let block_after = next(&blocks, &block_of);
    let mut block_before = vec![Vec::new(); blocks.len()];
    for (block, next) in block_after.iter().enumerate() {
        for other in next {
            block_before[*other].push(block);
        }
    }
    Ok((blocks, block_of, block_after, block_before))
}

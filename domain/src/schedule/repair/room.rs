//! Who is in whose way.

use std::collections::BTreeSet;

use super::mend::Mender;
use crate::schedule::network::Network;

impl Mender<'_, '_> {
    /// Takes out what stays in the way of a block: what waits for it, what it waits for, or somebody with the same resource.
    pub(super) fn make_room(&mut self, block: usize, moved: &mut BTreeSet<usize>) {
        let net = self.net;
        let mut is_free = vec![false; net.blocks.len()];
        self.free.iter().for_each(|block| is_free[*block] = true);
        for side in [&net.block_after, &net.block_before] {
            let (mut left, mut seen) = (vec![block], BTreeSet::new());
            let mut found = Vec::new();
            while let Some(at) = left.pop() {
                for other in side[at].iter().filter(|other| is_free[**other]) {
                    if !moved.contains(other) {
                        found.push(*other);
                    } else if seen.insert(*other) {
                        left.push(*other);
                    }
                }
            }
            if !found.is_empty() {
                moved.extend(found);
                return;
            }
        }
        let shares = |other: &usize| !moved.contains(other) && shares(net, block, *other);
        let others: Vec<usize> = self.free.iter().copied().filter(shares).collect();
        for _ in 0..others.len().min(1 + moved.len() / 4) {
            moved.insert(others[self.rng.below(others.len())]);
        }
    }
}

/// Whether two blocks take units of one resource.
pub(super) fn shares(net: &Network<'_>, one: usize, other: usize) -> bool {
    let takes = |block: usize, resource: usize| {
        let mut steps = net.blocks[block].iter();
        steps.any(|step| net.demand(*step, resource) > 0)
    };
    let demands = net.blocks[one]
        .iter()
        .flat_map(|step| &net.workload.steps[*step].demands);
    let mut resources = demands.map(|demand| demand.resource);
    resources.any(|resource| takes(one, resource) && takes(other, resource))
}

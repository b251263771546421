//! What the search under calendars knows of a network beside its links.

use super::Time;
use super::network::Network;

/// What the search knows of the network beside its links.
pub(super) struct Shape {
    /// Longest work and waits behind each block.
    pub(super) tail: Vec<f64>,
    /// Blocks behind the longest wait of their bay, such as the return of furniture.
    pub(super) follow_up: Vec<bool>,
    /// Per bay, the step before its longest wait.
    pub(super) key_step: Vec<Option<usize>>,
    /// Blocks of each bay in an order that respects their links.
    pub(super) bays: Vec<Vec<usize>>,
    pub(super) mean_duration: f64,
}

impl Shape {
    pub(super) fn new(net: &Network<'_>, tails: &[Time]) -> Self {
        let n_blocks = net.blocks.len();
        let tail = net
            .blocks
            .iter()
            .map(|block| (tails[block[0]] + net.duration[block[0]]) as f64);
        let mut bays = vec![Vec::new(); net.n_bays];
        for block in 0..n_blocks {
            bays[net.bay_of[block]].push(block);
        }
        let mut follow_up = vec![false; n_blocks];
        let mut key_step = vec![None; net.n_bays];
        for (bay, blocks) in bays.iter().enumerate() {
            let steps = blocks.iter().flat_map(|b| &net.blocks[*b]);
            let waits = steps.flat_map(|s| net.after[*s].iter().map(move |arc| (arc.min, *s)));
            let Some((wait, step)) = waits.max() else {
                key_step[bay] = blocks.last().and_then(|b| net.blocks[*b].last().copied());
                continue;
            };
            key_step[bay] = Some(step);
            let mut behind = vec![step];
            while let Some(step) = behind.pop().filter(|_| wait > 0) {
                for arc in &net.after[step] {
                    let block = net.block_of[arc.step];
                    let apart = block != net.block_of[step] && net.bay_of[block] == bay;
                    if apart && !follow_up[block] {
                        follow_up[block] = true;
                        behind.extend(&net.blocks[block]);
                    }
                }
            }
        }
        Self {
            tail: tail.collect(),
            follow_up,
            key_step,
            bays,
            mean_duration: net.duration.iter().sum::<Time>() as f64 / net.n() as f64,
        }
    }
}

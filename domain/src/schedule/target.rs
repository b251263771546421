//! Lists that aim at a reopening: blocks by their latest starts, counted back from a target through the windows.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use super::Time;
use super::network::Network;
use super::rng::Rng;

/// The latest start of each step so that all ends by `target`, resources left aside. It is negative where that cannot
/// be; it still says what is most pressing.
pub(super) fn latest_starts(net: &Network<'_>, target: Time) -> Vec<Time> {
    let mut start = vec![Time::MAX; net.n()];
    for block in net.blocks.iter().rev() {
        let mut high = vec![Time::MAX; block.len()];
        let mut left = block.len();
        let mut tries = 4 * block.len();
        while let Some(at) = left.checked_sub(1) {
            let step = block[at];
            let duration = net.duration[step];
            let mut by = target;
            for arc in net.after[step]
                .iter()
                .filter(|arc| start[arc.step] != Time::MAX)
            {
                by = by.min(start[arc.step] - arc.min);
            }
            by = by.min(high[at].saturating_add(duration));
            let found = match net.open(step) {
                Some(open) => open.latest(by, duration).unwrap_or((by - duration).min(-1)),
                None => by - duration,
            };
            start[step] = found;
            let behind = block.get(at + 1).copied();
            let kept = behind.and_then(|next| {
                let arc = net.after[step].iter().find(|arc| arc.step == next)?;
                let short = start[next] - (found + duration + arc.max?);
                (short > 0 && found >= 0 && tries > 0).then_some(start[next] - short)
            });
            match kept {
                // What follows would wait too long: it goes earlier itself.
                Some(earlier) => {
                    high[at + 1] = earlier;
                    start[step] = Time::MAX;
                    tries -= 1;
                    left += 1;
                }
                None => left = at,
            }
        }
    }
    start
}

/// Blocks in the order of a key, the least first, as far as their links allow.
pub(super) fn by_key(net: &Network<'_>, key: &[f64]) -> Vec<usize> {
    // Keys are finite; ordered bits make them sortable.
    let ordered = |x: f64| {
        let bits = x.to_bits() as i64;
        bits ^ (((bits >> 63) as u64) >> 1) as i64
    };
    let mut waits: Vec<usize> = net.block_before.iter().map(Vec::len).collect();
    let mut ready: BinaryHeap<Reverse<(i64, usize)>> = BinaryHeap::new();
    for (block, _) in waits.iter().enumerate().filter(|(_, waits)| **waits == 0) {
        ready.push(Reverse((ordered(key[block]), block)));
    }
    let mut list = Vec::with_capacity(key.len());
    while let Some(Reverse((_, block))) = ready.pop() {
        list.push(block);
        for next in &net.block_after[block] {
            waits[*next] -= 1;
            if waits[*next] == 0 {
                ready.push(Reverse((ordered(key[*next]), *next)));
            }
        }
    }
    list
}

/// The start of each block.
pub(super) fn block_starts(net: &Network<'_>, start: &[Time]) -> Vec<f64> {
    net.blocks
        .iter()
        .map(|block| start[block[0]] as f64)
        .collect()
}

/// A list for a target, shaken a little for each bay and each block.
pub(super) fn shaken(
    net: &Network<'_>,
    latest: &[f64],
    amplitude: f64,
    rng: &mut Rng,
) -> Vec<usize> {
    let bays: Vec<f64> = (0..net.n_bays).map(|_| rng.unit() * amplitude).collect();
    let key: Vec<f64> = latest
        .iter()
        .zip(&net.bay_of)
        .map(|(latest, bay)| latest + bays[*bay] + rng.unit() * amplitude)
        .collect();
    by_key(net, &key)
}

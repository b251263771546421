//! The proof that no schedule moves fewer tasks: sets of blocks that move are looked at in the order of how many tasks they hold.
//!
//! Where blocks that stay clash, one of them has to move. Where what moves finds no place, something that it meets has to move
//! too. A set that is looked at when the best schedule moves no more proves it, as long as every miss on the way was proven.

use std::cmp::Reverse;
use std::collections::{BTreeSet, BinaryHeap};

use super::mend::{Mender, Put};
use super::room::shares;
use crate::schedule::Time;

/// Of so many blocks all orders are tried.
const ALL_ORDERS: usize = 5;
/// The most sets that wait to be looked at.
const MOST_SETS: usize = 20_000;
/// Share of the budget after which it is left unproven, in per cent.
const SHARE: u64 = 70;

/// What came of putting a set in.
enum Insertion {
    Done,
    Impossible,
    NotFound,
}

impl Mender<'_, '_> {
    /// Looks for a schedule that moves fewer tasks, and whether there is one.
    pub(super) fn prove(&mut self) {
        let is_exact = self.is_exact();
        let mut complete = true;
        let mut root: BTreeSet<usize> = BTreeSet::new();
        self.begin();
        for block in self.free.clone() {
            if self.weight(block) == 0 || !self.stay(block) {
                root.insert(block);
            } else {
                self.decoder.remove(block);
            }
        }
        let mut seen = BTreeSet::new();
        let mut left = BinaryHeap::new();
        left.push(Reverse((self.cost(&root), root)));
        while let Some(Reverse((cost, set))) = left.pop() {
            if self.n_moved().is_some_and(|known| known <= cost) {
                self.is_fewest = complete;
                return;
            }
            if self.is_spent(SHARE) || left.len() > MOST_SETS {
                return;
            }
            let more = match self.clash(&set) {
                Some(clash) => clash,
                None => match self.insert(&set, is_exact) {
                    Insertion::Done => {
                        // Found at the least cost that is left: nothing cheaper waits.
                        if self.n_moved().is_some_and(|known| known <= cost) {
                            self.is_fewest = complete;
                            return;
                        }
                        self.met(&set)
                    }
                    Insertion::Impossible => self.met(&set),
                    Insertion::NotFound => {
                        complete = false;
                        self.met(&set)
                    }
                },
            };
            for block in more {
                let mut next = set.clone();
                next.insert(block);
                if seen.insert(next.clone()) {
                    left.push(Reverse((self.cost(&next), next)));
                }
            }
        }
    }

    /// The fewest tasks that move when a block does.
    fn weight(&self, block: usize) -> usize {
        let steps = &self.net.blocks[block];
        let n = steps.iter().filter(|step| self.counted[**step]).count();
        if self.is_rigid(block) { n } else { n.min(1) }
    }

    fn cost(&self, set: &BTreeSet<usize>) -> usize {
        set.iter().map(|block| self.weight(*block)).sum()
    }

    fn is_rigid(&self, block: usize) -> bool {
        let steps = &self.net.blocks[block];
        steps.windows(2).all(|pair| {
            let mut arcs = self.net.after[pair[0]].iter();
            arcs.any(|arc| arc.step == pair[1] && arc.max == Some(arc.min))
        })
    }

    /// Whether each block at its earliest time, in all orders, leads to a schedule if there is one: so where waits have no
    /// longest length outside rigid blocks, and nobody travels.
    fn is_exact(&self) -> bool {
        let net = self.net;
        let travels = net.workload.resources.iter().any(|r| !r.gaps.is_empty());
        let loose = (0..net.n()).any(|step| {
            let mut arcs = net.after[step].iter();
            arcs.any(|arc| arc.max.is_some() && net.block_of[arc.step] != net.block_of[step])
        });
        let rigid = self.free.iter().all(|block| self.is_rigid(*block));
        !travels && !loose && rigid
    }

    /// Blocks that stay of which one has to move.
    fn clash(&mut self, set: &BTreeSet<usize>) -> Option<Vec<usize>> {
        self.begin();
        let mut placed: Vec<usize> = Vec::new();
        for block in self.free.clone() {
            if set.contains(&block) {
                continue;
            }
            if self.stay(block) {
                placed.push(block);
                continue;
            }
            placed.retain(|other| self.meets(block, *other));
            placed.push(block);
            return Some(placed);
        }
        None
    }

    /// Whether blocks at their old times may be in each other's way.
    fn meets(&self, one: usize, other: usize) -> bool {
        let net = self.net;
        if self.is_linked(one, other) {
            return true;
        }
        let span = |block: usize| -> (Time, Time) {
            let steps = net.blocks[block].iter();
            let from = steps.clone().map(|step| self.was[*step]).min();
            let to = steps
                .map(|step| self.was[*step] + net.duration[*step])
                .max();
            (from.unwrap_or(0), to.unwrap_or(0))
        };
        let ((from, to), (begins, ends)) = (span(one), span(other));
        let travels = net.workload.resources.iter().any(|r| !r.gaps.is_empty());
        shares(net, one, other) && (travels || (from < ends && begins < to))
    }

    fn is_linked(&self, one: usize, other: usize) -> bool {
        let net = self.net;
        net.block_after[one].contains(&other) || net.block_before[one].contains(&other)
    }

    /// What stays and has something to do with what moves.
    fn met(&self, set: &BTreeSet<usize>) -> Vec<usize> {
        let stays = self.free.iter().filter(|block| !set.contains(block));
        let meets = |block: &&usize| {
            let mut own = set.iter();
            own.any(|other| self.is_linked(**block, *other) || shares(self.net, **block, *other))
        };
        stays.filter(meets).copied().collect()
    }

    /// Puts a set in between what stays.
    fn insert(&mut self, set: &BTreeSet<usize>, is_exact: bool) -> Insertion {
        // What stays is in place: `clash` has just put it there.
        for block in set {
            if !self.put(*block, Put::Early) {
                return if is_exact {
                    Insertion::Impossible
                } else {
                    Insertion::NotFound
                };
            }
            self.decoder.remove(*block);
        }
        let blocks: Vec<usize> = set.iter().copied().collect();
        let puts = [Put::Early, Put::Near];
        let found = puts.map(|put| self.orders(&mut blocks.clone(), 0, put));
        if found.contains(&true) {
            Insertion::Done
        } else if is_exact && blocks.len() <= ALL_ORDERS {
            Insertion::Impossible
        } else {
            Insertion::NotFound
        }
    }

    /// Tries orders of what is left of a list: all of a short one, the first that goes on of a long one.
    fn orders(&mut self, list: &mut Vec<usize>, at: usize, put: Put) -> bool {
        if at == list.len() {
            self.offer_placed();
            return true;
        }
        let mut found = false;
        for next in at..list.len() {
            let block = list[next];
            let waits = list[at..]
                .iter()
                .any(|other| self.net.block_before[block].contains(other));
            if waits || self.is_spent(SHARE) {
                continue;
            }
            if self.put(block, put) {
                list.swap(at, next);
                found |= self.orders(list, at + 1, put);
                list.swap(at, next);
                self.decoder.remove(block);
            }
            if list.len() > ALL_ORDERS {
                return found;
            }
        }
        found
    }
}

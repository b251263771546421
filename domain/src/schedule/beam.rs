//! Beam search through the windows: the work that starts before the end of each is chosen in many ways, and the beginnings
//! that leave least to do, and that little in good time, go on to the next.
//!
//! Lists of blocks decide everything at once; where hands are few and the hours short, what counts is that each night is
//! filled well, and a list that fills one night well rarely fills all of them.
//!
//! A beam aims at the end of the window in which the best schedule so far ends, not before it: a nearer aim makes all
//! beginnings late and hides which of them leaves least to do. (On ten bays with three operatives, by 19,000 to 24,000 schedules,
//! 48 of 80 searches ended in the earlier window with this aim; 5 of 16 with the nearer one.) The constants were found by trial on
//! the same floors and have no other basis: what a schedule is worth does not hang on them, only how soon a good one is found.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use super::Time;
use super::decode::{Decoder, NOWHERE, Snapshot};
use super::network::Network;
use super::rng::Rng;
use super::shape::Shape;
use super::target::latest_starts;
use super::week::joined;

/// What of a resource's hours work is expected to fill at best; the rest is lost at the edges of windows and to waits.
const USABLE: f64 = 0.95;
/// How often waits are drawn longer than they must be, in hundredths: of beginnings, and of the waits of one.
const LOOSE: (usize, usize) = (70, 15);
/// What a unit of time at the end counts beside one of work or of lateness.
const TIE: f64 = 0.001;
/// How many beginnings go on.
const WIDTH: usize = 10;
/// One beam in so many of all schedules that may be made, and how often it goes on with one beginning, at least and at most.
/// A beam costs about one schedule for each of its fillings and beginnings.
const SHARE: u64 = 11;
const FILLINGS: (u64, u64) = (4, 256);

/// What is known of a network before any beam goes through it.
#[derive(Debug, Clone)]
pub(super) struct Nights {
    /// The ends of the stretches in which anything is open.
    ends: Vec<Time>,
    /// Time at work of each step, the scarcer what it takes, the heavier.
    weight: Vec<f64>,
    /// Per resource, the time of its units up to each end, in times of one of them.
    room: Vec<Vec<f64>>,
    /// Per resource, units at most.
    units: Vec<f64>,
}

/// One beam on its way.
#[derive(Debug, Clone)]
pub(super) struct Beam<'w> {
    target: Time,
    latest: Vec<Time>,
    mean_duration: f64,
    fillings: u64,
    /// The window that is being filled.
    night: usize,
    kept: Vec<Snapshot<'w>>,
    /// Which of those is being gone on with, and how often it was.
    at: usize,
    turn: u64,
    next: Vec<(f64, Snapshot<'w>)>,
}

impl Nights {
    /// `None` where there are no windows to go by.
    pub(super) fn new(net: &Network<'_>) -> Option<Self> {
        let nights = joined(net.opens.iter().flat_map(|open| open.0.clone()).collect());
        if nights.len() < 2 {
            return None;
        }
        let resources = &net.workload.resources;
        let most =
            |r: &super::Resource| r.periods.iter().map(|p| p.units).max().unwrap_or(0).max(1);
        let units: Vec<f64> = resources.iter().map(|r| f64::from(most(r))).collect();
        let time = |step: usize, resource: usize| {
            net.demand(step, resource) as f64 * net.duration[step] as f64 / units[resource]
        };
        let loads = (0..resources.len()).map(|r| (0..net.n()).map(|s| time(s, r)).sum::<f64>());
        let loads: Vec<f64> = loads.collect();
        let heaviest = loads.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
        let weight = |step: usize| {
            let shares = loads.iter().enumerate();
            shares
                .map(|(r, load)| time(step, r) * (load / heaviest).powi(2))
                .sum()
        };
        let room = resources.iter().zip(&units).map(|(resource, units)| {
            let mut sum = 0.0;
            let up_to = nights.iter().map(|night| {
                for period in &resource.periods {
                    let open = period.window.to.min(night.to) - period.window.from.max(night.from);
                    sum += open.max(0) as f64 * f64::from(period.units) / units;
                }
                sum
            });
            up_to.collect()
        });
        Some(Self {
            ends: nights.iter().map(|night| night.to).collect(),
            weight: (0..net.n()).map(weight).collect(),
            room: room.collect(),
            units,
        })
    }

    /// The first end of a stretch that is not before `time`, or the last there is.
    pub(super) fn end_after(&self, time: Time) -> Time {
        let at = self.ends.partition_point(|end| *end < time);
        self.ends[at.min(self.ends.len() - 1)]
    }

    /// What a beginning leaves: lateness that no later step can mend, work, and work that will not fit before it is due.
    fn leaves(&self, decoder: &Decoder<'_, '_>, beam: &Beam<'_>) -> f64 {
        let (net, from) = (decoder.net, self.ends[beam.night]);
        let mut start = decoder.start.clone();
        let mut bay_end = vec![0; net.n_bays];
        let mut due = vec![0.0; self.ends.len() * self.units.len()];
        let mut work = 0.0;
        for step in &net.order {
            let (step, duration) = (*step, net.duration[*step]);
            if start[step] == NOWHERE {
                let before = net.before[step].iter();
                let ready = before.map(|arc| start[arc.step] + net.duration[arc.step] + arc.min);
                let ready = ready
                    .max()
                    .unwrap_or(0)
                    .max(net.workload.steps[step].release);
                let ready = if duration > 0 { ready.max(from) } else { ready };
                start[step] = net.alone(step, ready).unwrap_or(net.workload.horizon);
                work += self.weight[step];
                let by = beam.latest[step] + duration;
                let by = self
                    .ends
                    .partition_point(|end| *end < by)
                    .min(self.ends.len() - 1);
                for demand in net.workload.steps[step]
                    .demands
                    .iter()
                    .filter(|_| duration > 0)
                {
                    let units = f64::from(demand.units) / self.units[demand.resource];
                    due[by * self.units.len() + demand.resource] += units * duration as f64;
                }
            }
            let bay = net.bay_of[net.block_of[step]];
            bay_end[bay] = bay_end[bay].max(start[step] + duration);
        }
        let late: Time = bay_end.iter().map(|end| (end - beam.target).max(0)).sum();
        // Of those that leave as much, and of whole schedules, the one that ends first.
        let last = bay_end.iter().copied().max().unwrap_or(0);
        let mut short = 0.0;
        for (resource, room) in self.room.iter().enumerate() {
            let mut sum = 0.0;
            for (night, room_by) in room.iter().enumerate() {
                sum += due[night * self.units.len() + resource];
                if night >= beam.night {
                    short += (sum - USABLE * (room_by - room[beam.night])).max(0.0);
                }
                if self.ends[night] >= beam.target {
                    break;
                }
            }
        }
        late as f64 + work + short + TIE * last as f64
    }
}

impl<'w> Beam<'w> {
    /// How often a beam goes on with each beginning where so many schedules may be made; `None` if they are too few for one.
    pub(super) fn fillings(schedules: u64) -> Option<u64> {
        let fillings = schedules / (SHARE * WIDTH as u64);
        (fillings >= FILLINGS.0).then_some(fillings.min(FILLINGS.1))
    }

    /// A beam through the network of a decoder, which is emptied, with `target` for the last end.
    pub(super) fn new(
        decoder: &mut Decoder<'_, 'w>,
        shape: &Shape,
        target: Time,
        fillings: u64,
    ) -> Self {
        decoder.clear();
        Self {
            target,
            latest: latest_starts(decoder.net, target),
            mean_duration: shape.mean_duration,
            fillings,
            night: 0,
            kept: vec![decoder.snapshot()],
            at: 0,
            turn: 0,
            next: Vec::new(),
        }
    }

    /// Goes on once with one beginning. When the last window is done, the schedules that came through, the best first.
    pub(super) fn step(
        &mut self,
        nights: &Nights,
        decoder: &mut Decoder<'_, 'w>,
        rng: &mut Rng,
    ) -> Option<Vec<Snapshot<'w>>> {
        let is_last = nights.ends[self.night] >= self.target || self.night + 1 == nights.ends.len();
        if let Some(beginning) = self.kept.get(self.at) {
            decoder.restore(beginning);
            if self.turn > 0 && rng.chance(LOOSE.0, 100) {
                decoder.lengthen(0..decoder.net.n(), LOOSE.1, rng);
            }
            let limit = if is_last {
                Time::MAX
            } else {
                nights.ends[self.night]
            };
            let fits = self.fill(decoder, limit, rng);
            decoder.extra.fill(0);
            if fits {
                let leaves = nights.leaves(decoder, self);
                let at = self.next.partition_point(|(other, _)| *other < leaves);
                let known = self.next.get(at).is_some_and(|(other, _)| *other <= leaves);
                if at < WIDTH && !known {
                    self.next.truncate(WIDTH - 1);
                    self.next.insert(at, (leaves, decoder.snapshot()));
                }
            }
            self.turn += 1;
            if self.turn == self.fillings {
                self.turn = 0;
                self.at += 1;
            }
            return None;
        }
        self.kept = self
            .next
            .drain(..)
            .map(|(_, beginning)| beginning)
            .collect();
        self.at = 0;
        if is_last || self.kept.is_empty() {
            return Some(std::mem::take(&mut self.kept));
        }
        self.night += 1;
        None
    }

    /// Places what starts before `limit`, the most pressing first as far as chance lets it; whether all found a place.
    fn fill(&self, decoder: &mut Decoder<'_, 'w>, limit: Time, rng: &mut Rng) -> bool {
        let net = decoder.net;
        let amplitude = match self.turn {
            0 => 0.0,
            _ => 2.0 * self.mean_duration * (rng.unit() * 27.0_f64.ln()).exp(),
        };
        let bays: Vec<f64> = (0..net.n_bays).map(|_| rng.unit() * amplitude).collect();
        let mut key = |block: usize| {
            let latest = self.latest[net.blocks[block][0]] as f64;
            // Sixty-fourths of a unit of time: a heap wants whole numbers.
            let key = (latest + bays[net.bay_of[block]] + rng.unit() * amplitude) * 64.0;
            Reverse((key as i64, block))
        };
        let is_placed = |decoder: &Decoder<'_, '_>, block: usize| {
            decoder.start[net.blocks[block][0]] != NOWHERE
        };
        let mut waits = vec![0; net.blocks.len()];
        let mut ready = BinaryHeap::new();
        for (block, waits) in waits.iter_mut().enumerate() {
            if is_placed(decoder, block) {
                continue;
            }
            let before = net.block_before[block].iter();
            *waits = before
                .filter(|before| !is_placed(decoder, **before))
                .count();
            if *waits == 0 {
                ready.push(key(block));
            }
        }
        while let Some(Reverse((_, block))) = ready.pop() {
            if !decoder.place(block) {
                return false;
            }
            if decoder.start[net.blocks[block][0]] >= limit {
                decoder.remove(block);
                continue;
            }
            for next in &net.block_after[block] {
                waits[*next] -= 1;
                if waits[*next] == 0 {
                    ready.push(key(*next));
                }
            }
        }
        true
    }
}

//! Search under calendars: beams from window to window, lists that aim at the window before the last one, and bays taken out and
//! put back.

use super::beam::{Beam, Nights};
use super::decode::{Decoder, Snapshot};
use super::measure::openings;
use super::network::Network;
use super::rng::Rng;
use super::shape::Shape;
use super::target::{block_starts, by_key, latest_starts, shaken};
use super::{Objective, Time};

/// The state of the search.
pub(super) struct Search<'n, 'w> {
    net: &'n Network<'w>,
    shape: &'n Shape,
    decoder: Decoder<'n, 'w>,
    rng: Rng,
    objective: Objective,
    current: Snapshot<'w>,
    current_guide: f64,
    /// The best schedule so far; `None` until one was found.
    pub(super) best: Option<(i64, f64, Snapshot<'w>)>,
    target: Time,
    latest: Vec<f64>,
    list: Vec<usize>,
    /// What beams go by; `None` where they are of no use.
    nights: Option<(Nights, u64)>,
    beam: Option<Beam<'w>>,
    /// No beam sets out after so many steps placed.
    beams_until: u64,
}

impl<'n, 'w> Search<'n, 'w> {
    /// Starts from lists by rule, to place `total` steps in all. Where no list fits there is no best schedule yet.
    pub(super) fn new(
        net: &'n Network<'w>,
        shape: &'n Shape,
        objective: Objective,
        rng: Rng,
        total: u64,
    ) -> Self {
        let decoder = Decoder::new(net);
        let mut search = Self {
            net,
            shape,
            current: decoder.snapshot(),
            decoder,
            rng,
            objective,
            current_guide: f64::INFINITY,
            best: None,
            target: net.workload.horizon,
            latest: Vec::new(),
            list: Vec::new(),
            nights: None,
            beam: None,
            beams_until: total / 10 * 9,
        };
        // What a beam looks for is an early end.
        if objective != Objective::WeightedReopening {
            let fillings = Beam::fillings(total / net.n() as u64);
            search.nights = Nights::new(net).zip(fillings);
        }
        search.aim();
        let latest = search.latest.clone();
        let tail: Vec<f64> = shape.tail.iter().map(|tail| -tail).collect();
        let in_turn: Vec<f64> = (0..net.blocks.len())
            .map(|b| net.bay_of[b] as f64 * 1e6 + b as f64)
            .collect();
        for key in [latest, tail, in_turn] {
            search.list = by_key(net, &key);
            search.try_list(0.0);
        }
        search
    }

    /// Steps placed so far.
    pub(super) fn work(&self) -> u64 {
        self.decoder.work
    }

    /// Makes one move; `heat` falls from 1 to 0 over the search.
    pub(super) fn step(&mut self, heat: f64) {
        if self.go_on_with_beam() {
            return;
        }
        if self.best.is_some() && self.rng.chance(2, 5) {
            self.large_move(heat);
            return;
        }
        if self.best.is_none() || self.rng.chance(3, 4) {
            let spread = 0.3 * (self.rng.unit() * 27.0_f64.ln()).exp();
            let amplitude = spread * self.shape.mean_duration;
            self.list = shaken(self.net, &self.latest, amplitude, &mut self.rng);
        } else {
            self.list = by_key(self.net, &block_starts(self.net, &self.current.start));
        }
        self.stir();
        if self.rng.chance(1, 2) {
            let follow_up = &self.shape.follow_up;
            self.list.sort_by_key(|block| follow_up[*block]);
            self.mend();
        }
        self.try_list(heat);
    }

    /// Goes on with the beam that is on its way, or sends one out if there is time for it; whether there was one.
    fn go_on_with_beam(&mut self) -> bool {
        let Some((nights, fillings)) = &self.nights else {
            return false;
        };
        if self.beam.is_none() && self.decoder.work < self.beams_until {
            let target = nights.end_after(self.last_end());
            self.beam = Some(Beam::new(&mut self.decoder, self.shape, target, *fillings));
        }
        let Some(beam) = &mut self.beam else {
            return false;
        };
        if let Some(found) = beam.step(nights, &mut self.decoder, &mut self.rng) {
            self.beam = None;
            for snapshot in found {
                self.decoder.restore(&snapshot);
                self.judge(0.0);
            }
        }
        true
    }

    /// Sorting may have put a block before one that it waits for; the list is put right with the least change.
    fn mend(&mut self) {
        let mut key = vec![0.0; self.list.len()];
        for (at, block) in self.list.iter().enumerate() {
            key[*block] = at as f64;
        }
        self.list = by_key(self.net, &key);
    }

    /// Draws the order of a stretch of the list anew.
    fn stir(&mut self) {
        let n = self.list.len();
        let width = (n * (8 + self.rng.below(26)) / 100).clamp(2.min(n), n);
        let from = self.rng.below(n - width + 1);
        let rule = self.rng.below(4);
        let mut key = vec![0.0; n];
        for (at, block) in self.list.iter().enumerate() {
            key[*block] = if at < from {
                -1e12 + at as f64
            } else if at >= from + width {
                1e12 + at as f64
            } else if self.rng.chance(1, 3) {
                self.rng.unit() * 1e6
            } else {
                match rule {
                    0 => -self.shape.tail[*block],
                    1 => self.shape.tail[*block],
                    2 => self.current.start[self.net.blocks[*block][0]] as f64,
                    _ => self.rng.unit() * 1e6,
                }
            };
        }
        self.list = by_key(self.net, &key);
    }

    fn try_list(&mut self, heat: f64) {
        if self.decoder.decode(&self.list) {
            self.judge(heat);
        }
    }

    /// Takes the schedule of the decoder over if it is good enough; whether it was.
    fn judge(&mut self, heat: f64) -> bool {
        let (value, guide) = self.worth();
        let better = self
            .best
            .as_ref()
            .is_none_or(|(v, g, _)| (value, guide) < (*v, *g));
        let slack = heat * 0.006 * self.shape.mean_duration * self.net.n_bays as f64;
        let luck = -(1.0 - self.rng.unit()).ln();
        let taken = guide <= self.current_guide + slack * luck;
        if !taken && !better {
            return false;
        }
        self.current = self.decoder.snapshot();
        self.current_guide = guide;
        if better {
            let jumps = self.best.as_ref().is_none_or(|(v, _, _)| value < *v);
            self.best = Some((value, guide, self.current.clone()));
            if jumps {
                self.aim();
            }
        }
        true
    }

    /// The figure of the objective, and the smoother guide of the search.
    fn worth(&self) -> (i64, f64) {
        let start = &self.decoder.start;
        let (last, weighted) = openings(self.net.workload, start, &self.net.duration);
        let ends = self.shape.key_step.iter().flatten();
        let ends = ends.map(|step| (start[*step] + self.net.duration[*step]) as f64);
        let progress = 0.03 * ends.sum::<f64>() / (self.net.n_bays as f64).sqrt();
        if self.objective == Objective::WeightedReopening {
            let total: i64 = self.net.workload.spaces.iter().map(|s| s.weight).sum();
            let mean = weighted as f64 / total.max(1) as f64;
            return (weighted, mean * self.net.n_bays as f64 + 0.01 * progress);
        }
        let late = self.shape.bays.iter().map(|blocks| {
            let ends = blocks.iter().filter_map(|b| self.net.blocks[*b].last());
            let end = ends
                .map(|step| start[*step] + self.net.duration[*step])
                .max();
            (end.unwrap_or(0) - self.target).max(0) as f64
        });
        (last, late.sum::<f64>() + progress)
    }

    /// When the best schedule ends; the horizon where there is none.
    fn last_end(&self) -> Time {
        let Some((_, _, best)) = &self.best else {
            return self.net.workload.horizon;
        };
        openings(self.net.workload, &best.start, &self.net.duration).0
    }

    /// Aims at the end of the last window before the one in which the best schedule ends.
    fn aim(&mut self) {
        let last = self.last_end();
        let ends_in = |open: &super::network::Open| {
            let within = open.0.iter().rfind(|w| w.from < last)?;
            let before = open
                .0
                .iter()
                .rfind(|w| w.to <= within.from && w.to < last)?;
            Some(before.to)
        };
        let earlier = self.net.opens.iter().filter_map(ends_in).max();
        self.target = earlier.unwrap_or(last - 1);
        self.latest = block_starts(self.net, &latest_starts(self.net, self.target));
        if let Some((_, _, snapshot)) = self.best.take() {
            self.decoder.restore(&snapshot);
            let (value, guide) = self.worth();
            self.current_guide = guide;
            self.best = Some((value, guide, snapshot));
        }
    }

    /// Takes a few bays out of the current schedule and puts them back in another order.
    fn large_move(&mut self, heat: f64) {
        let bays = self.some_bays();
        let saved = self.current.clone();
        if self.decoder.start != saved.start {
            self.decoder.restore(&saved);
        }
        let blocks: Vec<usize> = bays
            .iter()
            .flat_map(|bay| self.shape.bays[*bay].clone())
            .collect();
        for block in &blocks {
            self.decoder.remove(*block);
        }
        let key: Vec<f64> = match self.rng.below(3) {
            0 => {
                let turn: Vec<f64> = (0..self.net.n_bays)
                    .map(|_| self.rng.unit() * 1e9)
                    .collect();
                (0..self.net.blocks.len())
                    .map(|b| turn[self.net.bay_of[b]] + b as f64 / 1e4)
                    .collect()
            }
            1 => (0..self.net.blocks.len())
                .map(|_| self.rng.unit())
                .collect(),
            _ => {
                let shake = self.shape.mean_duration;
                self.shape
                    .tail
                    .iter()
                    .map(|tail| -tail + self.rng.unit() * shake)
                    .collect()
            }
        };
        let mut inside = vec![false; key.len()];
        for block in &blocks {
            inside[*block] = true;
        }
        let order = by_key(self.net, &key);
        let stretched = self.rng.chance(1, 2);
        if stretched {
            let net = self.net;
            let steps = blocks.iter().flat_map(|b| net.blocks[*b][1..].iter());
            self.decoder.lengthen(steps.copied(), 25, &mut self.rng);
        }
        let mut placed = Vec::with_capacity(blocks.len());
        let mut fits = true;
        for block in order.into_iter().filter(|block| inside[*block]) {
            // What is not taken out stays where it is.
            fits = fits && self.decoder.try_place(block).is_ok();
            if !fits {
                break;
            }
            placed.push(block);
        }
        if stretched {
            self.decoder.extra.fill(0);
        }
        if !fits || !self.judge(heat) {
            for block in &placed {
                self.decoder.remove(*block);
            }
            self.decoder.put_back(&blocks, &saved);
        }
    }

    /// Two to five bays: half the time the one that opens last, the others near it in time or anywhere.
    fn some_bays(&mut self) -> Vec<usize> {
        let bays: Vec<usize> = (0..self.net.n_bays)
            .filter(|bay| !self.shape.bays[*bay].is_empty())
            .collect();
        let count = (2 + self.rng.below(4)).min(bays.len());
        let key_end = |bay: usize| {
            let step = self.shape.key_step[bay].unwrap_or(0);
            self.current.start[step]
        };
        let latest = bays.iter().copied().max_by_key(|bay| {
            let last = self.shape.bays[*bay]
                .iter()
                .filter_map(|b| self.net.blocks[*b].last());
            last.map(|step| self.current.start[*step] + self.net.duration[*step])
                .max()
        });
        let any = bays[self.rng.below(bays.len())];
        let first = if self.rng.chance(1, 2) {
            latest.unwrap_or(any)
        } else {
            any
        };
        let mut others: Vec<usize> = bays.into_iter().filter(|bay| *bay != first).collect();
        if self.rng.chance(1, 2) {
            others.sort_by_key(|bay| (key_end(*bay) - key_end(first)).abs());
            others.truncate(2 * count);
        }
        self.rng.shuffle(&mut others);
        others.truncate(count - 1);
        others.push(first);
        others
    }
}

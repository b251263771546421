//! Search among schedules: starts of one, shaken, are the keys of the next, which is then pushed to its end and back.

use super::super::Time;
use super::super::rng::Rng;
use super::prove::Least;
use super::{Lags, place::Placer};

/// Trial on instances with minimum and maximum lags (ProGen/max) is the only basis of these three.
///
/// Schedules may be so much longer than the best, in hundredths, before they are given up.
const SLACK: i32 = 3;
/// Every so many keys are made from latest starts.
const FROM_LATEST: u64 = 4;
/// The least and the most by which keys are shaken, in mean durations.
const SHAKEN: (f64, f64) = (0.1, 3.6);

/// What starts are worth, the less the better.
pub(in super::super) type Worth<'l> = &'l dyn Fn(&[Time]) -> i64;

/// The state of the search.
pub(in super::super) struct LagSearch<'l> {
    lags: &'l Lags,
    forward: Placer,
    backward: Placer,
    rng: Rng,
    /// `None`: the makespan, and longer schedules are not looked at.
    worth: Option<Worth<'l>>,
    /// Latest starts by what is known, and the makespan that it is known of.
    late: Vec<f64>,
    known: i32,
    mean: f64,
    keys: Vec<f64>,
    start: Vec<i32>,
    /// The starts that are shaken, what they are worth and when they end.
    current: Vec<f64>,
    value: i64,
    end: i32,
    /// The best schedule so far and what it is worth.
    pub(in super::super) best: Option<(i64, Vec<Time>)>,
    rounds: u64,
}

impl<'l> LagSearch<'l> {
    /// Starts without a schedule, to find one within the makespan that is known of.
    pub(in super::super) fn new(
        lags: &'l Lags,
        least: &Least,
        worth: Option<Worth<'l>>,
        rng: Rng,
    ) -> Self {
        let n = lags.n();
        let work = lags.duration.iter().filter(|d| **d > 0);
        let (sum, count) = work.fold((0.0, 0.0), |(s, c), d| (s + f64::from(*d), c + 1.0));
        let mut search = Self {
            forward: Placer::new(lags, least, false),
            backward: Placer::new(lags, least, true),
            lags,
            rng,
            worth,
            late: Vec::new(),
            known: least.makespan,
            mean: sum / f64::max(count, 1.0),
            keys: vec![0.0; n],
            start: vec![0; n],
            current: Vec::new(),
            value: i64::MAX,
            end: least.makespan,
            best: None,
            rounds: 0,
        };
        search.know(least);
        search
    }

    /// Goes on from a schedule that something else has found.
    pub(in super::super) fn begin_at(&mut self, starts: &[Time]) {
        self.start = starts.iter().map(|start| *start as i32).collect();
        self.end = self.last_end(&self.start);
        self.current = starts.iter().map(|start| *start as f64).collect();
        self.value = self
            .worth
            .map_or(i64::from(self.end), |worth| worth(starts));
        self.best = Some((self.value, starts.to_vec()));
        self.learn();
    }

    /// Steps placed so far, the measure of work.
    pub(in super::super) fn work(&self) -> u64 {
        self.forward.work + self.backward.work
    }

    fn know(&mut self, least: &Least) {
        let zero = self.keys.len();
        let latest = (0..zero).map(|j| f64::from(-least.distances.at(j, zero)));
        self.late = latest.collect();
        self.known = least.makespan;
    }

    /// Makes one more schedule, or none if its keys lead to none.
    pub(in super::super) fn step(&mut self) {
        self.rounds += 1;
        self.shake();
        let by = match self.best {
            Some(_) if self.worth.is_none() => self.end + self.end * SLACK / 100,
            _ => self.known,
        };
        if !self.forward.place(&self.keys, by) {
            return;
        }
        self.start.copy_from_slice(&self.forward.start);
        self.justify();
        let starts: Vec<Time> = self.start.iter().map(|start| Time::from(*start)).collect();
        let end = self.last_end(&self.start);
        let value = self.worth.map_or(i64::from(end), |worth| worth(&starts));
        if value > self.value && !self.rng.chance(1, 200) {
            return;
        }
        self.current = self.start.iter().map(|start| f64::from(*start)).collect();
        (self.value, self.end) = (value, end);
        if self.best.as_ref().is_none_or(|(best, _)| value < *best) {
            self.best = Some((value, starts));
            self.learn();
        }
    }

    /// Pushes the schedule to the right as far as its end, and back to the left.
    fn justify(&mut self) {
        let end = self.last_end(&self.start);
        self.keys_from_end(end, false);
        if !self.backward.place(&self.keys, end) {
            return;
        }
        let end = self.last_end(&self.backward.start);
        self.keys_from_end(end, true);
        if self.forward.place(&self.keys, end) {
            self.start.copy_from_slice(&self.forward.start);
        }
    }

    /// Keys for the other direction: how long before the end each step ends.
    fn keys_from_end(&mut self, end: i32, is_mirrored: bool) {
        let starts = if is_mirrored {
            &self.backward.start
        } else {
            &self.start
        };
        let each = self.keys.iter_mut().zip(starts).zip(&self.lags.duration);
        each.for_each(|((key, start), duration)| *key = f64::from(end - start - duration));
    }

    fn last_end(&self, starts: &[i32]) -> i32 {
        let ends = starts.iter().zip(&self.lags.duration).map(|(s, d)| s + d);
        ends.max().unwrap_or(0)
    }

    /// Keys from the current starts, shaken within a stretch of time or all of them, or from the latest starts.
    fn shake(&mut self) {
        let mut noise = SHAKEN.0 + self.rng.unit() * (SHAKEN.1 - SHAKEN.0);
        let from_latest = self.best.is_none() || self.rounds.is_multiple_of(FROM_LATEST);
        if self.best.is_none() {
            // As long as there is none, keys leave the latest starts further and further behind, and again.
            noise = (0..self.rounds % 20).fold(SHAKEN.0, |noise, _| noise * 1.3);
        }
        let is_local = !from_latest && self.rng.chance(9, 10);
        let middle = self.rng.unit() * f64::from(self.end);
        let reach = f64::from(self.end) * (0.02 + 0.1 * self.rng.unit());
        let size = match (from_latest && self.rng.chance(1, 4), is_local) {
            // Now and then any order, so that no schedule is out of reach.
            (true, _) => f64::from(self.end),
            (false, true) => 2.0 * self.mean * noise,
            (false, false) => self.mean * noise,
        };
        let from = if from_latest {
            &self.late
        } else {
            &self.current
        };
        for (key, from) in self.keys.iter_mut().zip(from) {
            *key = *from;
            if !is_local || (from - middle).abs() <= reach {
                *key += size * (2.0 * self.rng.unit() - 1.0);
            }
        }
    }

    /// What follows from a better makespan: where it is much better, narrower windows for all.
    fn learn(&mut self) {
        let end = self.end + self.end * SLACK / 100;
        if self.worth.is_some() || end > self.known - (self.known / 100).max(1) {
            return;
        }
        // The best schedule ends by then, so that nothing is contradicted.
        if let Ok(least) = self.lags.by(Time::from(end)) {
            self.know(&least);
            self.forward.know(&least);
            self.backward.know(&least);
        }
    }
}

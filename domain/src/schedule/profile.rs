//! How much of each resource is free in each slot of time.
//!
//! Four resources share a word, 15 bits and a guard bit each, so that one subtraction tells whether all of them suffice.
//! A summary holds the most that is free anywhere in a run of slots: a run that cannot serve a step is skipped whole.

const LANES: usize = 4;
const GUARD: u64 = 0x8000_8000_8000_8000;
const RUN: usize = 32;

/// What a step takes: words of the profile and the units in them.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Need(pub(super) Vec<(usize, u64)>);

impl Need {
    /// Packs units by resource.
    pub(super) fn new(units: impl IntoIterator<Item = (usize, u32)>) -> Self {
        let mut words: Vec<(usize, u64)> = Vec::new();
        for (resource, units) in units {
            let (word, lane) = (resource / LANES, resource % LANES);
            let packed = u64::from(units) << (16 * lane);
            match words.iter_mut().find(|(at, _)| *at == word) {
                Some((_, sum)) => *sum += packed,
                None => words.push((word, packed)),
            }
        }
        words.retain(|(_, packed)| *packed != 0);
        words.sort_unstable();
        Self(words)
    }
}

/// The free units over time.
#[derive(Debug, Clone)]
pub(super) struct Profile {
    base: Vec<Vec<u64>>,
    free: Vec<Vec<u64>>,
    most: Vec<Vec<u64>>,
    base_most: Vec<Vec<u64>>,
    used_to: usize,
}

fn fits(free: u64, need: u64) -> bool {
    ((free | GUARD) - need) & GUARD == GUARD
}

fn lane_max(a: u64, b: u64) -> u64 {
    let mut max = 0;
    for lane in 0..LANES {
        let mask = 0xFFFF << (16 * lane);
        max |= (a & mask).max(b & mask);
    }
    max
}

fn summary(free: &[u64], run: usize) -> u64 {
    let to = free.len().min((run + 1) * RUN);
    free[run * RUN..to]
        .iter()
        .fold(0, |max, free| lane_max(max, *free))
}

impl Profile {
    /// A profile of so many resources and slots, of which so many units of a resource are there from one slot to another.
    pub(super) fn new(
        resources: usize,
        slots: usize,
        pieces: impl IntoIterator<Item = (usize, std::ops::Range<usize>, u32)>,
    ) -> Self {
        let mut base = vec![vec![0_u64; slots]; resources.div_ceil(LANES)];
        for (resource, stretch, units) in pieces {
            let shift = 16 * (resource % LANES);
            for free in &mut base[resource / LANES][stretch] {
                *free |= u64::from(units) << shift;
            }
        }
        let most: Vec<Vec<u64>> = base
            .iter()
            .map(|free| {
                (0..slots.div_ceil(RUN))
                    .map(|run| summary(free, run))
                    .collect()
            })
            .collect();
        Self {
            free: base.clone(),
            base_most: most.clone(),
            base,
            most,
            used_to: 0,
        }
    }

    /// Frees everything.
    pub(super) fn clear(&mut self) {
        let to = self.used_to;
        for (free, base) in self.free.iter_mut().zip(&self.base) {
            free[..to].copy_from_slice(&base[..to]);
        }
        let runs = to.div_ceil(RUN);
        for (most, base) in self.most.iter_mut().zip(&self.base_most) {
            most[..runs].copy_from_slice(&base[..runs]);
        }
        self.used_to = 0;
    }

    /// The earliest start from `from` on at which the need is free for `duration` slots and that ends by `limit`.
    pub(super) fn earliest(
        &self,
        need: &Need,
        from: usize,
        duration: usize,
        limit: usize,
    ) -> Option<usize> {
        let mut start = from;
        match need.0.as_slice() {
            [] => (start + duration <= limit).then_some(start),
            [(word, packed)] => self.earliest_in(*word, *packed, start, duration, limit),
            several => loop {
                let before = start;
                for (word, packed) in several {
                    start = self.earliest_in(*word, *packed, start, duration, limit)?;
                }
                if start == before {
                    return Some(start);
                }
            },
        }
    }

    fn earliest_in(
        &self,
        word: usize,
        need: u64,
        from: usize,
        duration: usize,
        limit: usize,
    ) -> Option<usize> {
        let (free, most) = (&self.free[word], &self.most[word]);
        let limit = limit.min(free.len());
        let (mut start, mut known) = (from, from);
        loop {
            // Whole runs that cannot serve the need are skipped.
            if known == start {
                let at = start;
                while start < limit && !fits(most[start / RUN], need) {
                    start = (start / RUN + 1) * RUN;
                }
                if start != at {
                    known = start;
                }
            }
            let end = start + duration;
            if end > limit {
                return None;
            }
            let clash = free[known..end].iter().rposition(|free| !fits(*free, need));
            match clash {
                None => return Some(start),
                Some(at) => {
                    start = known + at + 1;
                    // The slots behind the clash were looked at and are free.
                    known = end.max(start);
                }
            }
        }
    }

    /// Takes the need from `start` on for `duration` slots.
    pub(super) fn take(&mut self, need: &Need, start: usize, duration: usize) {
        for (word, packed) in &need.0 {
            for free in &mut self.free[*word][start..start + duration] {
                *free -= packed;
            }
        }
        self.used_to = self.used_to.max(start + duration);
        self.renew(need, start, duration);
    }

    /// Gives back what was taken.
    pub(super) fn give(&mut self, need: &Need, start: usize, duration: usize) {
        for (word, packed) in &need.0 {
            for free in &mut self.free[*word][start..start + duration] {
                *free += packed;
            }
        }
        self.renew(need, start, duration);
    }

    fn renew(&mut self, need: &Need, start: usize, duration: usize) {
        if duration == 0 {
            return;
        }
        for (word, _) in &need.0 {
            for run in start / RUN..=(start + duration - 1) / RUN {
                self.most[*word][run] = summary(&self.free[*word], run);
            }
        }
    }
}

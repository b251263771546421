//! From a list of blocks to a schedule: each block in turn at the earliest time at which it fits.

use super::Time;
use super::fleet::{Fleet, Job};
use super::network::Network;
use super::profile::Profile;
use super::rng::Rng;

/// The start of a step that has none yet.
pub(super) const NOWHERE: Time = -1;
/// How often steps are delayed for the sake of a longest wait before a list is given up.
const TRIES: usize = 20;

/// Why a block did not find its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Miss {
    /// It fits nowhere before the horizon, or not before what waits for it.
    Nowhere,
    /// It would come too late after this step, by so much.
    Late(usize, Time),
}

/// A schedule and the ways of its travelling units.
#[derive(Debug, Clone)]
pub(super) struct Snapshot<'w> {
    pub(super) start: Vec<Time>,
    fleets: Vec<(usize, Fleet<'w>)>,
}

impl Snapshot<'_> {
    /// A schedule of which no unit travels.
    pub(super) fn at(start: Vec<Time>) -> Self {
        Self {
            start,
            fleets: Vec::new(),
        }
    }

    /// Which units of travelling resources do which steps: resource, unit, step.
    pub(super) fn units(&self) -> Vec<(usize, usize, usize)> {
        let mut units = Vec::new();
        for (resource, fleet) in &self.fleets {
            for (unit, jobs) in fleet.units.iter().enumerate() {
                units.extend(jobs.iter().map(|job| (*resource, unit, job.step)));
            }
        }
        units
    }
}

/// A schedule in the making.
#[derive(Debug, Clone)]
pub(super) struct Decoder<'n, 'w> {
    pub(super) net: &'n Network<'w>,
    profile: Profile,
    fleets: Vec<(usize, Fleet<'w>)>,
    pub(super) start: Vec<Time>,
    raised: Vec<Time>,
    /// Longer waits than the least, tried to let steps of other blocks in between.
    pub(super) extra: Vec<Time>,
    low: Vec<Time>,
    /// Steps placed so far, the measure of work.
    pub(super) work: u64,
}

impl<'n, 'w> Decoder<'n, 'w> {
    pub(super) fn new(net: &'n Network<'w>) -> Self {
        Self::with_profile(net, net.profile.clone())
    }

    /// Works with other capacities, as when a shift is left out.
    pub(super) fn with_profile(net: &'n Network<'w>, profile: Profile) -> Self {
        let resources = 0..net.workload.resources.len();
        let fleets = resources.filter_map(|r| Fleet::new(net.workload, r).map(|fleet| (r, fleet)));
        Self {
            profile,
            fleets: fleets.collect(),
            start: vec![NOWHERE; net.n()],
            raised: vec![0; net.n()],
            extra: vec![0; net.n()],
            low: Vec::new(),
            work: 0,
            net,
        }
    }

    /// Leaves the ways of travelling units aside, as what is proven must not hang on who goes where.
    pub(super) fn without_ways(net: &'n Network<'w>) -> Self {
        let mut decoder = Self::new(net);
        decoder.fleets.clear();
        decoder
    }

    /// Lets a step start no earlier than this, beside what its links and its release say.
    pub(super) fn hold(&mut self, step: usize, from: Time) {
        self.raised[step] = from;
    }

    /// Lets some of these steps wait longer than they must, so many in a hundred, so that others find room in between.
    pub(super) fn lengthen(
        &mut self,
        steps: impl IntoIterator<Item = usize>,
        percent: usize,
        rng: &mut Rng,
    ) {
        for step in steps {
            let mut room = self.net.before[step].iter();
            let room = room.find_map(|arc| Some(arc.max? - arc.min));
            if let Some(room) = room.filter(|_| rng.chance(percent, 100)) {
                self.extra[step] = rng.below(room as usize + 1) as Time;
            }
        }
    }

    /// Gives the profile back, to be used for the next.
    pub(super) fn into_profile(mut self) -> Profile {
        self.profile.clear();
        self.profile
    }

    /// Takes everything out.
    pub(super) fn clear(&mut self) {
        self.profile.clear();
        self.fleets.iter_mut().for_each(|(_, fleet)| fleet.clear());
        self.start.fill(NOWHERE);
        self.raised.fill(0);
    }

    /// Places all blocks in the order of a list; whether all of them found a place.
    pub(super) fn decode(&mut self, list: &[usize]) -> bool {
        self.clear();
        list.iter().all(|block| self.place(*block))
    }

    /// What has been placed where.
    pub(super) fn snapshot(&self) -> Snapshot<'w> {
        Snapshot {
            start: self.start.clone(),
            fleets: self.fleets.clone(),
        }
    }

    /// Places all blocks as an earlier schedule has them, which must be one of this network.
    pub(super) fn restore(&mut self, snapshot: &Snapshot<'w>) {
        self.clear();
        for block in 0..self.net.blocks.len() {
            if snapshot.start[self.net.blocks[block][0]] != NOWHERE {
                self.take(block, &snapshot.start);
            }
        }
        self.fleets.clone_from(&snapshot.fleets);
    }

    /// Puts blocks back where a schedule had them from which nothing else has been taken.
    pub(super) fn put_back(&mut self, blocks: &[usize], snapshot: &Snapshot<'w>) {
        for block in blocks {
            self.take(*block, &snapshot.start);
        }
        self.fleets.clone_from(&snapshot.fleets);
    }

    fn take(&mut self, block: usize, starts: &[Time]) {
        let net = self.net;
        for step in &net.blocks[block] {
            let (start, duration) = (starts[*step], net.duration[*step]);
            self.start[*step] = start;
            self.profile
                .take(&net.need[*step], start as usize, duration as usize);
        }
    }

    /// Places a block, delaying what is before it where a longest wait asks for that.
    pub(super) fn place(&mut self, block: usize) -> bool {
        let mut tries = TRIES;
        self.place_within(block, &mut tries)
    }

    fn place_within(&mut self, block: usize, tries: &mut usize) -> bool {
        loop {
            let (step, shortage) = match self.try_place(block) {
                Ok(()) => return true,
                Err(Miss::Nowhere) => return false,
                Err(Miss::Late(step, shortage)) => (step, shortage),
            };
            if *tries == 0 {
                return false;
            }
            *tries -= 1;
            let earlier = self.net.block_of[step];
            self.raised[step] = self.start[step] + shortage;
            self.remove(earlier);
            if !self.place_within(earlier, tries) {
                return false;
            }
        }
    }

    /// Places a block at the earliest time that all its waits allow.
    pub(super) fn try_place(&mut self, block: usize) -> Result<(), Miss> {
        let net = self.net;
        let chain = &net.blocks[block];
        self.work += chain.len() as u64;
        self.low.clear();
        self.low.resize(chain.len(), 0);
        let mut found = Ok(());
        let mut at = 0;
        while at < chain.len() {
            let step = chain[at];
            let from = self.est(step).max(self.low[at]);
            let Some(start) = self.fit(step, from) else {
                found = Err(Miss::Nowhere);
                break;
            };
            match self.too_late(step, start) {
                None => {
                    self.start[step] = start;
                    self.send(step);
                    at += 1;
                }
                Some((before, shortage)) if at > 0 && before == chain[at - 1] => {
                    self.low[at - 1] = self.start[before] + shortage;
                    self.call_back(before);
                    at -= 1;
                }
                Some((before, shortage)) => {
                    found = Err(Miss::Late(before, shortage));
                    break;
                }
            }
        }
        if found.is_ok() && !self.in_time(block) {
            found = Err(Miss::Nowhere);
        }
        match found {
            Ok(()) => self.commit(block),
            Err(_) => chain.iter().for_each(|step| self.call_back(*step)),
        }
        found
    }

    /// The earliest start of a step by what is placed before it.
    fn est(&self, step: usize) -> Time {
        let release = self.net.workload.steps[step].release;
        let mut est = release.max(self.raised[step]);
        for arc in &self.net.before[step] {
            let start = self.start[arc.step];
            if start != NOWHERE {
                let wait = arc.min
                    + if arc.max.is_some() {
                        self.extra[step]
                    } else {
                        0
                    };
                est = est.max(start + self.net.duration[arc.step] + wait);
            }
        }
        est
    }

    /// The step before which this start keeps waiting too long, and by how much.
    fn too_late(&self, step: usize, start: Time) -> Option<(usize, Time)> {
        self.net.before[step].iter().find_map(|arc| {
            let before = self.start[arc.step];
            let latest = before + self.net.duration[arc.step] + arc.max?;
            (before != NOWHERE && start > latest).then(|| (arc.step, start - latest))
        })
    }

    /// Whether what is placed behind a block still waits long enough and not too long.
    fn in_time(&self, block: usize) -> bool {
        self.net.blocks[block].iter().all(|step| {
            let end = self.start[*step] + self.net.duration[*step];
            self.net.after[*step].iter().all(|arc| {
                let next = self.start[arc.step];
                let waits = next - end;
                next == NOWHERE || (waits >= arc.min && arc.max.is_none_or(|max| waits <= max))
            })
        })
    }

    /// The earliest start of a step from then on that its windows, resources and units allow.
    fn fit(&self, step: usize, from: Time) -> Option<Time> {
        let duration = self.net.duration[step];
        let Some(open) = self.net.open(step) else {
            return self.fit_in(step, from, self.net.workload.horizon);
        };
        let first = open.0.partition_point(|w| w.to < from + duration);
        open.0[first..].iter().find_map(|window| {
            let from = from.max(window.from);
            (from + duration <= window.to)
                .then(|| self.fit_in(step, from, window.to))
                .flatten()
        })
    }

    fn fit_in(&self, step: usize, from: Time, limit: Time) -> Option<Time> {
        let duration = self.net.duration[step];
        let need = &self.net.need[step];
        let mut start = from;
        loop {
            start =
                self.profile
                    .earliest(need, start as usize, duration as usize, limit as usize)?
                    as Time;
            let mut moved = start;
            for (resource, fleet) in &self.fleets {
                let task = &self.net.workload.steps[step];
                let count = self.net.demand(step, *resource);
                moved = fleet.earliest(count, moved, duration, task.place)?;
            }
            if moved == start {
                return Some(start);
            }
            start = moved;
        }
    }

    /// Sends travelling units to a step, so that the next step of the block finds them there.
    fn send(&mut self, step: usize) {
        let start = self.start[step];
        let job = Job {
            start,
            end: start + self.net.duration[step],
            place: self.net.workload.steps[step].place,
            step,
        };
        for (resource, fleet) in &mut self.fleets {
            fleet.take(self.net.demand(step, *resource), job);
        }
    }

    fn call_back(&mut self, step: usize) {
        self.start[step] = NOWHERE;
        for (_, fleet) in &mut self.fleets {
            fleet.give(step);
        }
    }

    fn commit(&mut self, block: usize) {
        let net = self.net;
        for step in &net.blocks[block] {
            let (start, duration) = (self.start[*step], net.duration[*step]);
            self.profile
                .take(&net.need[*step], start as usize, duration as usize);
        }
    }

    /// Takes a block out.
    pub(super) fn remove(&mut self, block: usize) {
        let net = self.net;
        for step in &net.blocks[block] {
            let (start, duration) = (self.start[*step], net.duration[*step]);
            self.profile
                .give(&net.need[*step], start as usize, duration as usize);
            self.call_back(*step);
        }
    }
}

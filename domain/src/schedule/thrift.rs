//! Doing with less: calls of crews and hired units are left out one by one as long as all still fits.

use super::Objective;
use super::decode::{Decoder, Snapshot};
use super::measure::{Measures, calls, is_priced, measures};
use super::network::{Network, is_crew, pieces};
use super::profile::Profile;
use super::rng::Rng;
use super::target::{block_starts, by_key, latest_starts, shaken};

/// The state of the search for fewer calls.
pub(super) struct Thrift<'n, 'w> {
    net: &'n Network<'w>,
    rng: Rng,
    objective: Objective,
    /// Units that may be called in each period of each resource.
    allowed: Vec<Vec<i64>>,
    current: Snapshot<'w>,
    value: Measures,
    latest: Vec<f64>,
    /// Steps placed so far.
    pub(super) work: u64,
}

/// Whether calls can be saved at all.
pub(super) fn is_worth_while(net: &Network<'_>) -> bool {
    let mut all = net.workload.resources.iter().enumerate();
    all.any(|(at, resource)| is_crew(net.workload, at) || is_priced(resource))
}

impl<'n, 'w> Thrift<'n, 'w> {
    /// Starts from a schedule.
    pub(super) fn new(
        net: &'n Network<'w>,
        from: &Snapshot<'w>,
        objective: Objective,
        rng: Rng,
    ) -> Self {
        let allowed = net.workload.resources.iter();
        let allowed = allowed.map(|r| r.periods.iter().map(|p| i64::from(p.units)).collect());
        let late = latest_starts(net, net.workload.horizon);
        Self {
            net,
            rng,
            objective,
            allowed: allowed.collect(),
            current: from.clone(),
            value: measures(net.workload, &from.start),
            latest: block_starts(net, &late),
            work: 0,
        }
    }

    /// Leaves one more call out and tries to do without it; the new schedule if it can be done.
    pub(super) fn step(&mut self) -> Option<(Measures, &Snapshot<'w>)> {
        let (resource, period, units) = self.pick()?;
        let before = self.allowed[resource][period];
        self.allowed[resource][period] = units;
        let mut decoder = Decoder::with_profile(self.net, self.profile());
        for attempt in 0..4 {
            let list = match attempt {
                0 => by_key(self.net, &block_starts(self.net, &self.current.start)),
                1 => by_key(self.net, &self.latest),
                _ => shaken(self.net, &self.latest, 64.0, &mut self.rng),
            };
            let done = decoder.decode(&list);
            if done {
                let value = measures(self.net.workload, &decoder.start);
                if value.key(self.objective) < self.value.key(self.objective) {
                    self.value = value;
                    self.current = decoder.snapshot();
                    self.work += decoder.work;
                    return Some((self.value, &self.current));
                }
            }
        }
        self.work += decoder.work;
        self.allowed[resource][period] = before;
        None
    }

    /// A period in which something is called, and how many units it is left with.
    fn pick(&mut self) -> Option<(usize, usize, i64)> {
        let mut choices = Vec::new();
        for (at, resource) in self.net.workload.resources.iter().enumerate() {
            let counts = match self.objective {
                Objective::FewestShifts => is_crew(self.net.workload, at),
                _ => is_priced(resource),
            };
            if counts {
                let called = calls(self.net.workload, at, &self.current.start);
                let used = called
                    .into_iter()
                    .enumerate()
                    .filter(|(_, units)| *units > 0);
                choices.extend(used.map(|(period, units)| (at, period, units)));
            }
        }
        if choices.is_empty() {
            return None;
        }
        let (resource, period, units) = choices[self.rng.below(choices.len())];
        let left = if self.rng.chance(1, 2) { 0 } else { units - 1 };
        Some((resource, period, left))
    }

    fn profile(&self) -> Profile {
        let workload = self.net.workload;
        let allowed = self.allowed.iter().flatten();
        let pieces = pieces(workload).zip(allowed);
        let pieces = pieces.map(|((resource, stretch, units), allowed)| {
            (resource, stretch, units.min((*allowed).max(0) as u32))
        });
        Profile::new(workload.resources.len(), workload.horizon as usize, pieces)
    }
}

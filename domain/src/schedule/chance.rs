//! How likely each space opens by its deadline: durations and waits drawn anew, the order of work kept.
//!
//! A length of time is lognormal through its two quantiles. All lengths share one factor, since a slow crew or damp air is
//! slow all along; the shared part of the variance is given. Percentiles are of the sums drawn, never sums of percentiles.

use super::check::Fault;
use super::critical::{chain_to, last_step};
use super::decode::Decoder;
use super::network::Network;
use super::rng::{Purpose, Rng};
use super::target::{block_starts, by_key};
use super::{Schedule, Spread, Time, Workload};
use crate::normal::Z80;

/// The most draws.
const MOST_DRAWS: u32 = 65_536;

/// How the draws are made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Draws {
    /// How many, at most 65,536.
    pub count: u32,
    /// Where the random numbers start.
    pub seed: u64,
    /// Share of the variance that all lengths have in common, 0 to 1. Common practice, no published source: 0.3.
    pub shared: f64,
}

/// What may be expected of a space.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Opening {
    /// Share of the draws in which it is open by its deadline; `None` without a deadline.
    pub by_deadline: Option<f64>,
    /// It opens earlier in half of the draws; `None` if it then does not open by the horizon.
    pub p50: Option<Time>,
    /// It opens earlier in four of five.
    pub p80: Option<Time>,
    /// It opens earlier in nine of ten.
    pub p90: Option<Time>,
}

/// What the draws show.
#[derive(Debug, Clone, PartialEq)]
pub struct Prospect {
    /// Per space.
    pub openings: Vec<Opening>,
    /// Per step, the share of the draws in which it was on the critical chain.
    pub criticality: Vec<f64>,
    /// Draws in which not everything fitted any more; no space opened in these.
    pub failed: u32,
    /// Draws made.
    pub draws: u32,
}

/// What may be expected of a schedule whose order of work is kept; its faults if the workload has any.
pub fn prospect(
    workload: &Workload,
    schedule: &Schedule,
    draws: &Draws,
) -> Result<Prospect, Vec<Fault>> {
    let net = Network::new(workload)?;
    let count = draws.count.clamp(1, MOST_DRAWS);
    let mut prospect = Prospect {
        openings: Vec::new(),
        criticality: vec![0.0; net.n()],
        failed: 0,
        draws: count,
    };
    if schedule.starts.len() != net.n() {
        prospect.failed = count;
    }
    let mut reopenings: Vec<Vec<Time>> = vec![Vec::new(); workload.spaces.len()];
    if prospect.failed == 0 {
        let list = by_key(&net, &block_starts(&net, &schedule.starts));
        let (mut real, mut profile) = (net.clone(), net.profile.clone());
        for draw in 0..count {
            let mut rng = Rng::new(draws.seed, Purpose::Chance, u64::from(draw));
            redraw(&net, &mut real, draws.shared, &mut rng);
            let mut decoder = Decoder::with_profile(&real, profile);
            if !decoder.decode(&list) {
                prospect.failed += 1;
                profile = decoder.into_profile();
                continue;
            }
            let end = |step: &usize| decoder.start[*step] + real.duration[*step];
            for (space, reopenings) in workload.spaces.iter().zip(&mut reopenings) {
                reopenings.extend(space.opens_after.iter().map(end).max());
            }
            let chain = chain_to(&real, &decoder.start, last_step(&real, &decoder.start));
            for critical in chain {
                prospect.criticality[critical.step] += 1.0 / f64::from(count);
            }
            profile = decoder.into_profile();
        }
    }
    let spaces = workload.spaces.iter().zip(reopenings);
    prospect.openings = spaces
        .map(|(space, mut times)| {
            times.sort_unstable();
            let quantile = |share: f64| {
                let at = (share * f64::from(count)).ceil().max(1.0) as usize;
                times.get(at - 1).copied()
            };
            Opening {
                by_deadline: space.deadline.map(|deadline| {
                    times.partition_point(|t| *t <= deadline) as f64 / f64::from(count)
                }),
                p50: quantile(0.5),
                p80: quantile(0.8),
                p90: quantile(0.9),
            }
        })
        .collect();
    Ok(prospect)
}

/// Draws the lengths of a network anew.
fn redraw(net: &Network<'_>, drawn: &mut Network<'_>, shared: f64, rng: &mut Rng) {
    let shared = shared.clamp(0.0, 1.0);
    let common = rng.normal() * shared.sqrt();
    let mut draw = |spread: Option<Spread>, planned: Time| {
        let own = rng.normal() * (1.0 - shared).sqrt();
        match spread.filter(|spread| spread.p50 > 0) {
            None => planned,
            Some(spread) => {
                let sigma = (spread.p80 as f64 / spread.p50 as f64).ln() / Z80;
                let length = spread.p50 as f64 * (sigma * (common + own)).exp();
                length.round().min(super::MAX_HORIZON as f64) as Time
            }
        }
    };
    for (duration, step) in drawn.duration.iter_mut().zip(&net.workload.steps) {
        *duration = step.duration;
        // A step stays a step: none of it may vanish.
        *duration = draw(step.spread, *duration).max(step.duration.min(1));
    }
    for arc in drawn.before.iter_mut().chain(&mut drawn.after).flatten() {
        arc.min = -1;
    }
    for link in &net.workload.links {
        let lag = draw(link.spread, link.min_lag);
        let lag = link.max_lag.map_or(lag, |max| lag.min(max));
        let unset = |arc: &&mut super::network::Arc, other: usize| {
            arc.step == other && arc.max == link.max_lag && arc.min < 0
        };
        for (arcs, other) in [
            (&mut drawn.before[link.to], link.from),
            (&mut drawn.after[link.from], link.to),
        ] {
            if let Some(arc) = arcs.iter_mut().find(|arc| unset(arc, other)) {
                arc.min = lag;
            }
        }
    }
}

//! Why a schedule does not end earlier: the chain of steps that leads to its last end.

use super::network::Network;
use super::{Schedule, Time, Workload};

/// What keeps a step from starting earlier.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Because {
    /// It waits after the step before it in the chain: the link.
    Link(usize),
    /// Its window opens then.
    Window,
    /// The step before it in the chain takes this resource.
    Resource(usize),
    /// It is kept back for the step after it, which must not wait too long.
    KeptBack,
    /// Its release, or nothing.
    Release,
}

/// A step of the critical chain.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CriticalStep {
    /// The step.
    pub step: usize,
    /// What keeps it.
    pub because: Because,
}

/// The chain that leads to the end of a step, the first step first.
pub(super) fn chain_to(net: &Network<'_>, starts: &[Time], last: usize) -> Vec<CriticalStep> {
    let mut chain = Vec::new();
    let mut seen = vec![false; net.n()];
    let mut at = Some(last);
    while let Some(step) = at {
        seen[step] = true;
        let (because, before) = cause(net, starts, step, &seen);
        chain.push(CriticalStep { step, because });
        at = before;
    }
    chain.reverse();
    chain
}

/// The step that ends last.
pub(super) fn last_step(net: &Network<'_>, starts: &[Time]) -> usize {
    let end = |step: &usize| (starts[*step] + net.duration[*step], *step);
    (0..net.n()).max_by_key(end).unwrap_or(0)
}

fn cause(
    net: &Network<'_>,
    starts: &[Time],
    step: usize,
    seen: &[bool],
) -> (Because, Option<usize>) {
    let workload = net.workload;
    let start = starts[step];
    let end = |other: usize| starts[other] + net.duration[other];
    let links = || {
        let own = workload
            .links
            .iter()
            .enumerate()
            .filter(|(_, link)| link.to == step);
        own.filter(|(_, link)| !seen[link.from])
    };
    // A wait that varies is as long as this network has it, not as long as the workload says.
    let wait = |link: &super::Link| {
        let arc = net.before[step].iter().filter(|arc| arc.step == link.from);
        arc.map(|arc| arc.min).max().unwrap_or(link.min_lag)
    };
    if let Some((at, link)) = links().find(|(_, link)| end(link.from) + wait(link) == start) {
        return (Because::Link(at), Some(link.from));
    }
    let opens = net
        .open(step)
        .is_some_and(|open| open.0.iter().any(|w| w.from == start));
    if opens {
        let before = links().max_by_key(|(_, link)| end(link.from) + wait(link));
        return (Because::Window, before.map(|(_, link)| link.from));
    }
    let blocks = |other: &usize| {
        let shared = workload.steps[step]
            .demands
            .iter()
            .find(|d| net.demand(*other, d.resource) > 0 && net.demand(step, d.resource) > 0);
        let gap = |d: &super::Demand| {
            let gaps = &workload.resources[d.resource].gaps;
            let way = gaps.get(workload.steps[*other].place);
            way.and_then(|row| row.get(workload.steps[step].place))
                .copied()
                .unwrap_or(0)
        };
        shared
            .filter(|d| end(*other) <= start && start <= end(*other) + gap(d))
            .map(|d| d.resource)
    };
    let blocker = (0..net.n()).filter(|other| !seen[*other] && net.duration[*other] > 0);
    let blocker =
        blocker.filter_map(|other| blocks(&other).map(|resource| (end(other), other, resource)));
    if let Some((_, other, resource)) = blocker.max() {
        return (Because::Resource(resource), Some(other));
    }
    let kept = net.after[step]
        .iter()
        .find(|arc| arc.max == Some(starts[arc.step] - end(step)));
    match kept {
        Some(_) => (
            Because::KeptBack,
            links().map(|(_, link)| link.from).max_by_key(|s| end(*s)),
        ),
        None => (Because::Release, None),
    }
}

/// The critical chain of a schedule to a step, or to its last end; nothing for a workload with faults.
pub fn critical_chain(
    workload: &Workload,
    schedule: &Schedule,
    to: Option<usize>,
) -> Vec<CriticalStep> {
    match Network::of_any(workload) {
        Ok(net) if schedule.starts.len() == net.n() => {
            let last = to.filter(|step| *step < net.n());
            let last = last.unwrap_or_else(|| last_step(&net, &schedule.starts));
            chain_to(&net, &schedule.starts, last)
        }
        _ => Vec::new(),
    }
}

//! Why a task could not stay where it was, everything else being where it is now.

use super::settle::Settled;
use super::{Change, Fact, Moved};
use crate::schedule::{Breach, Schedule, Time, verify};

/// Why a task begins at another time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// It has not begun, and its time has come.
    Past,
    /// It is told not to begin before.
    Told,
    /// Its floor may not be closed then.
    Window,
    /// What it waits for comes to its end too late, or this comes too late after it: the step.
    After(usize),
    /// What waits for it begins too soon, or too late after it: the step.
    Before(usize),
    /// Too few units of this resource are left then.
    Resource(usize),
    /// Its steps go together with others that moved.
    Together,
}

/// What moved, and why.
pub(super) fn moved(change: &Change<'_>, settled: &Settled, schedule: &Schedule) -> Vec<Moved> {
    let steps = 0..schedule.starts.len();
    let has_moved = |step: &usize| {
        change.counted[*step]
            && settled.stands[*step].is_none()
            && schedule.starts[*step] != change.was[*step]
    };
    let told = steps.filter(has_moved).map(|step| Moved {
        step,
        from: change.was[step],
        to: schedule.starts[step],
        cause: cause(change, settled, schedule, step),
    });
    told.collect()
}

fn cause(change: &Change<'_>, settled: &Settled, schedule: &Schedule, step: usize) -> Cause {
    let was = change.was[step];
    if was < change.now {
        return match change.facts[step] {
            Some(_) => Cause::Told,
            None => Cause::Past,
        };
    }
    if matches!(change.facts[step], Some(Fact::NotBefore(moment)) if was < moment) {
        return Cause::Told;
    }
    let back = put_back((change, settled), schedule, (step, was));
    // Links of the step itself follow with it; those of others tell why.
    let breaches = verify(&settled.judged, &back);
    let own = |breach: &&Breach| match breach {
        Breach::Closed(at) | Breach::Shift { step: at, .. } => *at == step,
        _ => false,
    };
    let told = |breach: &Breach| -> Option<Cause> {
        match *breach {
            Breach::Closed(_) => Some(Cause::Window),
            Breach::Shift { resource, .. } | Breach::Capacity { resource, .. } => {
                Some(Cause::Resource(resource))
            }
            Breach::Travel { resource, .. } | Breach::Units { resource, .. } => {
                Some(Cause::Resource(resource))
            }
            Breach::TooSoon(link) | Breach::TooLate(link) => {
                let link = settled.judged.links[link];
                let other = if link.to == step { link.from } else { link.to };
                let is_other = change.counted[other] || settled.stands[other].is_some();
                match (link.to == step, is_other) {
                    (true, true) => Some(Cause::After(other)),
                    (false, true) => Some(Cause::Before(other)),
                    (_, false) => None,
                }
            }
            Breach::Early(_) | Breach::Beyond(_) | Breach::Count => Some(Cause::Past),
        }
    };
    let first = breaches.iter().find(own).and_then(told);
    first
        .or_else(|| breaches.iter().find_map(told))
        .unwrap_or(Cause::Together)
}

/// The schedule with a step at its old time, and with it what follows at a fixed time or is only passed.
fn put_back(
    (change, settled): (&Change<'_>, &Settled),
    schedule: &Schedule,
    (step, was): (usize, Time),
) -> Schedule {
    let mut back = schedule.clone();
    back.starts[step] = was;
    let mut left = vec![step];
    while let Some(at) = left.pop() {
        let end = back.starts[at] + settled.judged.steps[at].duration;
        for link in settled.judged.links.iter().filter(|link| link.from == at) {
            let follows = link.max_lag == Some(link.min_lag) && !change.counted[link.to];
            if follows && back.starts[link.to] != end + link.min_lag {
                back.starts[link.to] = end + link.min_lag;
                left.push(link.to);
            }
        }
    }
    settled.follow(&mut back.starts);
    back
}

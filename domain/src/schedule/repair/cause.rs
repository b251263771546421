//! Why a task could not stay where it was, everything else being where it is now.

use super::settle::Settled;
use super::{Change, Fact, Moved};
use crate::schedule::{Breach, Schedule, verify};

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
    /// It is done in one go with others that moved.
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
    let group = together(settled, step);
    let back = put_back((change, settled), schedule, &group);
    let breaches = verify(&settled.judged, &back);
    let own = |breach: &&Breach| match breach {
        Breach::Closed(at) | Breach::Shift { step: at, .. } => group.contains(at),
        _ => false,
    };
    let told = |breach: &Breach| -> Option<Cause> {
        match *breach {
            Breach::Closed(_) => Some(Cause::Window),
            Breach::Shift { resource, .. }
            | Breach::Capacity { resource, .. }
            | Breach::Travel { resource, .. }
            | Breach::Units { resource, .. } => Some(Cause::Resource(resource)),
            Breach::TooSoon(link) | Breach::TooLate(link) => {
                let link = settled.judged.links[link];
                let is_after = group.contains(&link.to);
                let other = if is_after { link.from } else { link.to };
                let other = behind(change, settled, schedule, other).unwrap_or(other);
                let is_other = change.counted[other] || settled.stands[other].is_some();
                match (is_after, is_other) {
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

/// The task by which a step that is only passed comes when it does; nothing for a task.
fn behind(
    change: &Change<'_>,
    settled: &Settled,
    schedule: &Schedule,
    step: usize,
) -> Option<usize> {
    if change.counted[step] {
        return None;
    }
    let before = settled.judged.links.iter().filter(|link| link.to == step);
    let end = |at: usize| schedule.starts[at] + settled.judged.steps[at].duration;
    let last = before.max_by_key(|link| (end(link.from) + link.min_lag, link.from));
    last.map(|link| link.from)
}

/// A step and those that may not wait long for it, or it for them: they are done in one go.
fn together(settled: &Settled, step: usize) -> Vec<usize> {
    let (mut all, mut at) = (vec![step], 0);
    while let Some(one) = all.get(at).copied() {
        at += 1;
        for link in settled.judged.links.iter().filter(|l| l.max_lag.is_some()) {
            let other = if link.from == one {
                link.to
            } else if link.to == one {
                link.from
            } else {
                continue;
            };
            if settled.stands[other].is_none() && !all.contains(&other) {
                all.push(other);
            }
        }
    }
    all
}

/// The schedule with steps at their old times; what is only passed follows.
fn put_back(
    (change, settled): (&Change<'_>, &Settled),
    schedule: &Schedule,
    steps: &[usize],
) -> Schedule {
    let mut back = schedule.clone();
    for step in steps {
        back.starts[*step] = change.was[*step];
    }
    settled.follow(&mut back.starts);
    back
}

//! Which processes recur on a floor.

use super::look::Look;
use crate::{
    film::touches_film,
    knowledge::{Process, Truth},
    survey::Goal,
};

/// What processes stand in for one another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// Cleaning by the day.
    Routine,
    /// Keeps a floor without laying or taking off anything.
    Upkeep,
    /// Renews what lies there as a part of its upkeep.
    Renewal,
    /// Anything else: it is done when the film asks for it, or again because it was done before.
    Restoration,
}

/// The kinds of which a floor wants one process.
const ONE_OF: [Kind; 3] = [Kind::Routine, Kind::Upkeep, Kind::Renewal];

/// Whether a process is routine cleaning.
pub(super) fn is_routine(process: &Process) -> bool {
    kind(process) == Kind::Routine
}

fn serves(process: &Process, goal: Goal) -> bool {
    process.goals.iter().any(|word| word == goal.word())
}

fn kind(process: &Process) -> Kind {
    if serves(process, Goal::Clean) && !process.restorative {
        Kind::Routine
    } else if !serves(process, Goal::Maintain) {
        Kind::Restoration
    } else if touches_film(process) {
        Kind::Renewal
    } else {
        Kind::Upkeep
    }
}

/// What recurs on a floor, in the order of the knowledge base.
///
/// What was done there recurs where it can suit the floor again. Of each kind of upkeep that nobody reported, the process
/// with the lowest rank recurs, by which the planner too chooses; and what the film asks for as it is. What another trade
/// does is not ours to plan, and what makes a floor safe has a cause and no interval.
pub(super) fn recurring<'l>(look: &Look<'l>) -> Vec<&'l Process> {
    let mut found: Vec<&'l Process> = Vec::new();
    let mut asked: Option<&'l Process> = None;
    let mut never_done: Vec<&'l Process> = Vec::new();
    let processes = &look.input.base.processes;
    for process in processes.iter().filter(|process| !process.specialist) {
        let upkeep = serves(process, Goal::Maintain);
        let has_cause = serves(process, Goal::MakeSafe) && !upkeep;
        let is_done = look.last.contains_key(&process.key);
        if is_done && !has_cause && look.can_suit(process, true) {
            found.push(process);
        } else if upkeep && look.can_suit(process, false) {
            never_done.push(process);
        } else if !upkeep
            && touches_film(process)
            && asked.is_none_or(|asked| process.rank < asked.rank)
            && look.can_suit(process, false)
            && look.suits(process) == Truth::True
        {
            asked = Some(process);
        }
    }
    for one_of in ONE_OF {
        if !found.iter().any(|process| kind(process) == one_of) {
            let same = never_done.iter().filter(|process| kind(process) == one_of);
            found.extend(same.min_by_key(|process| process.rank));
        }
    }
    found.extend(asked);
    found
}

//! A schedule under way is changed as little as may be: what has happened stands, and of the rest as few tasks as possible move.
//!
//! The order of what counts: it can be done; the fewest tasks move; they move by the fewest minutes in all; then the objective.
//! That no schedule moves fewer tasks is proven where the search comes to its end, and told where it does not.

mod cause;
mod fewest;
mod lose;
mod mend;
mod relax;
mod room;
mod settle;

use super::measure::Measures;
use super::network::Network;
use super::reason::obstacles;
use super::{
    Breach, Effort, Fault, Go, NoSchedule, Objective, Reason, Schedule, Time, Workload, solve,
    verify,
};

pub use cause::Cause;
pub use lose::{Loss, lose, withdraw};

/// What is known of a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fact {
    /// It is over, or under way: when it began, and how long it took or will take.
    Is {
        /// Its start.
        start: Time,
        /// Its length.
        duration: Time,
    },
    /// It does not begin before.
    NotBefore(Time),
}

/// A schedule, and what has become of it.
#[derive(Debug, Clone, Copy)]
pub struct Change<'a> {
    /// What is to be done as it is now: with the windows and units that are left.
    pub workload: &'a Workload,
    /// The starts of the schedule that is under way.
    pub was: &'a [Time],
    /// What is known of each step. Of what nothing is known and what should have begun before `now` is taken to have begun.
    pub facts: &'a [Option<Fact>],
    /// Which steps are tasks that somebody is told of: the others follow them, and their moves are not counted.
    pub counted: &'a [bool],
    /// Nothing that has not begun begins before.
    pub now: Time,
    /// Steps from this one on only keep units busy that [`lose`] took: figures leave them out.
    pub busy_from: usize,
}

/// A task that begins at another time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Moved {
    /// The step.
    pub step: usize,
    /// Its start before.
    pub from: Time,
    /// Its start now.
    pub to: Time,
    /// Why it could not stay.
    pub cause: Cause,
}

/// A schedule that keeps to what has happened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Repaired {
    /// The schedule, verified.
    pub schedule: Schedule,
    /// How long each step takes in it.
    pub durations: Vec<Time>,
    /// What moved, in the order of the new starts. What has happened is no move.
    pub moved: Vec<Moved>,
    /// Sum of the minutes by which they moved.
    pub shift: Time,
    /// Whether it is proven that no schedule moves fewer tasks.
    pub is_fewest: bool,
    /// Its figures.
    pub measures: Measures,
    /// How many schedules were tried.
    pub schedules: u64,
}

/// Why a schedule cannot be changed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Unrepaired {
    /// The workload or the change is faulty.
    #[error("the workload has {} faults", .0.len())]
    Faulty(Vec<Fault>),
    /// The lists are not as long as the workload has steps.
    #[error("the change does not fit the workload")]
    Count,
    /// A step is said to have begun, and one that it waits for is not: the step, and that one.
    #[error("step {0} has begun before step {1}, for which it waits")]
    OutOfOrder(usize, usize),
    /// A fact lies outside the time that is scheduled.
    #[error("what is told of step {0} lies outside the time that is scheduled")]
    Outside(usize),
    /// What is left cannot be done, which is proven.
    #[error("it cannot be done for {} reasons", .0.len())]
    Impossible(Vec<Reason>),
    /// A step had to follow one that has happened sooner than it now can: the link, and the least wait that is left.
    #[error("link {0} cannot be kept any more")]
    TooLate(usize, Time),
    /// None was found, which proves nothing.
    #[error("none was found in {schedules} schedules")]
    NotFound {
        /// Schedules tried.
        schedules: u64,
    },
    /// What was found breaks the workload: a mistake of the engine, caught before it is returned.
    #[error("the schedule found has {} breaches", .0.len())]
    Unsound(Vec<Breach>),
}

/// Changes a schedule as little as may be. The same change, seed and effort give the same schedule.
///
/// # Errors
/// [`Unrepaired`] where nothing is found that keeps to what has happened.
pub fn repair(
    change: &Change<'_>,
    objective: Objective,
    effort: Effort,
) -> Result<Repaired, Unrepaired> {
    let n = change.workload.steps.len();
    if [change.was.len(), change.facts.len(), change.counted.len()] != [n; 3] {
        return Err(Unrepaired::Count);
    }
    let found = super::check::faults(change.workload, false);
    if !found.is_empty() {
        return Err(Unrepaired::Faulty(found));
    }
    let settled = settle::settle(change)?;
    let net = Network::new(&settled.workload).map_err(Unrepaired::Faulty)?;
    let reasons = obstacles(&net);
    if !reasons.is_empty() {
        return Err(settled.impossible(change, reasons));
    }
    let mut mender = mend::Mender::new(&net, &settled, change, (objective, effort));
    mender.run();
    if mender.best.is_none() {
        // Nothing near the old schedule fits: any schedule is better than none.
        let mut on = |_: &super::Progress<'_>| Go::On;
        match solve(&settled.pinned(), objective, effort, &mut on) {
            Ok(answer) => {
                for mut choice in answer.choices {
                    settled.put_back(&mut choice.schedule);
                    mender.offer(&choice.schedule);
                }
                mender.spend(answer.schedules);
            }
            Err(NoSchedule::Impossible(reasons)) => {
                return Err(settled.impossible(change, reasons));
            }
            Err(NoSchedule::Faulty(faults)) => return Err(Unrepaired::Faulty(faults)),
            Err(NoSchedule::Unsound(breaches)) => return Err(Unrepaired::Unsound(breaches)),
            Err(NoSchedule::NotFound { .. }) => {}
        }
    }
    let schedules = mender.schedules();
    let is_fewest = mender.is_fewest;
    let Some(best) = mender.best else {
        return Err(Unrepaired::NotFound { schedules });
    };
    let mut schedule = best.schedule;
    settled.follow(&mut schedule.starts);
    let breaches = verify(&settled.judged, &schedule);
    if !breaches.is_empty() || !settled.stands(&schedule) {
        return Err(Unrepaired::Unsound(breaches));
    }
    let mut moved = cause::moved(change, &settled, &schedule);
    moved.sort_by_key(|moved| (moved.to, moved.step));
    Ok(Repaired {
        shift: moved
            .iter()
            .map(|moved| (moved.to - moved.from).abs())
            .sum(),
        durations: settled
            .judged
            .steps
            .iter()
            .map(|step| step.duration)
            .collect(),
        measures: settled.measures(&schedule.starts),
        moved,
        is_fewest,
        schedule,
        schedules,
    })
}

//! What has happened, written into the workload: it stands where it is, whatever windows and shifts say, and the rest waits for it.

use super::relax::{relax, relax_ways};
use super::{Change, Fact, Unrepaired};
use crate::schedule::{
    Calendar, Link, Measures, Obstacle, Reason, Remedy, Schedule, Step, Time, Window, Workload,
    measures,
};

/// A change as a workload.
#[derive(Debug, Clone)]
pub(super) struct Settled {
    /// For the search: without links of what stands, and without steps that are only passed.
    pub(super) workload: Workload,
    /// For the verifier: with every link that something can still be done about.
    pub(super) judged: Workload,
    /// The start of each step that stands.
    pub(super) stands: Vec<Option<Time>>,
    /// Steps that are only passed, in the order of their links, each with what it waits for and how long.
    passed: Vec<(usize, Vec<(usize, Time)>)>,
    /// What figures are reckoned from.
    figures: Workload,
}

/// Writes what is known into the workload.
pub(super) fn settle(change: &Change<'_>) -> Result<Settled, Unrepaired> {
    let mut judged = change.workload.clone();
    let mut stands = standing(change, &mut judged)?;
    in_order(&judged, &mut stands, change)?;
    for (at, step) in judged.steps.iter_mut().enumerate() {
        if stands[at].is_some() {
            step.calendar = None;
            step.release = 0;
        } else if change.counted[at] {
            let told = match change.facts[at] {
                Some(Fact::NotBefore(moment)) => moment,
                Some(Fact::Is { .. }) | None => 0,
            };
            step.release = step.release.max(change.now).max(told);
        }
    }
    relax(&mut judged, &mut stands, change.counted);
    relax_ways(&mut judged, &stands);
    // What both ends of have happened cannot be kept any more, or is kept.
    judged
        .links
        .retain(|link| stands[link.from].is_none() || stands[link.to].is_none());
    let mut workload = judged.clone();
    for at in 0..workload.links.len() {
        bound(&mut workload, at, &stands).map_err(|wait| {
            Unrepaired::TooLate(named(change, &workload.links[at]).unwrap_or(at), wait)
        })?;
    }
    workload.links.retain(|link| stands[link.from].is_none());
    let passed = pass(&mut workload, change, &stands);
    let passed = with_links(&judged, passed);
    let late = (0..stands.len()).filter(|at| stands[*at].is_none());
    let late: Vec<Reason> = late.filter_map(|at| too_late(&workload, at)).collect();
    if !late.is_empty() {
        return Err(Unrepaired::Impossible(late));
    }
    let mut figures = judged.clone();
    figures.steps.truncate(change.busy_from);
    Ok(Settled {
        workload,
        judged,
        stands,
        passed,
        figures,
    })
}

/// What cannot begin before so late that it does not end in time.
fn too_late(workload: &Workload, at: usize) -> Option<Reason> {
    let step = &workload.steps[at];
    let ends = step.release + step.duration;
    (ends > workload.horizon).then(|| Reason {
        obstacle: Obstacle::Horizon {
            chain: vec![at],
            short_by: ends - workload.horizon,
        },
        remedies: vec![Remedy::Until(ends)],
    })
}

/// The starts of what has begun, with the durations as they are told.
fn standing(change: &Change<'_>, workload: &mut Workload) -> Result<Vec<Option<Time>>, Unrepaired> {
    let mut stands = vec![None; workload.steps.len()];
    for (at, step) in workload.steps.iter_mut().enumerate() {
        stands[at] = match change.facts[at] {
            Some(Fact::Is { start, duration }) => {
                step.duration = duration;
                Some(start)
            }
            Some(Fact::NotBefore(_)) => None,
            None => (change.counted[at] && change.was[at] < change.now).then_some(change.was[at]),
        };
        let fits = |start: Time| start >= 0 && step.duration >= 0;
        let ends = |start: Time| start.saturating_add(step.duration) <= change.workload.horizon;
        if stands[at].is_some_and(|start| !fits(start) || !ends(start)) {
            return Err(Unrepaired::Outside(at));
        }
    }
    Ok(stands)
}

/// What waits for a task that has not begun has not begun either, unless somebody says so; what is only passed and lies before
/// something that stands was passed.
fn in_order(
    workload: &Workload,
    stands: &mut [Option<Time>],
    change: &Change<'_>,
) -> Result<(), Unrepaired> {
    let n = stands.len();
    let mut before = vec![Vec::new(); n];
    for link in &workload.links {
        before[link.to].push(link.from);
    }
    let mut behind: Vec<Option<usize>> = vec![None; n];
    for at in order(workload) {
        behind[at] = before[at].iter().find_map(|from| {
            let open = change.counted[*from] && stands[*from].is_none();
            open.then_some(*from).or(behind[*from])
        });
        match (behind[at], change.facts[at]) {
            (Some(open), Some(Fact::Is { .. })) => return Err(Unrepaired::OutOfOrder(at, open)),
            (Some(_), _) => stands[at] = None,
            (None, _) => {}
        }
    }
    follow_at_once(workload, stands, change)?;
    let mut left: Vec<usize> = (0..n).filter(|at| stands[*at].is_some()).collect();
    while let Some(at) = left.pop() {
        let start = stands[at].unwrap_or(0);
        for from in &before[at] {
            if stands[*from].is_none() {
                stands[*from] = Some((start - workload.steps[*from].duration).max(0));
                left.push(*from);
            }
        }
    }
    Ok(())
}

/// What follows at a fixed time and is no task of its own stands as well: the floor dries from when the work was done.
fn follow_at_once(
    workload: &Workload,
    stands: &mut [Option<Time>],
    change: &Change<'_>,
) -> Result<(), Unrepaired> {
    loop {
        let mut changed = false;
        for link in &workload.links {
            let follows = link.max_lag == Some(link.min_lag) && !change.counted[link.to];
            if let (Some(start), None, true) = (stands[link.from], stands[link.to], follows) {
                let start = start + workload.steps[link.from].duration + link.min_lag;
                stands[link.to] = Some(start);
                changed = true;
                if start + workload.steps[link.to].duration > workload.horizon {
                    return Err(Unrepaired::Outside(link.to));
                }
            }
        }
        if !changed {
            return Ok(());
        }
    }
}

/// The link of the workload as it was given that a link here stands for.
fn named(change: &Change<'_>, link: &Link) -> Option<usize> {
    let same = |other: &Link| {
        (other.from, other.to) == (link.from, link.to) && other.max_lag == link.max_lag
    };
    change.workload.links.iter().position(same)
}

/// What waits for something that stands: from when it may begin, and until when it must have begun.
fn bound(workload: &mut Workload, at: usize, stands: &[Option<Time>]) -> Result<(), Time> {
    let Link {
        from,
        to,
        min_lag,
        max_lag,
        ..
    } = workload.links[at];
    let Some(start) = stands[from] else {
        return Ok(());
    };
    let end = start + workload.steps[from].duration;
    let step = &mut workload.steps[to];
    step.release = step.release.max(end + min_lag).max(0);
    let Some(latest) = max_lag.map(|max| end + max) else {
        return Ok(());
    };
    if step.release > latest {
        return Err(step.release - end);
    }
    let until = latest + step.duration;
    let calendar = match step.calendar {
        Some(at) => workload.calendars[at].clone(),
        None => Calendar {
            name: String::new(),
            windows: vec![Window {
                from: 0,
                to: workload.horizon,
            }],
        },
    };
    let cut = calendar.windows.into_iter().map(|window| Window {
        to: window.to.min(until),
        ..window
    });
    let windows = cut.filter(|window| window.from < window.to).collect();
    step.calendar = Some(workload.calendars.len());
    workload.calendars.push(Calendar {
        windows,
        ..calendar
    });
    Ok(())
}

/// Takes steps out that are only passed: what waits for them waits for what is before them.
fn pass(workload: &mut Workload, change: &Change<'_>, stands: &[Option<Time>]) -> Vec<usize> {
    let is_passed = |at: usize, step: &Step, links: &[Link]| {
        let mut own = links.iter().filter(|link| link.from == at || link.to == at);
        step.duration == 0
            && stands[at].is_none()
            && !change.counted[at]
            && own.all(|link| link.max_lag.is_none())
    };
    let mut passed: Vec<usize> = Vec::new();
    for at in order(workload) {
        if !is_passed(at, &workload.steps[at], &workload.links) {
            continue;
        }
        passed.push(at);
        let (own, mut rest): (Vec<Link>, Vec<Link>) = std::mem::take(&mut workload.links)
            .into_iter()
            .partition(|link| link.from == at || link.to == at);
        let before = own.iter().filter(|link| link.to == at);
        let release = workload.steps[at].release;
        for after in own.iter().filter(|link| link.from == at) {
            let step = &mut workload.steps[after.to];
            step.release = step.release.max(release + after.min_lag);
            for link in before.clone() {
                rest.push(Link {
                    from: link.from,
                    to: after.to,
                    min_lag: link.min_lag + after.min_lag,
                    max_lag: None,
                    spread: None,
                });
            }
        }
        workload.links = rest;
    }
    passed
}

/// Steps with what each waits for, and how long after its end.
fn with_links(judged: &Workload, steps: Vec<usize>) -> Vec<(usize, Vec<(usize, Time)>)> {
    let mut before = vec![Vec::new(); judged.steps.len()];
    for link in &judged.links {
        before[link.to].push((link.from, link.min_lag));
    }
    let with = |at: usize| (at, std::mem::take(&mut before[at]));
    steps.into_iter().map(with).collect()
}

/// Steps in an order that respects all links; what is in a circle is left out, and found later.
fn order(workload: &Workload) -> Vec<usize> {
    let n = workload.steps.len();
    let mut waits = vec![0_usize; n];
    let mut after = vec![Vec::new(); n];
    for link in &workload.links {
        waits[link.to] += 1;
        after[link.from].push(link.to);
    }
    let mut order: Vec<usize> = (0..n).filter(|at| waits[*at] == 0).collect();
    let mut next = 0;
    while let Some(at) = order.get(next).copied() {
        next += 1;
        for to in &after[at] {
            waits[*to] -= 1;
            if waits[*to] == 0 {
                order.push(*to);
            }
        }
    }
    order
}

impl Settled {
    /// Puts steps that are only passed where what is before them lets them be.
    pub(super) fn follow(&self, starts: &mut [Time]) {
        for (at, before) in &self.passed {
            let end = |from: usize| starts[from] + self.judged.steps[from].duration;
            let ends = before.iter().map(|(from, lag)| end(*from) + lag);
            let release = self.judged.steps[*at].release;
            let start = ends.fold(release, Time::max);
            starts[*at] = start;
        }
    }

    /// The workload for a search that may put each step anywhere: what stands has only its own time.
    pub(super) fn pinned(&self) -> Workload {
        let mut workload = self.workload.clone();
        let calendars = &mut workload.calendars;
        for (step, stands) in workload.steps.iter_mut().zip(&self.stands) {
            let Some(from) = stands.filter(|_from| step.duration > 0) else {
                continue;
            };
            step.calendar = Some(calendars.len());
            let to = from + step.duration;
            calendars.push(Calendar {
                name: String::new(),
                windows: vec![Window { from, to }],
            });
        }
        workload
    }

    /// Puts what stands and takes no time where it stands: the rest of what stands is there.
    pub(super) fn put_back(&self, schedule: &mut Schedule) {
        for (at, stands) in self.stands.iter().enumerate() {
            let takes_none = self.workload.steps[at].duration == 0;
            if let Some(start) = stands.filter(|_start| takes_none) {
                schedule.starts[at] = start;
            }
        }
    }

    /// The figures of a schedule.
    pub(super) fn measures(&self, starts: &[Time]) -> Measures {
        measures(&self.figures, &starts[..self.figures.steps.len()])
    }

    /// Reasons in terms of the workload as it was given.
    pub(super) fn impossible(&self, change: &Change<'_>, mut reasons: Vec<Reason>) -> Unrepaired {
        for reason in &mut reasons {
            let told = std::mem::take(&mut reason.remedies);
            let told = told.into_iter().filter_map(|remedy| match remedy {
                Remedy::LongestWait { link, max_lag } => {
                    let link = named(change, self.workload.links.get(link)?)?;
                    Some(Remedy::LongestWait { link, max_lag })
                }
                Remedy::WindowOf(_)
                | Remedy::Units { .. }
                | Remedy::Until(_)
                | Remedy::MoreTime { .. } => Some(remedy),
            });
            reason.remedies = told.collect();
        }
        Unrepaired::Impossible(reasons)
    }

    /// Whether a step is only passed.
    pub(super) fn is_passed(&self, step: usize) -> bool {
        self.passed.iter().any(|(at, _)| *at == step)
    }

    /// Whether all that stands is where it stands.
    pub(super) fn stands(&self, schedule: &Schedule) -> bool {
        let both = self.stands.iter().zip(&schedule.starts);
        both.filter_map(|(stands, start)| Some((*stands)? == *start))
            .all(|same| same)
    }
}

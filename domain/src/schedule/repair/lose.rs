//! What is there no more: units of a resource for a while, windows of a calendar.

use crate::schedule::{Calendar, Demand, Period, Resource, Step, Time, Window, Workload};

/// Units of a resource that are not there for a while.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Loss {
    /// Index of the resource.
    pub resource: usize,
    /// When.
    pub window: Window,
    /// How many; all that are there where it is more.
    pub units: u32,
}

/// The windows without one more.
fn without(windows: &[Window], lost: Window) -> Vec<Window> {
    let cut = |window: &Window| {
        let before = Window {
            to: window.to.min(lost.from),
            ..*window
        };
        let after = Window {
            from: window.from.max(lost.to),
            ..*window
        };
        [before, after]
    };
    let parts = windows.iter().flat_map(cut);
    parts.filter(|window| window.from < window.to).collect()
}

/// Takes a window out of a calendar.
pub fn withdraw(calendar: &mut Calendar, window: Window) {
    if window.from < window.to {
        calendar.windows = without(&calendar.windows, window);
    }
}

/// Takes units of a resource away for a while, and says with how many further steps of the workload, each with its start.
///
/// Where none are left, the shift is cut. Where some are, what is lost is kept busy by steps of a place of their own to
/// which there is no way, so that the shift stays one for those who are there.
pub fn lose(workload: &mut Workload, loss: &Loss) -> Vec<Time> {
    let away = loss.window;
    let Some(resource) = workload.resources.get_mut(loss.resource) else {
        return Vec::new();
    };
    if away.from >= away.to || loss.units == 0 {
        return Vec::new();
    }
    if !resource.whole_shift {
        resource.periods = thinned(resource, loss);
        return Vec::new();
    }
    let (mut left, mut busy) = (Vec::new(), Vec::new());
    for period in &resource.periods {
        let (from, to) = (
            away.from.max(period.window.from),
            away.to.min(period.window.to),
        );
        if from >= to {
            left.push(*period);
        } else if loss.units < period.units {
            left.push(*period);
            busy.push(Window { from, to });
        } else {
            let parts = without(&[period.window], away).into_iter();
            left.extend(parts.map(|window| Period { window, ..*period }));
        }
    }
    resource.periods = left;
    let place = if busy.is_empty() {
        0
    } else {
        away_from_all(resource)
    };
    let (name, demand) = (
        resource.name.clone(),
        Demand {
            resource: loss.resource,
            units: loss.units,
        },
    );
    let step = |window: &Window| Step {
        name: format!("{name}, lost"),
        duration: window.to - window.from,
        demands: vec![demand],
        place,
        ..Step::default()
    };
    workload.steps.extend(busy.iter().map(step));
    busy.into_iter().map(|window| window.from).collect()
}

/// The place of units that are not there: no way leads to it or from it. It is added to the places where there is none yet.
fn away_from_all(resource: &mut Resource) -> usize {
    let gaps = &mut resource.gaps;
    let n = gaps.len();
    let Some(last) = n.checked_sub(1) else {
        return 0;
    };
    let is_none = |gap: Option<&Time>| gap.is_none_or(|gap| *gap == 0);
    let is_apart = (0..n).all(|at| is_none(gaps[last].get(at)) && is_none(gaps[at].get(last)));
    if is_apart {
        return last;
    }
    for row in &mut *gaps {
        row.push(0);
    }
    gaps.push(vec![0; n + 1]);
    n
}

/// Periods with so many units fewer in a window.
fn thinned(resource: &Resource, loss: &Loss) -> Vec<Period> {
    let mut periods = Vec::new();
    for period in &resource.periods {
        let inside = Window {
            from: loss.window.from.max(period.window.from),
            to: loss.window.to.min(period.window.to),
        };
        if inside.from >= inside.to {
            periods.push(*period);
            continue;
        }
        let left = without(&[period.window], loss.window).into_iter();
        periods.extend(left.map(|window| Period { window, ..*period }));
        let units = period.units.saturating_sub(loss.units);
        if units > 0 {
            periods.push(Period {
                window: inside,
                units,
                ..*period
            });
        }
    }
    periods.sort_by_key(|period| period.window.from);
    periods
}

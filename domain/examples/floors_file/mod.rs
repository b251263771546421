//! Reads made-up floors under access windows from the text that `floors` and `tests/peer/run.py` take.

use domain::schedule::{
    Calendar, Demand, Link, Resource, ResourceKind, Space, Step, Time, Window, Workload,
};

/// The workload of a file; `None` where it cannot be read.
pub(crate) fn read(text: &str) -> Option<Workload> {
    let mut lines = text.lines();
    let numbers = |line: &str| -> Option<Vec<Time>> {
        let cells = line
            .split_whitespace()
            .filter(|cell| !matches!(*cell, "W" | "B"));
        cells.map(|cell| cell.parse().ok()).collect()
    };
    let units = numbers(lines.next()?)?;
    let horizon = *numbers(lines.next()?)?.first()?;
    let mut workload = Workload {
        horizon,
        ..Workload::default()
    };
    for (at, units) in units.iter().skip(1).enumerate() {
        let units = u32::try_from(*units).ok()?;
        let name = format!("resource {at}");
        workload
            .resources
            .push(Resource::steady(&name, ResourceKind::Zone, units, horizon));
    }
    let mut floor = 0;
    for line in lines.filter(|line| !line.trim().is_empty()) {
        let cells = numbers(line)?;
        match (line.as_bytes().first()?, cells.as_slice()) {
            (b'W', [of, from, to]) => {
                let of = usize::try_from(*of).ok()?;
                while workload.calendars.len() <= of {
                    workload.calendars.push(Calendar::default());
                }
                let window = Window {
                    from: *from,
                    to: horizon.min(*to),
                };
                workload.calendars.get_mut(of)?.windows.push(window);
            }
            (b'B', [_, of, _]) => {
                floor = usize::try_from(*of).ok()?;
                workload.spaces.push(Space::default());
            }
            (_, [duration, min_lag, max_lag, demands @ ..]) => {
                step(
                    &mut workload,
                    floor,
                    (*duration, *min_lag, *max_lag),
                    demands,
                )?;
            }
            _ => return None,
        }
    }
    Some(workload)
}

fn step(
    workload: &mut Workload,
    floor: usize,
    (duration, min_lag, max_lag): (Time, Time, Time),
    demands: &[Time],
) -> Option<()> {
    let at = workload.steps.len();
    let bay = workload.spaces.len().checked_sub(1)?;
    let space = workload.spaces.last_mut()?;
    if let Some(from) = space.opens_after.pop() {
        workload.links.push(Link {
            from,
            to: at,
            min_lag,
            max_lag: (max_lag >= 0).then_some(max_lag),
            spread: None,
        });
    }
    space.opens_after.push(at);
    let demand = |(resource, units): (usize, &Time)| {
        let units = u32::try_from(*units).ok()?;
        Some(Demand { resource, units })
    };
    let demands: Option<Vec<Demand>> = demands.iter().enumerate().map(demand).collect();
    workload.steps.push(Step {
        duration,
        calendar: Some(floor),
        demands: demands?.into_iter().filter(|d| d.units > 0).collect(),
        space: Some(bay),
        ..Step::default()
    });
    Some(())
}

//! Instances of PSPLIB and of ProGen/max as workloads.

use domain::schedule::{Demand, Link, Resource, ResourceKind, Step, Time, Workload};

/// Reads a single-mode instance: precedence relations, durations and requests, availabilities.
pub(crate) fn read(text: &str) -> Option<Workload> {
    let lines: Vec<&str> = text.lines().collect();
    let section = |name: &str, skip: usize| {
        let at = lines.iter().position(|line| line.starts_with(name))?;
        let rows = lines
            .iter()
            .skip(at + skip)
            .take_while(|line| !line.starts_with('*'));
        let numbers = |line: &&str| {
            line.split_whitespace()
                .map(str::parse)
                .collect::<Result<Vec<usize>, _>>()
                .ok()
        };
        rows.map(numbers).collect::<Option<Vec<_>>>()
    };
    let requests = section("REQUESTS/DURATIONS", 3)?;
    let mut available = section("RESOURCEAVAILABILITIES", 2)?;
    let horizon = requests.iter().filter_map(|row| row.get(2)).sum::<usize>() + 1;
    let horizon = Time::try_from(horizon).ok()?;
    let mut workload = house(horizon, &available.pop()?, &requests)?;
    for row in section("PRECEDENCE RELATIONS", 2)? {
        let from = row.first()?.checked_sub(1)?;
        for next in row.iter().skip(3) {
            workload.links.push(Link {
                from,
                to: next.checked_sub(1)?,
                min_lag: 0,
                max_lag: None,
                spread: None,
            });
        }
    }
    Some(workload)
}

/// Reads an instance with minimum and maximum lags: successors with the distances of their starts, of which a negative one is a
/// maximum lag the other way round; durations and demands; capacities.
pub(crate) fn read_lags(text: &str) -> Option<Workload> {
    let mut rows = text.lines().filter(|line| !line.trim().is_empty());
    let first: Vec<usize> = numbers(rows.next()?)?;
    let n = first.first()? + 2;
    let successors: Vec<Vec<Time>> = rows.by_ref().take(n).map(numbers).collect::<Option<_>>()?;
    let requests: Vec<Vec<Time>> = rows.by_ref().take(n).map(numbers).collect::<Option<_>>()?;
    let capacities: Vec<Time> = numbers(rows.next()?)?;
    let duration = |step: usize| requests.get(step)?.get(2).copied();
    let mut links = Vec::new();
    let mut horizon = 1;
    for (from, row) in successors.iter().enumerate() {
        let count = usize::try_from(*row.get(2)?).ok()?;
        let mut longest = duration(from)?;
        for at in 0..count {
            let to = usize::try_from(*row.get(3 + at)?).ok()?;
            let lag = *row.get(3 + count + at)?;
            longest = longest.max(lag);
            links.push(Link {
                from,
                to,
                min_lag: lag - duration(from)?,
                max_lag: None,
                spread: None,
            });
        }
        horizon += longest;
    }
    let mut workload = house(horizon, &capacities, &requests)?;
    workload.links = links;
    Some(workload)
}

/// Resources, and steps with id, mode, duration and a demand for each resource.
fn house<N: Copy + TryInto<u32>>(
    horizon: Time,
    capacities: &[N],
    requests: &[Vec<N>],
) -> Option<Workload> {
    let mut workload = Workload {
        horizon,
        ..Workload::default()
    };
    let number = |cell: &N| (*cell).try_into().ok();
    for (at, units) in capacities.iter().enumerate() {
        let name = format!("resource {at}");
        let resource = Resource::steady(&name, ResourceKind::Zone, number(units)?, horizon);
        workload.resources.push(resource);
    }
    for row in requests {
        let demand = |(resource, units): (usize, &N)| {
            let units = number(units)?;
            Some(Demand { resource, units })
        };
        let demands: Option<Vec<Demand>> = row.iter().skip(3).enumerate().map(demand).collect();
        workload.steps.push(Step {
            duration: number(row.get(2)?)?.into(),
            demands: demands?,
            ..Step::default()
        });
    }
    Some(workload)
}

/// The numbers of a line, with or without brackets.
fn numbers<T: std::str::FromStr>(line: &str) -> Option<Vec<T>> {
    let cells = line.split_whitespace();
    let cells = cells.map(|cell| cell.trim_matches(['[', ']']).parse().ok());
    cells.collect()
}

//! Schedules of made-up floors under access windows: `floors [--schedules N] [--seeds N] FILE...`.
//!
//! A file has the capacities of its resources, the horizon, lines `W floor from to` of windows, lines `B bay floor steps`
//! and below each its steps `duration least_wait longest_wait demand...`; -1 is no longest wait.

#![expect(clippy::print_stdout, reason = "its output is what it is for")]

use std::error::Error;
use std::time::Instant;

use domain::schedule::{
    Calendar, Demand, Effort, Go, Link, Objective, Resource, ResourceKind, Space, Step, Time,
    Window, Workload, solve,
};

fn main() -> Result<(), Box<dyn Error>> {
    let mut args = std::env::args().skip(1);
    let (mut schedules, mut seeds, mut files) = (2_000, 1, Vec::new());
    while let Some(arg) = args.next() {
        match arg.as_str() {
            "--schedules" => schedules = args.next().ok_or("a number")?.parse()?,
            "--seeds" => seeds = args.next().ok_or("a number")?.parse()?,
            _ => files.push(arg),
        }
    }
    println!("file,steps,seed,reopening,bound,schedules,seconds,first_at");
    for file in files {
        let workload = read(&std::fs::read_to_string(&file)?).ok_or("unreadable")?;
        for seed in 1..=seeds {
            let since = Instant::now();
            // How many schedules were made when it was first told of one: it is told after each few moves.
            let mut first = None;
            let effort = Effort { schedules, seed };
            let answer = solve(
                &workload,
                Objective::EarliestReopening,
                effort,
                &mut |progress| {
                    if progress.best.is_some() && first.is_none() {
                        first = Some(progress.schedules);
                    }
                    Go::On
                },
            )?;
            let reopening = answer.choices.first().map(|c| c.measures.last_reopening);
            println!(
                "{file},{},{seed},{},{},{},{:.2},{}",
                workload.steps.len(),
                reopening.unwrap_or(-1),
                answer.bounds.0.last_reopening,
                answer.schedules,
                since.elapsed().as_secs_f64(),
                first.unwrap_or(answer.schedules)
            );
        }
    }
    Ok(())
}

fn read(text: &str) -> Option<Workload> {
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

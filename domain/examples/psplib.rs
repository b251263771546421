//! Mean deviation from the best known makespans: `psplib FOLDER [--schedules N] [--seed N] [--sets j30,j60] [--each]`. With `--each`
//! a line for each instance.
//!
//! The folder holds one folder of instances for each set and `best_known.csv` with set, file, lower and upper bound.

#![expect(clippy::print_stdout, reason = "its output is what it is for")]

use std::collections::BTreeMap;
use std::error::Error;
use std::time::Instant;

use domain::schedule::{
    Demand, Effort, Go, Link, Objective, Resource, ResourceKind, Step, Time, Workload, solve,
};

fn main() -> Result<(), Box<dyn Error>> {
    let args: Vec<String> = std::env::args().collect();
    let folder = args.get(1).ok_or("psplib FOLDER")?;
    let option = |name: &str| {
        let at = args.iter().position(|arg| arg == name)?;
        args.get(at + 1).cloned()
    };
    let schedules = option("--schedules").map_or(Ok(5_000), |n| n.parse())?;
    let seed = option("--seed").map_or(Ok(1), |n| n.parse())?;
    let sets = option("--sets").unwrap_or_else(|| "j30,j60,j90,j120".to_owned());
    let each = args.iter().any(|arg| arg == "--each");
    if each {
        println!("set,file,made,best,bound,seconds");
    }
    let known = std::fs::read_to_string(format!("{folder}/best_known.csv"))?;
    let mut rows: BTreeMap<&str, Vec<(f64, f64, bool, f64)>> = BTreeMap::new();
    for line in known.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let [set, file, _, best, ..] = cells.as_slice() else {
            continue;
        };
        if !sets.split(',').any(|wanted| wanted == *set) {
            continue;
        }
        let text = std::fs::read(format!("{folder}/{set}/{file}"))?;
        let workload = read(&String::from_utf8_lossy(&text)).ok_or("unreadable")?;
        let best: Time = best.parse()?;
        let since = Instant::now();
        let effort = Effort { schedules, seed };
        let answer = solve(&workload, Objective::EarliestReopening, effort, &mut |_| {
            Go::On
        })?;
        let seconds = since.elapsed().as_secs_f64();
        let choice = answer.choices.first().ok_or("no choice")?;
        let made = f64::from(i32::try_from(choice.measures.last_reopening)?);
        let bound = answer.bounds.0.last_reopening;
        let above = made / f64::from(i32::try_from(best)?) - 1.0;
        let gap = made / f64::from(i32::try_from(bound)?) - 1.0;
        if bound > best {
            println!("{file}: bound {bound} above the best known {best}");
        }
        if each {
            let made = choice.measures.last_reopening;
            println!("{set},{file},{made},{best},{bound},{seconds:.3}");
        }
        rows.entry(set)
            .or_default()
            .push((100.0 * above, 100.0 * gap, bound > best, seconds));
    }
    if each {
        return Ok(());
    }
    println!(
        "set,instances,above_best_pct,worst_pct,at_best,above_bound_pct,bound_wrong,seconds_each"
    );
    for (set, rows) in rows {
        let n = f64::from(u32::try_from(rows.len())?);
        let mean = |of: fn(&(f64, f64, bool, f64)) -> f64| rows.iter().map(of).sum::<f64>() / n;
        let worst = rows.iter().map(|row| row.0).fold(0.0, f64::max);
        let at_best = rows.iter().filter(|row| row.0 <= 0.0).count();
        let wrong = rows.iter().filter(|row| row.2).count();
        println!(
            "{set},{n},{:.3},{worst:.2},{at_best},{:.2},{wrong},{:.3}",
            mean(|row| row.0),
            mean(|row| row.1),
            mean(|row| row.3)
        );
    }
    Ok(())
}

/// Reads a single-mode instance: precedence relations, durations and requests, availabilities.
fn read(text: &str) -> Option<Workload> {
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
    let mut workload = Workload {
        horizon,
        ..Workload::default()
    };
    for (at, units) in available.pop()?.into_iter().enumerate() {
        let units = u32::try_from(units).ok()?;
        let name = format!("resource {at}");
        workload
            .resources
            .push(Resource::steady(&name, ResourceKind::Zone, units, horizon));
    }
    for row in &requests {
        let demand = |(resource, units): (usize, &usize)| {
            let units = u32::try_from(*units).ok()?;
            Some(Demand { resource, units })
        };
        let demands: Option<Vec<Demand>> = row.iter().skip(3).enumerate().map(demand).collect();
        workload.steps.push(Step {
            duration: Time::try_from(*row.get(2)?).ok()?,
            demands: demands?,
            ..Step::default()
        });
    }
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

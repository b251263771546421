//! Mean deviation from the best known makespans: `psplib FOLDER [--schedules N] [--seed N] [--sets j30,max_ubo50] [--each]`. With
//! `--each` a line for each instance.
//!
//! The folder holds one folder of instances for each set and `best_known.csv` with set, file, lower and upper bound; of one that
//! has no schedule the bounds are empty. The names of sets with minimum and maximum lags begin with `max_`.

#![expect(clippy::print_stdout, reason = "its output is what it is for")]

mod psplib_file;

use std::collections::BTreeMap;
use std::error::Error;
use std::time::Instant;

use domain::schedule::{Effort, Go, NoSchedule, Objective, Time, solve};

/// What became of an instance.
struct Row {
    best: Option<Time>,
    made: Option<Time>,
    bound: Time,
    is_proven: bool,
    seconds: f64,
}

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
        println!("set,file,made,best,bound,seconds,answer");
    }
    let known = std::fs::read_to_string(format!("{folder}/best_known.csv"))?;
    let mut rows: BTreeMap<&str, Vec<Row>> = BTreeMap::new();
    for line in known.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let [set, file, _, best, ..] = cells.as_slice() else {
            continue;
        };
        if !sets.split(',').any(|wanted| wanted == *set) {
            continue;
        }
        let text = std::fs::read(format!("{folder}/{set}/{file}"))?;
        let best = (!best.is_empty()).then(|| best.parse()).transpose()?;
        let row = run(set, &text, best, Effort { schedules, seed })?;
        if best.is_some_and(|best| row.bound > best) {
            println!("{file}: bound {} above the best known", row.bound);
        }
        if each {
            let shown = |time: Option<Time>| time.map_or(String::new(), |time| time.to_string());
            let answer = match (row.made, row.is_proven) {
                (Some(_), _) => "found",
                (None, true) => "proven",
                (None, false) => "none",
            };
            let (made, best) = (shown(row.made), shown(row.best));
            let (bound, seconds) = (row.bound, row.seconds);
            println!("{set},{file},{made},{best},{bound},{seconds:.3},{answer}");
        }
        rows.entry(set).or_default().push(row);
    }
    if each {
        return Ok(());
    }
    println!(
        "set,instances,found,above_best_pct,worst_pct,at_best,above_bound_pct,bound_wrong,unsat_none,unsat_proven,unsat_found,seconds_each"
    );
    for (set, rows) in rows {
        tell(set, &rows)?;
    }
    Ok(())
}

fn run(set: &str, text: &[u8], best: Option<Time>, effort: Effort) -> Result<Row, Box<dyn Error>> {
    let text = String::from_utf8_lossy(text);
    let read = if set.starts_with("max_") {
        psplib_file::read_lags
    } else {
        psplib_file::read
    };
    let workload = read(&text).ok_or("unreadable")?;
    let since = Instant::now();
    let answer = solve(&workload, Objective::EarliestReopening, effort, &mut |_| {
        Go::On
    });
    let seconds = since.elapsed().as_secs_f64();
    let (made, bound, is_proven) = match answer {
        Ok(answer) => {
            let choice = answer.choices.first().ok_or("no choice")?;
            let made = choice.measures.last_reopening;
            (Some(made), answer.bounds.0.last_reopening, false)
        }
        Err(NoSchedule::Impossible(_)) => (None, 0, true),
        Err(NoSchedule::NotFound { .. }) => (None, 0, false),
        Err(other) => return Err(other.into()),
    };
    Ok(Row {
        best,
        made,
        bound,
        is_proven,
        seconds,
    })
}

/// By how many per cent a time is above another.
fn above(time: Time, other: Time) -> Option<f64> {
    let number = |time: Time| i32::try_from(time).ok().map(f64::from);
    Some(100.0 * (number(time)? / number(other)? - 1.0))
}

fn tell(set: &str, rows: &[Row]) -> Result<(), Box<dyn Error>> {
    let with = |of: fn(&Row) -> bool| rows.iter().filter(|row| of(row)).count();
    let over_best = |row: &Row| above(row.made?, row.best?);
    let over_best: Vec<f64> = rows.iter().filter_map(over_best).collect();
    let over_bound = |row: &Row| row.best.and_then(|_| above(row.made?, row.bound));
    let over_bound: Vec<f64> = rows.iter().filter_map(over_bound).collect();
    let mean = |values: &[f64]| -> Result<f64, Box<dyn Error>> {
        Ok(values.iter().sum::<f64>() / f64::from(u32::try_from(values.len())?))
    };
    let seconds: Vec<f64> = rows.iter().map(|row| row.seconds).collect();
    println!(
        "{set},{},{},{:.3},{:.2},{},{:.2},{},{},{},{},{:.3}",
        rows.len(),
        over_best.len(),
        mean(&over_best)?,
        over_best.iter().copied().fold(0.0, f64::max),
        over_best.iter().filter(|above| **above <= 0.0).count(),
        mean(&over_bound)?,
        with(|row| row.best.is_some_and(|best| row.bound > best)),
        with(|row| row.best.is_none() && row.made.is_none() && !row.is_proven),
        with(|row| row.best.is_none() && row.is_proven),
        with(|row| row.best.is_none() && row.made.is_some()),
        mean(&seconds)?,
    );
    Ok(())
}

//! Schedules of made-up floors under access windows: `floors [--schedules N] [--seeds N] FILE...`.
//!
//! A file has the capacities of its resources, the horizon, lines `W floor from to` of windows, lines `B bay floor steps`
//! and below each its steps `duration least_wait longest_wait demand...`; -1 is no longest wait.

#![expect(clippy::print_stdout, reason = "its output is what it is for")]

use std::error::Error;
use std::time::Instant;

use domain::schedule::{Effort, Go, Objective, solve};

mod floors_file;

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
        let workload = floors_file::read(&std::fs::read_to_string(&file)?).ok_or("unreadable")?;
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

//! What a walk prints.

use std::{collections::BTreeMap, io::Write};

use serde_json::Value;

use super::{Planned, Room, Trouble};

/// Outcomes with what they mean, in the order in which they are told.
const OUTCOMES: [(&str, &str); 6] = [
    ("created", "registered"),
    ("updated", "registered before, changed now"),
    ("unchanged", "registered before, unchanged"),
    ("out_of_scope", "soft floor, not stored"),
    ("to_split", "several coverings, to be split"),
    ("needs_attention", "needs attention, not stored"),
];

fn word<'a>(value: &'a Value, pointer: &str) -> &'a str {
    value
        .pointer(pointer)
        .and_then(Value::as_str)
        .unwrap_or("?")
}

fn number(value: &Value, pointer: &str) -> f64 {
    value
        .pointer(pointer)
        .and_then(Value::as_f64)
        .unwrap_or_default()
}

fn items<'a>(value: &'a Value, pointer: &str) -> &'a [Value] {
    value
        .pointer(pointer)
        .and_then(Value::as_array)
        .map_or(&[], Vec::as_slice)
}

fn money(value: &Value, pointer: &str) -> String {
    let amount = word(value, &format!("{pointer}/amount"));
    format!("{amount} {}", word(value, &format!("{pointer}/currency")))
}

/// What became of every row.
pub(super) fn batch(out: &mut dyn Write, rooms: &[Room], batch: &Value) -> Result<(), Trouble> {
    let of = |outcome: &'static str| {
        let rows = rooms.iter().zip(items(batch, "/items"));
        rows.filter(move |(_, item)| word(item, "/outcome") == outcome)
    };
    writeln!(out, "What became of {} rows", rooms.len())?;
    for (outcome, meaning) in OUTCOMES {
        let area: f64 = of(outcome).map(|(room, _)| room.area_m2).sum();
        let n = of(outcome).count();
        if n > 0 {
            writeln!(out, "  {n:>4}  {area:>10.3} m2  {meaning}")?;
        }
    }
    for (outcome, meaning) in OUTCOMES.iter().skip(3).take(1) {
        let names: Vec<&str> = of(outcome).map(|(room, _)| room.number.as_str()).collect();
        write_list(out, meaning, &names)?;
    }
    for (outcome, meaning) in OUTCOMES.iter().skip(4) {
        writeln!(out, "\n{meaning}:")?;
        for (room, item) in of(outcome) {
            let why: Vec<&str> = items(item, "/errors")
                .iter()
                .map(|error| word(error, "/detail"))
                .collect();
            writeln!(
                out,
                "  {:<28} {:>9.3} m2  {}",
                room.name(),
                room.area_m2,
                why.join(" ")
            )?;
        }
    }
    let mut findings: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for (room, item) in rooms.iter().zip(items(batch, "/items")) {
        for finding in items(item, "/findings") {
            findings
                .entry(word(finding, "/statement"))
                .or_default()
                .push(&room.number);
        }
    }
    for (statement, numbers) in findings {
        write_list(out, statement, &numbers)?;
    }
    Ok(())
}

/// A heading and names below it, as many to a line as fit.
fn write_list(out: &mut dyn Write, heading: &str, names: &[&str]) -> Result<(), Trouble> {
    if names.is_empty() {
        return Ok(());
    }
    writeln!(out, "\n{}:", heading.trim_end_matches('.'))?;
    for line in names.chunks(16) {
        writeln!(out, "  {}", line.join(" "))?;
    }
    Ok(())
}

/// How many floors got which verdict.
pub(super) fn verdicts(out: &mut dyn Write, floors: &[Planned]) -> Result<(), Trouble> {
    let mut counts: BTreeMap<(&str, &str, &str), (u32, f64)> = BTreeMap::new();
    for floor in floors {
        let process = if floor.plan.get("work").is_some() {
            word(&floor.plan, "/process/name")
        } else {
            ""
        };
        let key = (
            floor.room.finish.as_str(),
            word(&floor.plan, "/verdict"),
            process,
        );
        let (n, area) = counts.entry(key).or_default();
        *n = n.saturating_add(1);
        *area += floor.room.area_m2;
    }
    writeln!(out, "\nPlans for {} hard floors", floors.len())?;
    for ((finish, verdict, process), (n, area)) in counts {
        writeln!(
            out,
            "  {n:>4}  {area:>10.3} m2  {finish:<24} {verdict:<22} {process}"
        )?;
    }
    Ok(())
}

/// What must be known, with how many floors wait for it.
pub(super) fn questions(out: &mut dyn Write, floors: &[Planned]) -> Result<(), Trouble> {
    let mut asked: BTreeMap<&str, (u32, &Value)> = BTreeMap::new();
    for floor in floors {
        for question in items(&floor.plan, "/questions") {
            let (n, _) = asked
                .entry(word(question, "/fact"))
                .or_insert((0, question));
            *n = n.saturating_add(1);
        }
    }
    for (fact, (n, question)) in asked {
        writeln!(
            out,
            "\n{n} floors wait for {fact}: {}",
            word(question, "/ask")
        )?;
        writeln!(
            out,
            "  how to find out: {}",
            word(question, "/how_to_find_out")
        )?;
        writeln!(out, "  what it leads to: {}", word(question, "/leads_to"))?;
    }
    Ok(())
}

/// The estimate of the building.
pub(super) fn estimate(out: &mut dyn Write, estimate: &Value) -> Result<(), Trouble> {
    let (n, area) = (
        number(estimate, "/n_surfaces"),
        number(estimate, "/area_m2"),
    );
    writeln!(
        out,
        "\nEstimate {} for {n} floors, {area:.3} m2",
        word(estimate, "/id")
    )?;
    let (hours, shifts) = (number(estimate, "/paid_h"), number(estimate, "/n_shifts"));
    writeln!(out, "  {hours:.1} h of labour in {shifts} shifts")?;
    writeln!(out, "  to order:")?;
    for line in items(estimate, "/products") {
        let pack =
            |pack: &Value| format!("{} x {} L", number(pack, "/count"), number(pack, "/size_l"));
        let packs: Vec<String> = items(line, "/packs").iter().map(pack).collect();
        let (name, need) = (word(line, "/product/name"), number(line, "/total_l"));
        writeln!(
            out,
            "    {name:<44} {need:>9.3} L  {:<24} {}",
            packs.join(" + "),
            money(line, "/price")
        )?;
    }
    for line in items(estimate, "/pads") {
        writeln!(
            out,
            "    {:<44} {:>9}    {:<24} {}",
            format!("pad, {}", word(line, "/pad")),
            number(line, "/count"),
            "",
            money(line, "/price")
        )?;
    }
    let (clean, slurry) = (
        number(estimate, "/water/clean_l"),
        number(estimate, "/water/slurry_l"),
    );
    writeln!(
        out,
        "  {clean:.0} L of clean water, {slurry:.0} L of slurry to get rid of"
    )?;
    writeln!(
        out,
        "  before tax {}; floor by floor it would be {}",
        money(estimate, "/cost/net"),
        money(estimate, "/apart_net")
    )?;
    Ok(())
}

/// The cost report of the storey.
pub(super) fn report(
    out: &mut dyn Write,
    storey: &str,
    completions: &[Value],
    report: &Value,
) -> Result<(), Trouble> {
    let n_odd = completions
        .iter()
        .filter(|completion| !items(completion, "/deviations").is_empty())
        .count();
    writeln!(
        out,
        "\nWork on {storey}: {} completions, {n_odd} of them unlike their plan",
        completions.len()
    )?;
    let (from, to) = (word(report, "/from"), word(report, "/to"));
    writeln!(
        out,
        "Costs from {from} up to {to}, before tax; they are the sum of the completions"
    )?;
    writeln!(
        out,
        "  {:>4} {:>10} {:>14} {:>14}",
        "jobs", "m2", "planned", "actual"
    )?;
    for row in items(report, "/rows")
        .iter()
        .chain(items(report, "/totals"))
    {
        let name: Vec<&str> = ["/process", "/material"]
            .iter()
            .filter_map(|name| row.pointer(name)?.as_str())
            .collect();
        let name = if name.is_empty() {
            "in all".to_owned()
        } else {
            name.join(", ")
        };
        let (jobs, area) = (number(row, "/n_completions"), number(row, "/area_m2"));
        let (planned, actual) = (money(row, "/planned/net"), money(row, "/actual/net"));
        writeln!(
            out,
            "  {jobs:>4} {area:>10.3} {planned:>14} {actual:>14}  {name}"
        )?;
    }
    Ok(())
}

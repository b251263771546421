//! What was done and what it cost: completions made up from plans, and the report held against them.

use std::collections::BTreeSet;

use chrono::{DateTime, Days, TimeDelta, Utc};
use serde_json::{Map, Value, json};

use super::{Planned, Trouble, assume::Work};

/// The report of work on a floor, as a contractor's system would send it: its hours and litres differ from the plan's
/// by what is assumed.
pub(super) fn completion(floor: &Planned, work: &Work, index: u64) -> Result<Value, Trouble> {
    let plan = floor
        .plan
        .get("work")
        .ok_or_else(|| format!("{}: no work was planned", floor.room.name()))?;
    let started = started_at(work, index)?;
    let minutes = plan
        .pointer("/time_line/elapsed_min")
        .and_then(Value::as_f64)
        .unwrap_or_default();
    let seconds = minutes.mul_add(60.0, 600.0);
    let finished =
        started + TimeDelta::from_std(std::time::Duration::from_secs_f64(seconds.round()))?;
    let mut body = json!({
        "surface_id": floor.surface_id,
        "plan_id": floor.plan.get("id"),
        "started_at": written(started),
        "finished_at": written(finished),
        "labour": labour(plan, work),
        "products": products(plan, work),
        "external": {"system": "clinic-walk", "id": floor.room.external.1},
    });
    if let Some(members) = body.as_object_mut() {
        members.extend(readings(plan, work));
    }
    Ok(body)
}

fn written(moment: DateTime<Utc>) -> String {
    moment.to_rfc3339_opts(chrono::SecondsFormat::Millis, true)
}

fn started_at(work: &Work, index: u64) -> Result<DateTime<Utc>, Trouble> {
    let days = Days::new(index.checked_div(work.surfaces_a_day).unwrap_or(0));
    let day = work.first_day.checked_add_days(days).ok_or("no such day")?;
    Ok(format!("{day}T{}", work.starts_at).parse()?)
}

fn items<'a>(value: &'a Value, name: &str) -> impl Iterator<Item = &'a Value> {
    value
        .get(name)
        .and_then(Value::as_array)
        .into_iter()
        .flatten()
}

fn word<'a>(value: &'a Value, pointer: &str) -> &'a str {
    value
        .pointer(pointer)
        .and_then(Value::as_str)
        .unwrap_or_default()
}

/// Hours by stage, to the hundredth that a time sheet has.
fn labour(plan: &Value, work: &Work) -> Vec<Value> {
    let mut hours: Vec<(&str, f64)> = Vec::new();
    for line in items(plan, "labour") {
        let (stage, time) = (
            word(line, "/stage"),
            line.get("hours")
                .and_then(Value::as_f64)
                .unwrap_or_default(),
        );
        match hours.iter_mut().find(|(known, _)| *known == stage) {
            Some((_, sum)) => *sum += time,
            None => hours.push((stage, time)),
        }
    }
    let line = |(stage, time): &(&str, f64)| json!({"stage": stage, "hours": hundredths(time * work.hours_pct / 100.0)});
    hours.iter().map(line).collect()
}

/// Litres by product, to the hundredth.
fn products(plan: &Value, work: &Work) -> Vec<Value> {
    let line = |line: &Value| {
        let key = word(line, "/product/key");
        let stage = items(plan, "steps")
            .find(|step| word(step, "/product/key") == key)
            .map(|step| word(step, "/stage"));
        let litres = line
            .get("total_l")
            .and_then(Value::as_f64)
            .unwrap_or_default();
        let litres = hundredths(litres * work.litres_pct / 100.0);
        (litres > 0.0).then(|| json!({"product": key, "volume_l": litres, "stage": stage}))
    };
    items(plan, "products").filter_map(line).collect()
}

/// The coats that were laid and the pH that was read, where there were any.
fn readings(plan: &Value, work: &Work) -> Map<String, Value> {
    let coats = |class: &str| {
        let laid =
            |step: &&Value| step.get("coat").is_some() && word(step, "/product/class") == class;
        items(plan, "steps").filter(laid).count()
    };
    let mut members = Map::new();
    for (name, class) in [("seal_coats", "seal"), ("polish_coats", "polish")] {
        let laid = coats(class);
        if laid > 0 {
            members.insert(name.to_owned(), laid.into());
        }
    }
    if items(plan, "steps").any(|step| word(step, "/hold/unit") == "pH") {
        members.insert("surface_ph".to_owned(), work.surface_ph.into());
    }
    members
}

/// At least a hundredth, for what is reported at all.
fn hundredths(value: f64) -> f64 {
    (value * 100.0).round().max(1.0) / 100.0
}

/// The month of a completion at its site.
pub(super) fn month(completion: &Value) -> Option<String> {
    let given = completion
        .get("month")
        .or_else(|| completion.get("started_at"));
    given.and_then(Value::as_str)?.get(..7).map(str::to_owned)
}

/// Where the costs of these months are reported.
pub(super) fn report_path(site_id: &str, months: &BTreeSet<String>) -> Result<String, Trouble> {
    let first = months.first().ok_or("nothing was done")?;
    let last = months.last().ok_or("nothing was done")?;
    let after: chrono::NaiveDate = format!("{last}-01").parse()?;
    let after = after
        .checked_add_months(chrono::Months::new(1))
        .ok_or("no such month")?;
    let groups = "group_by=storey,process,material";
    Ok(format!(
        "/v1/reports/costs?from={first}&to={}&{groups}&site_id={site_id}",
        after.format("%Y-%m")
    ))
}

/// Holds a report against the completions that it sums up: all of it, and each process of it.
pub(super) fn check(report: &Value, completions: &[Value]) -> Result<(), Trouble> {
    let all = Sums::of(completions.iter().map(Sums::of_completion))?;
    let told = Sums::of(items(report, "totals").map(Sums::of_row))?;
    same("the totals", &told, &all)?;
    same(
        "the rows",
        &Sums::of(items(report, "rows").map(Sums::of_row))?,
        &all,
    )?;
    let processes: BTreeSet<&str> = completions
        .iter()
        .map(|completion| word(completion, "/process"))
        .collect();
    for process in processes {
        let is_it = |record: &&Value| word(record, "/process") == process;
        let rows = Sums::of(items(report, "rows").filter(is_it).map(Sums::of_row))?;
        same(
            process,
            &rows,
            &Sums::of(completions.iter().filter(is_it).map(Sums::of_completion))?,
        )?;
    }
    Ok(())
}

fn same(what: &str, reported: &Sums, summed: &Sums) -> Result<(), Trouble> {
    if reported == summed {
        return Ok(());
    }
    Err(format!("{what}: the report says {reported:?}, the completions sum to {summed:?}").into())
}

/// What a report sums up, in whole units: cents, mm², mL.
#[derive(Debug, Default, PartialEq, Eq)]
struct Sums {
    n_completions: i64,
    planned_net: i64,
    actual_net: i64,
    actual_tax: i64,
    area_mm2: i64,
    actual_ml: i64,
}

impl Sums {
    fn of(parts: impl Iterator<Item = Option<Self>>) -> Result<Self, Trouble> {
        let mut sum = Self::default();
        for part in parts {
            let part = part.ok_or("a record without its sums")?;
            sum.n_completions = sum.n_completions.saturating_add(part.n_completions);
            sum.planned_net = sum.planned_net.saturating_add(part.planned_net);
            sum.actual_net = sum.actual_net.saturating_add(part.actual_net);
            sum.actual_tax = sum.actual_tax.saturating_add(part.actual_tax);
            sum.area_mm2 = sum.area_mm2.saturating_add(part.area_mm2);
            sum.actual_ml = sum.actual_ml.saturating_add(part.actual_ml);
        }
        Ok(sum)
    }

    fn of_completion(completion: &Value) -> Option<Self> {
        let litres = items(completion, "lines").filter_map(|line| line.get("actual_l")?.as_f64());
        Some(Self {
            n_completions: 1,
            planned_net: cents(completion, "/money/planned_net")?,
            actual_net: cents(completion, "/money/actual_net")?,
            actual_tax: cents(completion, "/money/actual_tax")?,
            area_mm2: whole(completion.get("area_m2")?.as_f64()? * 1e6)?,
            actual_ml: whole(litres.sum::<f64>() * 1e3)?,
        })
    }

    fn of_row(row: &Value) -> Option<Self> {
        Some(Self {
            n_completions: row.get("n_completions")?.as_i64()?,
            planned_net: cents(row, "/planned/net")?,
            actual_net: cents(row, "/actual/net")?,
            actual_tax: cents(row, "/actual/tax")?,
            area_mm2: whole(row.get("area_m2")?.as_f64()? * 1e6)?,
            actual_ml: whole(row.get("actual_l")?.as_f64()? * 1e3)?,
        })
    }
}

fn whole(value: f64) -> Option<i64> {
    format!("{:.0}", value.round()).parse().ok()
}

fn cents(record: &Value, pointer: &str) -> Option<i64> {
    let (major, minor) = record
        .pointer(pointer)?
        .get("amount")?
        .as_str()?
        .split_once('.')?;
    let is_cents = minor.len() == 2;
    is_cents.then(|| format!("{major}{minor}").parse().ok())?
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::check;

    fn money(amount: &str) -> Value {
        json!({"amount": amount, "currency": "USD"})
    }

    fn completion(process: &str, actual: &str) -> Value {
        let sums = json!({"planned_net": money("10.00"), "actual_net": money(actual), "actual_tax": money("0.00")});
        json!({"process": process, "area_m2": 1.5, "money": sums, "lines": [{"actual_l": 0.25}]})
    }

    fn row(process: Option<&str>, jobs: u32, planned: &str, actual: &str) -> Value {
        json!({
            "process": process, "n_completions": jobs, "area_m2": 1.5 * f64::from(jobs),
            "planned": {"net": money(planned)}, "actual": {"net": money(actual), "tax": money("0.00")},
            "actual_l": 0.25 * f64::from(jobs),
        })
    }

    fn report(strip: &str, mop: &str, total: &str) -> Value {
        let rows = [
            row(Some("strip"), 1, "10.00", strip),
            row(Some("mop"), 1, "10.00", mop),
        ];
        json!({"rows": rows, "totals": [row(None, 2, "20.00", total)]})
    }

    #[test]
    fn a_report_is_held_to_the_cent_and_to_each_process() {
        let done = [completion("strip", "12.34"), completion("mop", "5.00")];
        assert!(check(&report("12.34", "5.00", "17.34"), &done).is_ok());
        for wrong in [
            report("12.34", "5.00", "17.35"),
            report("12.35", "5.00", "17.35"),
            report("12.33", "5.01", "17.34"),
        ] {
            assert!(check(&wrong, &done).is_err(), "{wrong}");
        }
        assert!(check(&report("12.34", "5.00", "17.34"), &done[..1]).is_err());
    }
}

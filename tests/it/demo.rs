//! The demonstration as it ships: its story to the end, and the holiday of its school held to the hours that it was given.

use std::{
    io::{BufRead as _, BufReader},
    process::{Child, Command, Stdio},
};

use chrono::{
    DateTime, Datelike as _, Duration, NaiveDate, NaiveDateTime, Timelike as _, Utc, Weekday,
};
use serde_json::{Value, json};
use tests::{client::Caller, read};

const PROGRAM: &str = env!("CARGO_BIN_EXE_service");

/// A demonstration that goes on serving until it is dropped.
struct Demo {
    process: Child,
    told: String,
    caller: Caller,
}

impl Drop for Demo {
    fn drop(&mut self) {
        let _ended = self.process.kill();
        let _status = self.process.wait();
    }
}

/// Runs it to the last line of its story, which is a call with the token that it prints.
fn demo() -> Demo {
    let mut process = Command::new(PROGRAM)
        .args(["demo", "--port", "0"])
        .env_clear()
        .env("TMPDIR", std::env::temp_dir())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let out = BufReader::new(process.stdout.take().unwrap());
    let (mut told, mut token) = (String::new(), None);
    for line in out.lines() {
        let line = line.unwrap();
        told.push_str(&line);
        told.push('\n');
        if let Some(text) = line.strip_prefix("TOKEN=") {
            token = Some(text.to_owned());
        }
        if line.starts_with("curl ") {
            break;
        }
    }
    let base = told
        .split_whitespace()
        .find(|word| word.starts_with("http://"));
    let caller = Caller::new(Caller::http().unwrap(), base.unwrap().to_owned(), token);
    Demo {
        process,
        told,
        caller,
    }
}

fn moment(value: &Value, pointer: &str) -> DateTime<Utc> {
    read::text(value, pointer).parse().unwrap()
}

/// What a clock in the United Kingdom shows: an hour more than UTC from 01:00 UTC on the last Sunday of March to that of October.
fn local(at: DateTime<Utc>) -> NaiveDateTime {
    let last_sunday = |month: u32| {
        let last = NaiveDate::from_ymd_opt(at.year(), month, 31).unwrap();
        let back = last.weekday().num_days_from_sunday();
        (last - Duration::days(back.into()))
            .and_hms_opt(1, 0, 0)
            .unwrap()
            .and_utc()
    };
    let is_summer = last_sunday(3) <= at && at < last_sunday(10);
    at.naive_utc() + Duration::hours(i64::from(is_summer))
}

async fn all(caller: &Caller, path: &str) -> Vec<Value> {
    let mut found = Vec::new();
    let mut next = format!("{path}?limit=200");
    loop {
        let page = caller.get(&next).await.must(200).json();
        found.extend(read::list(&page, "/items").iter().cloned());
        match page["next_cursor"].as_str() {
            Some(cursor) => next = format!("{path}?limit=200&cursor={cursor}"),
            None => return found,
        }
    }
}

fn cells(line: &str) -> Vec<&str> {
    let cells = line.split("  ").map(str::trim);
    cells.filter(|cell| !cell.is_empty()).collect()
}

/// The rows of the table of the story that says what opens when, cells by the two blanks between them.
fn rows(told: &str) -> Vec<Vec<&str>> {
    let table = told.split("What opens when").nth(1).unwrap();
    let lines = table
        .lines()
        .skip(3)
        .take_while(|line| !line.contains("---"));
    lines.map(cells).collect()
}

/// Holds the story to what was answered: each floor in the order in which it opens, and each proven bound.
fn is_as_answered(told: &str, choice: &Value) {
    let mut floors: Vec<&Value> = read::list(choice, "/reopenings").iter().collect();
    floors.sort_by_key(|floor| moment(floor, "/walk_at"));
    let clock = |at: DateTime<Utc>| local(at).format("%a %-d %b %H:%M").to_string();
    let rows = rows(told);
    assert_eq!(rows.len(), floors.len(), "{told}");
    for (row, floor) in rows.iter().zip(&floors) {
        assert_eq!(row[0], read::text(floor, "/surface"));
        assert_eq!(row[3], clock(moment(floor, "/begins_at")));
        assert_eq!(row[4], clock(moment(floor, "/walk_at")));
    }
    let mut n = 0;
    for bound in read::list(choice, "/bounds") {
        if let Some(pct) = bound["at_most_above_pct"].as_f64() {
            let line = format!(": at most {pct:.1} % above the possible");
            assert!(told.contains(&line), "{line}");
            n += 1;
        }
    }
    assert!(n > 0, "{choice:#}");
}

/// When a bay is free again: a floor that is worked on or wet is closed.
fn opens(task: &Value) -> DateTime<Utc> {
    let end = if task.get("walk_at").is_some() {
        "/walk_at"
    } else {
        "/to"
    };
    moment(task, end)
}

/// Holds tasks to the school's calendar: weekdays from 7 to half past three, all open on the first Wednesday morning and while the
/// governors go round on the first Monday of a month; and never more than three people.
fn keep_the_hours(tasks: &[Value]) {
    let first = local(moment(&tasks[0], "/from")).date();
    let monday = first - Duration::days(first.weekday().num_days_from_monday().into());
    for task in tasks {
        let from = moment(task, "/from");
        let (begins, ends) = (local(from), local(moment(task, "/to")));
        assert!(
            !matches!(begins.weekday(), Weekday::Sat | Weekday::Sun),
            "{task}"
        );
        let minutes = |at: &NaiveDateTime| at.hour() * 60 + at.minute();
        assert!(minutes(&begins) >= 7 * 60, "{task}");
        assert!(minutes(&ends) <= 15 * 60 + 30, "{task}");
        let is_shut = |day: NaiveDate, hours: (u32, u32)| {
            let at = |hour| day.and_hms_opt(hour, 0, 0).unwrap();
            begins < at(hours.1) && local(opens(task)) > at(hours.0)
        };
        assert!(!is_shut(monday + Duration::days(2), (9, 12)), "{task}");
        let day = begins.date();
        if day.weekday() == Weekday::Mon && day.day() <= 7 {
            assert!(!is_shut(day, (12, 13)), "{task}");
        }
        let at_once = tasks
            .iter()
            .filter(|other| moment(other, "/from") <= from && from < moment(other, "/to"));
        let people: f64 = at_once.map(|task| read::number(task, "/operatives")).sum();
        assert!(people <= 3.0, "{task}");
    }
}

/// The two classrooms are reached over the corridor alone: nobody works there while it is worked on or wet.
fn keep_the_way(tasks: &[Value]) {
    let of = |names: &[&str]| -> Vec<&Value> {
        let own = tasks.iter();
        own.filter(|task| names.contains(&read::text(task, "/surface")))
            .collect()
    };
    let (corridor, behind) = (of(&["Main corridor"]), of(&["Classroom 1", "Classroom 2"]));
    assert!(!corridor.is_empty() && !behind.is_empty());
    for way in corridor {
        for task in &behind {
            let is_before = moment(task, "/to") <= moment(way, "/from");
            let is_after = opens(way) <= moment(task, "/from");
            assert!(is_before || is_after, "{way} {task}");
        }
    }
}

#[tokio::test]
async fn the_school_of_the_demonstration_is_restored_in_its_holiday_and_each_floor_opens_as_told() {
    let demo = demo();
    let schedule = &all(&demo.caller, "/v1/schedules").await[0];
    let path = format!("/v1/schedules/{}", read::text(schedule, "/id"));
    let schedule = demo.caller.get(&path).await.must(200).json();
    let result = &schedule["result"];
    assert_eq!(result["outcome"], "scheduled", "{schedule:#}");
    let assigned = read::list(result, "/assigned");
    let bays: f64 = assigned
        .iter()
        .map(|plan| read::number(plan, "/bays"))
        .sum();
    assert_eq!((assigned.len(), bays), (5, 40.0));
    let choices = read::list(result, "/choices");
    is_as_answered(&demo.told, &choices[0]);
    let tasks = all(&demo.caller, &format!("{path}/tasks")).await;
    assert_eq!(json!(tasks.len()), choices[0]["n_tasks"]);
    keep_the_hours(&tasks);
    keep_the_way(&tasks);

    // What was begun is gone on with: once it was planned again, no other choice is taken.
    assert!(choices.len() > 1, "{schedule:#}");
    let choose = format!("{path}/choose");
    let first = demo.caller.record(&choose, &json!({"choice": 1})).await;
    let _chosen = first.must(200);
    let again = json!({"schedules": 1});
    let again = demo.caller.record(&format!("{path}/replan"), &again).await;
    let _planned = again.must(200);
    let other = demo.caller.record(&choose, &json!({"choice": 2})).await;
    other.problem(409, "state_conflict");
}

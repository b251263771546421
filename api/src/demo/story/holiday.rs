//! A long holiday of the school: its floors put into the days on which nobody is there, and what opens when.

mod dates;

use std::{io::Write, time::Duration};

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use serde_json::{Value, json};

use super::{
    super::{
        DemoError,
        answer::{Choice, Made, Outcome, Plan, Reopening, Schedule},
        client::{Answer, Client},
        fill::Estate,
        paper::{Column, Paper, Table},
        words::{count, length, money, spoken},
    },
    expect_verdict, show,
};
use dates::Holiday;

/// The floors, and how many operatives work on each at once.
const FLOORS: [(&str, i64); 5] = [
    ("T-G03", 2),
    ("T-G02", 2),
    ("T-103", 1),
    ("T-G08", 1),
    ("T-G07", 1),
];
/// The floor that is wanted back first.
const CORRIDOR: &str = "T-G02";
/// Floors that are reached over the corridor alone.
const BEHIND: [&str; 2] = ["T-G08", "T-G07"];
/// The school's clock.
const ZONE: Tz = Tz::Europe__London;
/// How often it is asked whether the schedule is made.
const PACE: Duration = Duration::from_millis(250);
/// How often at the most: five minutes.
const PATIENCE: u32 = 1_200;

/// Schedules the floors and tells what opens when.
pub(super) async fn tell<W: Write>(
    client: &Client,
    paper: &mut Paper<W>,
    estate: &Estate,
    now: DateTime<Utc>,
) -> Result<(), DemoError> {
    let holiday = Holiday::after(now.date_naive());
    paper.part("10. The long holiday of the school")?;
    paper.text(&format!(
        "Nobody is in the school from {} to {}, but for the morning of {}, when new pupils are shown round, and the \
         governors' round at noon on the first Monday of a month; both are told as its calendar has them. Five floors are to be \
         restored by three operatives; the main corridor is wanted back by the end of the first week, and two classrooms \
         are reached over it alone. A plan for each floor was asked for first.",
        holiday.first.format("%-d %B %Y"),
        holiday.last.format("%-d %B"),
        holiday.visit.format("%A, %-d %B"),
    ))?;
    let asked = body(client, estate, &holiday).await?;
    let answer: Answer<Made> = client
        .post("/v1/schedules", &asked, "story-holiday")
        .await?;
    show(paper, &answer)?;
    let path = format!("/v1/schedules/{}", answer.body.id);
    let made = finished(client, &path).await?;
    show(paper, &made)?;
    let tried = made.body.progress.tried;
    let Some((outcome, choice)) = made.body.result.as_ref().and_then(first) else {
        return Err(DemoError::Unexpected(
            "the holiday has no schedule".to_owned(),
        ));
    };
    summary(paper, outcome, choice, tried)?;
    opening(paper, outcome, choice)?;
    bounds(paper, choice)?;
    paper.gap()?;
    paper.text(&format!(
        "Who does what in which bay is at {path}/tasks, the same as a table at {path}/table, for a calendar program at \
         {path}/calendar, drawn at {path}/chart, and for the crew's day at {path}/sheet?date={}.",
        choice.all_open_at.with_timezone(&ZONE).date_naive()
    ))?;
    Ok(())
}

/// What is asked for: a plan of each floor, the crew, the hours as a school's calendar tells them.
async fn body(client: &Client, estate: &Estate, holiday: &Holiday) -> Result<Value, DemoError> {
    let mut plans = Vec::new();
    for (floor, crew_size) in FLOORS {
        let wish = json!({
            "surface_id": estate.floor(floor)?,
            "wish": {"goal": "restore", "limits": {"crew_size": crew_size}},
        });
        let key = format!("story-holiday-{floor}");
        let plan: Plan = client.post("/v1/plans", &wish, &key).await?.body;
        expect_verdict(&plan, &["allowed", "allowed_with_warnings"])?;
        plans.push(json!({"plan_id": plan.id}));
    }
    let mut behind = Vec::new();
    for floor in BEHIND {
        behind.push(estate.floor(floor)?);
    }
    let weekdays = ["monday", "tuesday", "wednesday", "thursday", "friday"];
    Ok(json!({
        "site_id": estate.first_site()?,
        "plans": plans,
        "from": holiday.from(),
        "to": holiday.to(),
        "open_calendar": holiday.closing_days(),
        "closed_calendar": holiday.visits(),
        "crews": [{
            "name": "Holiday crew", "operatives": 3, "move_min": 10, "storey_min": 10,
            "shifts": [{"days": weekdays, "from": "07:00", "to": "15:30"}],
        }],
        "surfaces": [{
            "surface_id": estate.floor(CORRIDOR)?, "deadline": holiday.end_of_week(), "only_way_to": behind,
        }],
    }))
}

/// Reads the schedule until it is made.
async fn finished(client: &Client, path: &str) -> Result<Answer<Schedule>, DemoError> {
    for _ in 0..PATIENCE {
        let answer: Answer<Schedule> = client.get(path).await?;
        match answer.body.status.as_str() {
            "queued" | "running" => {}
            "succeeded" => return Ok(answer),
            other => {
                return Err(DemoError::Unexpected(format!("the schedule has {other}")));
            }
        }
        let pause = std::future::pending::<()>();
        let _pause = tokio::time::timeout(PACE, pause).await;
    }
    Err(DemoError::Unexpected(
        "the schedule takes too long".to_owned(),
    ))
}

/// The best choice, if there is one.
fn first(outcome: &Outcome) -> Option<(&Outcome, &Choice)> {
    let choice = outcome.choices.first()?;
    (outcome.word == "scheduled").then_some((outcome, choice))
}

fn summary<W: Write>(
    paper: &mut Paper<W>,
    outcome: &Outcome,
    choice: &Choice,
    tried: i64,
) -> Result<(), DemoError> {
    paper.text(&format!(
        "{} in {} make {}, {} and {} of labour: the best found among {}. All is open on {}.",
        count(length(&outcome.assigned), "floor"),
        count(bays(outcome), "bay"),
        count(choice.n_tasks, "task"),
        count(choice.crew_shifts, "crew-shift"),
        money(&choice.labour_cost),
        count(tried, "schedule"),
        local(choice.all_open_at)
    ))?;
    Ok(())
}

fn bays(outcome: &Outcome) -> i64 {
    outcome.assigned.iter().map(|plan| plan.bays).sum()
}

/// What opens when, in the order in which it does.
fn opening<W: Write>(
    paper: &mut Paper<W>,
    outcome: &Outcome,
    choice: &Choice,
) -> Result<(), DemoError> {
    paper.head("What opens when, by the school's clock")?;
    let mut table = Table::new(&[
        Column::Words("floor"),
        Column::Figure("bays"),
        Column::Figure("operatives"),
        Column::Words("begins"),
        Column::Words("walk on it"),
        Column::Words("furniture back"),
    ]);
    let mut floors: Vec<&Reopening> = choice.reopenings.iter().collect();
    floors.sort_by_key(|floor| floor.walk_at);
    for floor in floors {
        let mut assigned = outcome.assigned.iter();
        let own = assigned.find(|plan| plan.surface_id == floor.surface_id);
        let figure = |of: Option<i64>| of.map_or_else(|| "-".to_owned(), |n| n.to_string());
        table.row([
            floor.surface.clone(),
            figure(own.map(|plan| plan.bays)),
            figure(own.map(|plan| plan.operatives)),
            local(floor.begins_at),
            local(floor.walk_at),
            floor.furniture_at.map_or_else(|| "-".to_owned(), local),
        ]);
    }
    table.sum([
        "together".to_owned(),
        bays(outcome).to_string(),
        String::new(),
        String::new(),
        local(choice.all_open_at),
    ]);
    paper.table(&table)?;
    for floor in &choice.reopenings {
        if let (Some(by), Some(chance)) = (floor.deadline, floor.by_deadline) {
            paper.gap()?;
            paper.text(&format!(
                "{} is wanted by {}: it is open by then in {:.0} of 100 simulated weeks, in which work and drying vary.",
                floor.surface,
                local(by),
                chance * 100.0
            ))?;
        }
    }
    Ok(())
}

/// How far each figure may be from the possible.
fn bounds<W: Write>(paper: &mut Paper<W>, choice: &Choice) -> Result<(), DemoError> {
    paper.head("How good it is, proven")?;
    for bound in &choice.bounds {
        let Some(pct) = bound.at_most_above_pct else {
            continue;
        };
        let of = spoken(&bound.of);
        paper.point(
            "-",
            &format!(
                "{of}: at most {pct:.1} % above the possible minimum ({})",
                bound.least
            ),
        )?;
    }
    Ok(())
}

fn local(at: DateTime<Utc>) -> String {
    at.with_timezone(&ZONE)
        .format("%a %-d %b %H:%M")
        .to_string()
}

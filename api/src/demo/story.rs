//! The main job, call by call: what is asked, and what the answer means for somebody who answers for floors.

mod due;
mod estate;
mod estimate;
mod holiday;
mod knowledge;
mod money;
mod plan;
mod record;
mod step;
mod work;

use std::io::Write;

use chrono::{DateTime, Utc};
use serde::Serialize;
use serde_json::json;

use super::{
    DemoError,
    answer::{Plan, Surface},
    client::{Answer, Client},
    estate::{ASSEMBLY_HALL, KITCHEN, MUSIC_ROOM, SurfaceRequest},
    fill::Estate,
    paper::Paper,
    words::{count, square_metres},
};
use knowledge::Knowledge;

/// What is printed at the end of the story.
pub(super) struct Closing {
    pub(super) base: String,
    pub(super) token: String,
    pub(super) token_h: u32,
    pub(super) has_docs: bool,
    pub(super) metrics: Option<String>,
}

/// Says where the service is. `taken` is the usual port if somebody else has it.
pub(super) fn open<W: Write>(
    paper: &mut Paper<W>,
    base: &str,
    taken: Option<u16>,
) -> Result<(), DemoError> {
    paper.verbatim("Wearcourse: a demonstration")?;
    paper.gap()?;
    if let Some(port) = taken {
        paper.text(&format!(
            "Port {port} is taken on this machine, so a free one is used."
        ))?;
    }
    paper.text(&format!(
        "A service has been started at {base} with an empty database of its own. Everything below was sent to it over \
         HTTP, and every figure below is out of its answers. Lines with > were sent, the line with < is the answer; \
         the rest tells what the answer says. Estate, firms and prices are invented. First the estate is registered and \
         half a year of work planned and reported, which takes a moment."
    ))?;
    Ok(())
}

/// Does the main job.
///
/// # Errors
/// [`DemoError`] at the first answer that is not what it must be.
pub(super) async fn tell<W: Write>(
    client: &Client,
    paper: &mut Paper<W>,
    estate: &Estate,
    now: DateTime<Utc>,
) -> Result<(), DemoError> {
    paper.part("1. What there is")?;
    paper.text("Read back from the service: what it knows of floors, and what was registered.")?;
    let knowledge = Knowledge::read(client, paper).await?;
    estate::tell(client, paper, &knowledge).await?;
    let hall = register(client, paper, estate, &knowledge).await?;

    paper.part("3. Ask for a plan")?;
    paper.text("The hall is to shine again; it can be closed for ten hours a night.")?;
    let limits = json!({"goal": "restore", "finish": "gloss", "limits": {"window_min": 600}});
    let plan = ask(client, paper, &hall.id, &limits, "hall").await?;
    plan::allowed(paper, &plan, &knowledge)?;

    paper.part("4. Ask for something that must not be done")?;
    paper.text(&format!(
        "{}: somebody wants the safety floor polished.",
        KITCHEN.name
    ))?;
    let polish = json!({"goal": "protect", "process": "polish"});
    let refused = ask(
        client,
        paper,
        estate.floor(KITCHEN.id())?,
        &polish,
        "kitchen",
    )
    .await?;
    plan::refused(paper, &refused, &knowledge)?;

    paper.part("5. Ask about a floor of which too little is known")?;
    paper.text(&format!(
        "{}: nobody has looked at its film, and the wing is old.",
        MUSIC_ROOM.name
    ))?;
    let restore = json!({"goal": "restore"});
    let asked = ask(
        client,
        paper,
        estate.floor(MUSIC_ROOM.id())?,
        &restore,
        "music",
    )
    .await?;
    plan::asking(paper, &asked, &knowledge)?;

    estimate::tell(client, paper, estate.first_site()?, &knowledge).await?;
    record::log(client, paper, estate, (&plan, &hall), now).await?;
    record::costs(client, paper, now, &knowledge).await?;
    due::tell(client, paper).await?;
    holiday::tell(client, paper, estate, now).await
}

/// Prints an exchange: what was sent, and the first line of the answer.
fn show<W: Write, T>(paper: &mut Paper<W>, answer: &Answer<T>) -> Result<(), DemoError> {
    paper.gap()?;
    paper.request(&answer.request, &answer.sent)?;
    let location = answer.location.as_ref().map(|at| format!(", now at {at}"));
    paper.answer(&format!(
        "{}{}",
        answer.status,
        location.unwrap_or_default()
    ))?;
    paper.gap()?;
    Ok(())
}

async fn ask<W: Write>(
    client: &Client,
    paper: &mut Paper<W>,
    surface_id: &str,
    wish: &impl Serialize,
    key: &str,
) -> Result<Plan, DemoError> {
    #[derive(Serialize)]
    struct PlanRequest<'a, W> {
        surface_id: &'a str,
        wish: &'a W,
    }
    let body = PlanRequest { surface_id, wish };
    let answer = client
        .post("/v1/plans", &body, &format!("story-{key}"))
        .await?;
    show(paper, &answer)?;
    Ok(answer.body)
}

/// Ends with an error if an answer has another verdict than the story is about.
fn expect_verdict(plan: &Plan, allowed: &[&str]) -> Result<(), DemoError> {
    if allowed.contains(&plan.verdict.as_str()) {
        return Ok(());
    }
    Err(DemoError::Unexpected(format!(
        "a plan is {} instead of {}: {}",
        plan.verdict,
        allowed.join(" or "),
        plan.summary
    )))
}

/// One floor more.
async fn register<W: Write>(
    client: &Client,
    paper: &mut Paper<W>,
    estate: &Estate,
    knowledge: &Knowledge,
) -> Result<Surface, DemoError> {
    paper.part("2. Register a floor")?;
    paper.text("A hall with a polish that has turned yellow.")?;
    let body = SurfaceRequest {
        site_id: estate.first_site()?,
        floor: &ASSEMBLY_HALL,
    };
    let answer: Answer<Surface> = client.post("/v1/surfaces", &body, "story-floor").await?;
    show(paper, &answer)?;
    let hall = answer.body;
    paper.text(&format!(
        "{} is registered, version {}: {} of \"{}\" on the storey \"{}\".",
        hall.name,
        hall.version,
        square_metres(hall.area_m2),
        knowledge.name(&hall.material),
        hall.storey
    ))?;
    for finding in &hall.findings {
        paper.item("noticed", &finding.statement)?;
    }
    if hall.findings.is_empty() {
        paper.text("Nothing was noticed: area and perimeter fit each other.")?;
    }
    Ok(hall)
}

/// Says how to go on.
pub(super) fn close<W: Write>(paper: &mut Paper<W>, closing: &Closing) -> Result<(), DemoError> {
    let Closing {
        base,
        token,
        token_h,
        has_docs,
        metrics,
    } = closing;
    paper.part("Now you")?;
    paper.text(&format!(
        "The service goes on until Ctrl-C; then its database is gone. The token below may do everything in this estate \
         for {}.",
        count(*token_h, "hour")
    ))?;
    paper.gap()?;
    paper.item("service", base)?;
    if *has_docs {
        paper.item(
            "docs",
            &format!("{base}/guide (where to begin), {base}/docs/ (every call, to read and to try in a browser)"),
        )?;
    }
    paper.item("openapi", &format!("{base}/openapi.json"))?;
    if let Some(metrics) = metrics {
        paper.item("metrics", metrics)?;
    }
    paper.gap()?;
    paper.text("Copy these two lines into another terminal:")?;
    paper.gap()?;
    paper.verbatim(&format!("TOKEN={token}"))?;
    paper.verbatim(&format!(
        "curl -s -H \"Authorization: Bearer $TOKEN\" {base}/v1/sites"
    ))?;
    Ok(())
}

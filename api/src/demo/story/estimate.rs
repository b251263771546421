//! An estimate over a storey in words.

use std::{collections::BTreeMap, io::Write};

use serde_json::json;

use super::{
    super::{
        DemoError,
        answer::{Estimate, Page, Surface},
        client::{Answer, Client},
        paper::{Column, Paper, Table},
        words::{count, hours, money as price, spoken, square_metres},
    },
    knowledge::Knowledge,
    money, show, work,
};

/// The storey that is estimated.
const STOREY: &str = "First Floor";

/// Estimates one storey, with packs to order for all of its floors together.
pub(super) async fn tell<W: Write>(
    client: &Client,
    paper: &mut Paper<W>,
    site_id: &str,
    knowledge: &Knowledge,
) -> Result<(), DemoError> {
    paper.part("6. Estimate a whole storey")?;
    paper.text(
        "What would it take to put every floor of a storey right, bought and set up together?",
    )?;
    let body = json!({"site_id": site_id, "storey": STOREY, "wish": {"goal": "restore"}});
    let answer: Answer<Estimate> = client
        .post("/v1/estimates", &body, "story-estimate")
        .await?;
    show(paper, &answer)?;
    let estimate = answer.body;
    paper.text(&format!(
        "{} with {}: {} of paid work in {}, {} before tax. One by one they would cost {}.",
        count(estimate.n_surfaces, "floor"),
        square_metres(estimate.area_m2),
        hours(estimate.paid_h),
        count(estimate.n_shifts, "shift"),
        price(&estimate.cost.net),
        price(&estimate.apart_net)
    ))?;
    for count in &estimate.verdicts {
        let (n, area) = (count.n_surfaces, square_metres(count.area_m2));
        paper.point("-", &format!("{}: {n} with {area}", spoken(&count.verdict)))?;
    }
    floors(client, paper, (site_id, &estimate), knowledge).await?;
    work::quantities(paper, &estimate.products, &estimate.water, &estimate.pads)?;
    money::cost(paper, &estimate.cost)
}

/// Each floor with its answer, by the names that people know.
async fn floors<W: Write>(
    client: &Client,
    paper: &mut Paper<W>,
    (site_id, estimate): (&str, &Estimate),
    knowledge: &Knowledge,
) -> Result<(), DemoError> {
    let path = format!("/v1/surfaces?site_id={site_id}&limit=200");
    let page: Answer<Page<Surface>> = client.get(&path).await?;
    let known = page
        .body
        .items
        .iter()
        .map(|floor| (floor.id.as_str(), floor));
    let known: BTreeMap<&str, &Surface> = known.collect();
    paper.head("Floor by floor; the price is what it would cost alone, before tax")?;
    let mut table = Table::new(&[
        Column::Words("floor"),
        Column::Figure("area"),
        Column::Words("answer"),
        Column::Words("process, or what is asked"),
        Column::Figure("price"),
    ]);
    for answer in &estimate.surfaces {
        let floor = known.get(answer.surface_id.as_str());
        let what = if answer.asks.is_empty() {
            knowledge.name(&answer.process)
        } else {
            answer.asks.join(", ")
        };
        table.row([
            floor.map_or_else(|| answer.surface_id.clone(), |floor| floor.name.clone()),
            floor.map_or_else(String::new, |floor| square_metres(floor.area_m2)),
            spoken(&answer.verdict),
            what,
            answer.net.as_ref().map_or_else(|| "-".to_owned(), price),
        ]);
    }
    paper.table(&table)?;
    Ok(())
}

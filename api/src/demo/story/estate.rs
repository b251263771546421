//! What the estate holds, read back.

use std::io::Write;

use super::{
    super::{
        DemoError,
        answer::{Completion, Page, Site, Surface},
        client::{Answer, Client},
        history::WEEKS,
        paper::{Column, Paper, Table},
        words::{count, length, money, square_metres},
    },
    knowledge::Knowledge,
    show,
};

/// Sites, floors by storey, and the work of half a year.
pub(super) async fn tell<W: Write>(
    client: &Client,
    paper: &mut Paper<W>,
    knowledge: &Knowledge,
) -> Result<(), DemoError> {
    let sites: Answer<Page<Site>> = client.get("/v1/sites").await?;
    show(paper, &sites)?;
    let mut by_site = Table::new(&[
        Column::Words("site"),
        Column::Words("country"),
        Column::Words("time zone"),
        Column::Figure("floors"),
        Column::Figure("area"),
        Column::Figure("labour an hour"),
    ]);
    let mut by_storey = Table::new(&[
        Column::Words("site"),
        Column::Words("storey"),
        Column::Figure("floors"),
        Column::Figure("area"),
        Column::Words("materials"),
    ]);
    for site in &sites.body.items {
        let path = format!("/v1/surfaces?site_id={}&limit=200", site.id);
        let floors: Answer<Page<Surface>> = client.get(&path).await?;
        let floors = floors.body.items;
        by_site.row([
            site.name.clone(),
            site.country.clone(),
            site.time_zone.clone(),
            floors.len().to_string(),
            square_metres(floors.iter().map(|floor| floor.area_m2).sum()),
            money(&site.rate_card.labour_per_h),
        ]);
        let mut name = site.name.clone();
        for storey in storeys(&floors) {
            let on_it: Vec<_> = floors
                .iter()
                .filter(|floor| floor.storey == storey)
                .collect();
            let mut materials: Vec<_> = on_it
                .iter()
                .map(|floor| knowledge.name(&floor.material))
                .collect();
            materials.sort_unstable();
            materials.dedup();
            by_storey.row([
                std::mem::take(&mut name),
                storey.to_owned(),
                on_it.len().to_string(),
                square_metres(on_it.iter().map(|floor| floor.area_m2).sum()),
                materials.join("; "),
            ]);
        }
    }
    paper.table(&by_site)?;
    paper.gap()?;
    paper.table(&by_storey)?;
    work(client, paper).await
}

/// The storeys in the order in which they first come.
fn storeys(floors: &[Surface]) -> Vec<&str> {
    let mut storeys: Vec<&str> = Vec::new();
    for floor in floors {
        if !storeys.contains(&floor.storey.as_str()) {
            storeys.push(&floor.storey);
        }
    }
    storeys
}

/// How much work was reported, and what was special about it.
async fn work<W: Write>(client: &Client, paper: &mut Paper<W>) -> Result<(), DemoError> {
    let reports: Answer<Page<Completion>> = client
        .get("/v1/completions?limit=200&include_superseded=true")
        .await?;
    show(paper, &reports)?;
    if reports.body.next_cursor.is_some() {
        return Err(DemoError::Unexpected(
            "the history has more than one page".to_owned(),
        ));
    }
    let reports = reports.body.items;
    let n = |is: fn(&Completion) -> bool| reports.iter().filter(|report| is(report)).count();
    paper.text(&format!(
        "{} of work in the last {WEEKS} weeks. {} without a plan, {} charged as a sum, {} with deviations from the plan, \
         {} corrected afterwards and counted no more.",
        count(length(&reports), "report"),
        n(|report| report.unplanned),
        n(|report| report.charged.is_some()),
        n(|report| !report.deviations.is_empty()),
        n(|report| report.status == "superseded"),
    ))?;
    Ok(())
}

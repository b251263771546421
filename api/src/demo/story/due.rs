//! What is due, and what it will cost, in words.

use std::io::Write;

use serde::Deserialize;

use super::{
    super::{
        DemoError,
        answer::{Money, Named, Page},
        client::{Answer, Client},
        paper::{Column, Paper, Table},
        words::{count, money as price},
    },
    show,
};

/// A due date.
#[derive(Debug, Deserialize)]
struct Due {
    surface_name: String,
    process: Named,
    #[serde(rename = "due_on")]
    on: String,
    overdue_days: i64,
    basis: Basis,
}

/// Why it is due then.
#[derive(Debug, Deserialize)]
struct Basis {
    statement: String,
}

/// A forecast, as far as it is told here.
#[derive(Debug, Deserialize)]
struct Forecast {
    totals: Vec<Total>,
}

#[derive(Debug, Deserialize)]
struct Total {
    cost: Cost,
}

#[derive(Debug, Deserialize)]
struct Cost {
    n_jobs: i64,
    p50: Money,
    p80: Money,
    p90: Money,
}

/// Tells what is due first, and what the next twelve months will cost.
pub(super) async fn tell<W: Write>(client: &Client, paper: &mut Paper<W>) -> Result<(), DemoError> {
    paper.part("9. What is due, and what will it cost?")?;
    paper.text("Nobody has to ask for plans to know: the first ten of all floors, by what was surveyed and done.")?;
    let answer: Answer<Page<Due>> = client.get("/v1/due?limit=10").await?;
    show(paper, &answer)?;
    let mut table = Table::new(&[
        Column::Words("due on"),
        Column::Words("floor"),
        Column::Words("what"),
        Column::Words("why then"),
    ]);
    for due in &answer.body.items {
        let late = match due.overdue_days {
            0 => due.on.clone(),
            days => format!("{}, {} late", due.on, count(days, "day")),
        };
        table.row([
            late,
            due.surface_name.clone(),
            due.process.name.clone(),
            due.basis.statement.clone(),
        ]);
    }
    paper.table(&table)?;
    let answer: Answer<Forecast> = client.get("/v1/forecast?months=12").await?;
    show(paper, &answer)?;
    for total in &answer.body.totals {
        let cost = &total.cost;
        paper.text(&format!(
            "{} in twelve months, before tax: {} or less in half of all cases, {} in four of five, {} in nine of ten.",
            count(cost.n_jobs, "job"),
            price(&cost.p50),
            price(&cost.p80),
            price(&cost.p90)
        ))?;
    }
    Ok(())
}

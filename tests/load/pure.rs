//! What an estimate over many floors costs without a service: each floor of a file planned, all of them pooled.
//!
//! `pure FILE`: a line for each floor, with material, area in m², perimeter in m, what lies on it, coats, condition, traffic
//! and soil, divided by commas; `-` is unknown. Prints JSON. One thread, as a job of the service has.

use std::{error::Error, fs, time::Instant};

use chrono::DateTime;
use domain::{
    card::RateCard,
    estimate::pool::{Planned, Pool},
    knowledge::KnowledgeBase,
    plan::{PlanInput, draft_plan},
    quantity::{Area, Length},
    stock::Stock,
    survey::{Climate, Film, FilmCondition, FilmKind, Goal, Soil, Survey, Traffic, Wish},
};
use serde_json::json;

type Outcome<T> = Result<T, Box<dyn Error>>;

/// The allocator of the service.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

#[expect(clippy::print_stdout, reason = "its output is what it is for")]
fn main() -> Outcome<()> {
    let file = std::env::args().nth(1).ok_or("usage: pure FILE")?;
    let floors: Vec<Survey> = fs::read_to_string(file)?
        .lines()
        .map(floor)
        .collect::<Outcome<_>>()?;
    let base = KnowledgeBase::builtin()?;
    let card = RateCard::defaults(base, "GBP".parse()?)?;
    let climate = Climate {
        air_c: 20.0,
        floor_c: 19.0,
        humidity_pct: 50.0,
        air_speed_m_s: 0.1,
        outdoor: None,
    };
    let wish = Wish::to(Goal::Restore);
    let now = DateTime::from_timestamp(1_793_000_000, 0).ok_or("no such moment")?;
    let begun = Instant::now();
    let mut sum = Pool::default();
    for survey in &floors {
        let plan = draft_plan(&PlanInput {
            survey,
            wish: &wish,
            climate: &climate,
            card: &card,
            country: "GB",
            base,
            own_products: &[],
            stock: Stock::NONE,
            climate_assumed: false,
            now,
            zone: "Europe/London".parse()?,
        })?;
        sum.add(Planned {
            area: survey.area,
            plan: &plan,
        });
    }
    let estimate = sum.estimate(base, &card, Stock::NONE)?;
    let told = json!({
        "seconds": begun.elapsed().as_secs_f64(),
        "floors": floors.len(),
        "net": estimate.cost.net.amount,
    });
    println!("{told}");
    Ok(())
}

fn floor(line: &str) -> Outcome<Survey> {
    let cells: Vec<&str> = line.split(',').collect();
    let [
        material,
        area,
        perimeter,
        kind,
        coats,
        condition,
        traffic,
        soil,
    ] = cells.as_slice()
    else {
        return Err(format!("not eight cells: {line}").into());
    };
    let area = Area::from_m2(area.parse()?).ok_or("an area that the ledger does not hold")?;
    Ok(Survey {
        perimeter: Length::from_m(perimeter.parse()?),
        built_year: Some(2010),
        traffic: Traffic::of(traffic),
        soil: Soil::of(soil),
        film: Film {
            kind: FilmKind::of(kind),
            coats: coats.parse().ok(),
            condition: FilmCondition::of(condition),
        },
        ..Survey::new(material, area)
    })
}

//! How long the planner takes for a real building: every hard floor of a clinic planned and pooled into one estimate.
//!
//! Rooms: `tests/clinic/rooms.csv` (see its README for origin and licence). Film, year and traffic are ours.

#![expect(
    clippy::expect_used,
    reason = "a bench that cannot be set up must stop"
)]

use std::hint::black_box;

use chrono::DateTime;
use chrono_tz::Tz;
use criterion::{Criterion, criterion_group, criterion_main};
use domain::{
    card::RateCard,
    estimate::pool::{Planned, pool},
    knowledge::{FinishMeaning, KnowledgeBase},
    plan::{Plan, PlanInput, draft_plan},
    quantity::{Area, Length},
    stock::Stock,
    survey::{Climate, Film, FilmCondition, FilmKind, Goal, Survey, Traffic, Wish},
};

const ROOMS: &str = include_str!("../../tests/clinic/rooms.csv");

/// The hard floors of the clinic, with a polish that is worn where the floor takes one.
fn floors(base: &KnowledgeBase) -> Vec<Survey> {
    let rooms = ROOMS.lines().filter(|line| !line.starts_with('#')).skip(1);
    let floor = |line: &str| {
        let cells: Vec<&str> = line.split(',').collect();
        let FinishMeaning::Hard(material) = base.finish(cells.get(4)?) else {
            return None;
        };
        let area = Area::from_m2(cells.get(5)?.parse().ok()?)?;
        let polished = material.polish == "yes";
        let kind = if polished {
            FilmKind::Polish
        } else {
            FilmKind::Bare
        };
        let condition = polished.then_some(FilmCondition::Worn);
        Some(Survey {
            perimeter: cells
                .get(6)
                .and_then(|cell| cell.parse().ok())
                .and_then(Length::from_m),
            built_year: Some(2009),
            traffic: Some(Traffic::Medium),
            film: Film {
                kind: Some(kind),
                coats: polished.then_some(5),
                condition,
            },
            ..Survey::new(&material.key, area)
        })
    };
    rooms.filter_map(floor).collect()
}

fn bench(c: &mut Criterion) {
    let base = KnowledgeBase::builtin().expect("usable");
    let card = RateCard::defaults(base, "USD".parse().expect("a code")).expect("usable");
    let climate = Climate {
        air_c: 20.0,
        floor_c: 19.0,
        humidity_pct: 50.0,
        air_speed_m_s: 0.1,
        outdoor: None,
    };
    let now = DateTime::from_timestamp(1_793_000_000, 0).expect("a moment");
    let wish = Wish::to(Goal::Restore);
    let floors = floors(base);
    let draft = |survey| -> Plan {
        let input = PlanInput {
            survey,
            wish: &wish,
            climate: &climate,
            card: &card,
            country: "US",
            base,
            own_products: &[],
            stock: Stock::NONE,
            climate_assumed: false,
            now,
            zone: Tz::UTC,
        };
        draft_plan(&input).expect("an answer")
    };
    let mut group = c.benchmark_group("clinic");
    group.sample_size(20);
    group.bench_function(format!("estimate_{}_floors", floors.len()), |b| {
        b.iter(|| {
            let plans: Vec<Plan> = floors
                .iter()
                .map(|survey| draft(black_box(survey)))
                .collect();
            let planned: Vec<Planned<'_>> = floors
                .iter()
                .zip(&plans)
                .map(|(floor, plan)| Planned {
                    area: floor.area,
                    plan,
                })
                .collect();
            pool(base, &card, &planned, Stock::NONE).expect("an estimate")
        });
    });
    group.finish();
}

criterion_group!(benches, bench);
criterion_main!(benches);

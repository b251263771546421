//! How long one floor takes: every process of the knowledge base worked out in full and judged.

#![expect(
    clippy::expect_used,
    reason = "a benchmark that cannot be set up must stop"
)]

use std::hint::black_box;

use chrono::DateTime;
use chrono_tz::Tz;
use criterion::Criterion;
use domain::{
    card::RateCard,
    estimate::pool::{Planned, pool},
    geometry::{Outline, Point},
    knowledge::KnowledgeBase,
    plan::{PlanInput, draft_plan},
    quantity::{Area, Length},
    stock::Stock,
    survey::{Climate, Film, FilmCondition, FilmKind, Goal, Survey, Traffic, Wish},
};

/// That of the service, so that what is measured is what a plan takes there.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() {
    let mut criterion = Criterion::default().configure_from_args();
    let base = KnowledgeBase::builtin().expect("usable");
    let currency = "GBP".parse().expect("a code");
    let card = RateCard::defaults(base, currency).expect("usable");
    let climate = Climate {
        air_c: 20.0,
        floor_c: 19.0,
        humidity_pct: 50.0,
        air_speed_m_s: 0.1,
        outdoor: None,
    };
    let survey = Survey {
        perimeter: Some(Length::from_mm(76_000)),
        built_year: Some(2010),
        traffic: Some(Traffic::Heavy),
        film: Film {
            kind: Some(FilmKind::Polish),
            coats: Some(6),
            condition: Some(FilmCondition::Worn),
        },
        ..Survey::new("vinyl_composition_tile", Area::from_mm2(240_000_000))
    };
    let wish = Wish::to(Goal::Restore);
    let input = PlanInput {
        survey: &survey,
        wish: &wish,
        climate: &climate,
        card: &card,
        country: "GB",
        base,
        own_products: &[],
        stock: Stock::NONE,
        climate_assumed: false,
        now: DateTime::from_timestamp(1_793_000_000, 0).expect("a moment"),
        zone: Tz::UTC,
    };

    criterion.bench_function("plan of one floor, all processes", |b| {
        b.iter(|| draft_plan(black_box(&input)));
    });

    of_drawn_floors(&mut criterion, &input);

    let plan = draft_plan(&input).expect("an answer");
    let planned = vec![
        Planned {
            area: survey.area,
            plan: &plan,
        };
        1_000
    ];
    criterion.bench_function("estimate over 1000 planned floors", |b| {
        b.iter(|| pool(base, &card, black_box(&planned), Stock::NONE));
    });

    criterion.final_summary();
}

fn of_drawn_floors(criterion: &mut Criterion, input: &PlanInput<'_>) {
    // Twelve points, 240 m², a column; eight bays at most for each of four coats.
    let ring = [
        (0.0, 0.0),
        (30.0, 0.0),
        (30.0, 6.0),
        (28.0, 6.0),
        (28.0, 8.0),
        (16.0, 8.0),
        (16.0, 10.5),
        (12.0, 10.5),
        (12.0, 8.0),
        (4.0, 8.0),
        (4.0, 7.25),
        (0.0, 7.25),
    ];
    let outline = Outline::new(&[ring.map(|(x, y)| Point::new(x, y)).to_vec()]).expect("a floor");
    let blank = Survey {
        area: outline.area(),
        perimeter: None,
        doors: vec![Point::new(0.0, 4.0)],
        film: Film {
            kind: Some(FilmKind::Bare),
            ..Film::default()
        },
        outline: Some(outline),
        ..input.survey.clone()
    };
    let protect = Wish::to(Goal::Protect);
    let drawn = PlanInput {
        survey: &blank,
        wish: &protect,
        ..*input
    };
    let n_bays = |input: &PlanInput<'_>| {
        let work = draft_plan(input).expect("an answer").work.expect("allowed");
        work.layouts.iter().map(|layout| layout.bays.len()).max()
    };
    assert!(n_bays(&drawn) <= Some(8), "{:?}", n_bays(&drawn));
    criterion.bench_function("plan of one drawn floor, up to 8 bays, 4 coats", |b| {
        b.iter(|| draft_plan(black_box(&drawn)));
    });
    let stripped = Survey {
        film: input.survey.film,
        ..blank.clone()
    };
    let many = PlanInput {
        survey: &stripped,
        ..*input
    };
    let title = format!(
        "plan of one drawn floor, {} bays",
        n_bays(&many).unwrap_or(0)
    );
    criterion.bench_function(&title, |b| b.iter(|| draft_plan(black_box(&many))));
}

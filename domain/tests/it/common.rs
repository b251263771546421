//! Floors and rate cards that several tests share.

#![expect(clippy::expect_used, reason = "a test that cannot be set up must stop")]

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use domain::{
    card::{PackPrice, RateCard, Share},
    knowledge::KnowledgeBase,
    money::{Currency, Money},
    plan::{DraftPlanError, Plan, PlanInput, ProcessRef, draft_plan},
    quantity::{Area, Length},
    survey::{Climate, Film, FilmCondition, FilmKind, Obstruction, Space, Survey, Traffic, Wish},
};

/// The knowledge base that ships.
pub(crate) fn base() -> &'static KnowledgeBase {
    KnowledgeBase::builtin().expect("usable")
}

/// A fixed moment.
pub(crate) fn now() -> DateTime<Utc> {
    DateTime::from_timestamp(1_793_000_000, 0).expect("a moment")
}

/// An ordinary room climate.
pub(crate) fn climate() -> Climate {
    Climate {
        air_c: 20.0,
        floor_c: 19.0,
        humidity_pct: 50.0,
        air_speed_m_s: 0.1,
        outdoor: None,
    }
}

/// An amount of euros.
pub(crate) fn euro(text: &str) -> Money {
    let currency: Currency = "EUR".parse().expect("a code");
    Money::parse(text, currency).expect("an amount")
}

/// The rate card of the worked examples: 16.50 an hour, 5 L packs, nothing for machines and waste.
pub(crate) fn golden_card() -> RateCard {
    let currency: Currency = "EUR".parse().expect("a code");
    let mut card = RateCard::defaults(base(), currency).expect("usable");
    card.labour_per_h = euro("16.50");
    card.allowance = Share::from_pct(10.0).expect("legal");
    card.contingency = Share::default();
    card.overhead = Share::from_pct(12.0).expect("legal");
    card.margin = Share::from_pct(10.0).expect("legal");
    card.crew_size = 2;
    card.waste_per_l = euro("0");
    let five_litres = |price: &str| {
        vec![PackPrice {
            size_ml: 5_000,
            price: euro(price),
        }]
    };
    card.packs
        .insert("stripper_alkaline".to_owned(), five_litres("15.00"));
    card.packs
        .insert("polish_emulsion".to_owned(), five_litres("21.00"));
    card.consumables.insert("black".to_owned(), euro("6.00"));
    for machine in &base().machines {
        card.machines.insert(machine.key.clone(), euro("0"));
    }
    card
}

/// 30 m by 8 m of composition tile under heavy traffic, its polish worn.
pub(crate) fn corridor() -> Survey {
    Survey {
        perimeter: Some(Length::from_mm(76_000)),
        space: Some(Space::Corridor),
        built_year: Some(2010),
        traffic: Some(Traffic::Heavy),
        obstruction: Some(Obstruction::Light),
        film: Film {
            kind: Some(FilmKind::Polish),
            coats: Some(6),
            condition: Some(FilmCondition::Worn),
        },
        ..Survey::new("vinyl_composition_tile", Area::from_mm2(240_000_000))
    }
}

/// The plan for a floor in an ordinary climate.
pub(crate) fn plan(survey: &Survey, wish: &Wish, card: &RateCard) -> Plan {
    try_plan(survey, wish, card).expect("an answer")
}

/// The same, or why there is none.
pub(crate) fn try_plan(
    survey: &Survey,
    wish: &Wish,
    card: &RateCard,
) -> Result<Plan, DraftPlanError> {
    let climate = climate();
    let input = PlanInput {
        survey,
        wish,
        climate: &climate,
        card,
        country: "GB",
        base: base(),
        own_products: &[],
        stock: domain::stock::Stock::NONE,
        climate_assumed: false,
        now: now(),
        zone: Tz::UTC,
    };
    draft_plan(&input)
}

/// The keys of processes.
pub(crate) fn keys(processes: &[ProcessRef]) -> Vec<&str> {
    processes
        .iter()
        .map(|process| process.key.as_str())
        .collect()
}

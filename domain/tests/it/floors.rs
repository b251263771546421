//! Floors, wishes and climates at random, and one plan for any of them.

#![expect(clippy::expect_used, reason = "a test that cannot be set up must stop")]

use chrono::Days;
use chrono_tz::Tz;
use domain::{
    card::{RateCard, Share},
    knowledge::KnowledgeBase,
    money::Currency,
    plan::{Plan, PlanInput, draft_plan},
    quantity::{Area, Length},
    survey::{
        Asbestos, Climate, Consent, Film, FilmCondition, FilmKind, Finish, Goal, Limits,
        Obstruction, Skill, Soil, Space, Survey, Traffic, Wish,
    },
};
use proptest::{prelude::*, sample::select, test_runner::RngSeed};

use crate::common::{base, now};

/// The same cases on every run: a failure is a failure for everybody.
pub(crate) fn cases(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        failure_persistence: None,
        rng_seed: RngSeed::Fixed(20_261),
        ..ProptestConfig::default()
    }
}

/// The default card in a currency.
pub(crate) fn card(currency: &str) -> RateCard {
    let currency: Currency = currency.parse().expect("a code");
    RateCard::defaults(base(), currency).expect("usable")
}

/// A plan by any knowledge base in any air.
pub(crate) fn plan_in(
    base: &KnowledgeBase,
    survey: &Survey,
    wish: &Wish,
    climate: &Climate,
    card: &RateCard,
) -> Plan {
    let input = PlanInput {
        survey,
        wish,
        climate,
        card,
        country: "GB",
        base,
        own_products: &[],
        stock: domain::stock::Stock::NONE,
        climate_assumed: false,
        now: now(),
        zone: Tz::UTC,
    };
    draft_plan(&input).expect("an answer")
}

/// A film on which a process is not refused for want of one, or because of one.
pub(crate) fn film_for(process: &str) -> Film {
    let row = base().process(process).expect("a process");
    let film = |kind, coats, condition| Film {
        kind: Some(kind),
        coats: Some(coats),
        condition: Some(condition),
    };
    if row.strips {
        film(FilmKind::Polish, 6, FilmCondition::Yellowed)
    } else if row.sands {
        film(FilmKind::Seal, 0, FilmCondition::Worn)
    } else if row.recoat || row.dry_buffs {
        film(FilmKind::Polish, 4, FilmCondition::Soiled)
    } else {
        Film {
            kind: Some(FilmKind::Bare),
            ..Film::default()
        }
    }
}

/// A key of one of the processes.
pub(crate) fn any_process() -> impl Strategy<Value = String> {
    let keys: Vec<String> = base().processes.iter().map(|row| row.key.clone()).collect();
    select(keys)
}

/// A key of one of the materials.
pub(crate) fn any_material() -> impl Strategy<Value = String> {
    let keys: Vec<String> = base().materials.iter().map(|row| row.key.clone()).collect();
    select(keys)
}

/// A floor of 3 to 2,000 m², half of them of whole square metres, with nothing in its way to be worked on.
pub(crate) fn any_floor() -> impl Strategy<Value = Survey> {
    let area = prop_oneof![
        3_000_000_i64..2_000_000_000,
        (3_i64..2_000).prop_map(|m2| m2 * 1_000_000)
    ];
    let of = |all: &'static [Obstruction]| select(all);
    (
        any_material(),
        area,
        prop::option::of(0.9..3.0_f64),
        of(Obstruction::ALL),
        select(Soil::ALL),
        prop::option::of(select(Traffic::ALL)),
        prop::option::of(select(Space::ALL)),
    )
        .prop_map(
            |(material, mm2, longer, obstruction, soil, traffic, space)| {
                let area = Area::from_mm2(mm2);
                let square = 4.0 * area.m2().sqrt();
                Survey {
                    perimeter: longer.and_then(|longer| Length::from_m(square * longer)),
                    obstruction: Some(obstruction),
                    soil: Some(soil),
                    traffic,
                    space,
                    built_year: Some(2012),
                    occupied: false,
                    ..Survey::new(&material, area)
                }
            },
        )
}

/// Coats of 1 to 5, a gap of 0 to 300 mm, a crew of 1 to 4 of any skill.
pub(crate) fn any_limits() -> impl Strategy<Value = Limits> {
    (
        prop::option::of(1_i64..=5),
        prop::option::of(0_i64..=2),
        prop::option::of(0_i64..=300),
        prop::option::of(1_i64..=4),
        prop::option::of(select(Skill::ALL)),
    )
        .prop_map(|(polish_coats, seal_coats, gap, crew_size, skill)| Limits {
            polish_coats,
            seal_coats,
            edge_gap: gap.map(Length::from_mm),
            crew_size,
            skill,
            ..Limits::default()
        })
}

/// A wish for one process.
pub(crate) fn named(process: &str, goal: Goal, limits: Limits) -> Wish {
    Wish {
        process: Some(process.to_owned()),
        limits,
        ..Wish::to(goal)
    }
}

/// A card in one of three kinds of currency with every share set.
pub(crate) fn any_card() -> impl Strategy<Value = RateCard> {
    let code = select(vec!["GBP", "JPY", "KWD"]);
    (code, 0_i64..2_000, 0_i64..2_000, 0_i64..3_000, 0_i64..2_500).prop_map(
        |(code, contingency, overhead, margin, tax)| {
            let mut card = card(code);
            card.contingency = Share::from_ten_thousandths(contingency);
            card.overhead = Share::from_ten_thousandths(overhead);
            card.margin = Share::from_ten_thousandths(margin);
            card.tax = Share::from_ten_thousandths(tax);
            card
        },
    )
}

/// A film of any kind, or none that anybody has looked at.
fn any_film() -> impl Strategy<Value = Film> {
    (
        prop::option::weighted(0.8, select(FilmKind::ALL)),
        prop::option::weighted(0.7, 0_i64..16),
        prop::option::weighted(0.8, select(FilmCondition::ALL)),
    )
        .prop_map(|(kind, coats, condition)| Film {
            kind,
            coats,
            condition,
        })
}

/// A floor of which anything may be known or not.
pub(crate) fn any_survey() -> impl Strategy<Value = Survey> {
    let readings = (
        prop::option::of(1950_i16..2026),
        select(Asbestos::ALL),
        prop::option::of(0.0..100.0_f64),
        prop::option::of(5.0..80.0_f64),
        prop::option::of(0.0..80.0_f64),
        prop::option::of(0_u64..200),
    );
    let flags = prop::array::uniform6(prop::bool::weighted(0.2));
    let told = (
        prop::option::weighted(0.7, prop::bool::weighted(0.2)),
        prop::option::of(select(Consent::ALL)),
        prop::option::weighted(0.8, select(Soil::ALL)),
    );
    let known = (any_floor(), any_film(), readings, flags, told);
    known.prop_map(|(floor, film, readings, flags, (black, consent, soil))| {
        let (built_year, asbestos, moisture_rh_pct, ptv_wet, gloss_loss_pct, days) = readings;
        let [wet_in_use, occupied, sole, static_control, raised, heritage] = flags;
        Survey {
            film,
            soil,
            built_year,
            asbestos,
            moisture_rh_pct,
            ptv_wet,
            gloss_loss_pct,
            laid_on: days.and_then(|days| now().date_naive().checked_sub_days(Days::new(days))),
            wet_in_use,
            occupied,
            sole_escape_route: sole,
            static_control,
            raised_access: raised,
            heritage,
            heritage_consent: consent,
            black_adhesive: black,
            ..floor
        }
    })
}

/// A wish for any goal, one in three for a process by name.
pub(crate) fn any_wish() -> impl Strategy<Value = Wish> {
    (
        select(Goal::ALL),
        prop::option::weighted(0.33, any_process()),
        prop::option::of(select(Finish::ALL)),
        any_limits(),
        prop::option::of(60_i64..900),
    )
        .prop_map(|(goal, process, finish, limits, window_min)| Wish {
            goal,
            process,
            finish,
            limits: Limits {
                window_min,
                ..limits
            },
            ..Wish::to(goal)
        })
}

/// Air in which people work, over a floor a little cooler or warmer.
pub(crate) fn any_climate() -> impl Strategy<Value = Climate> {
    (10.0..32.0_f64, -4.0..2.0_f64, 20.0..85.0_f64, 0.0..1.0_f64).prop_map(
        |(air_c, below, humidity_pct, air_speed_m_s)| Climate {
            air_c,
            floor_c: air_c + below,
            humidity_pct,
            air_speed_m_s,
            outdoor: None,
        },
    )
}

//! Programmes for one floor, held to other ways of reckoning the same.

#![expect(clippy::expect_used, reason = "a test that cannot be set up must stop")]

use chrono::{DateTime, TimeDelta, Utc};
use chrono_tz::Tz;
use domain::{
    due::{Done, Past, due},
    film::{Entry, EntryId, Event, Floor, Told, Word, state_at},
    id::SurfaceId,
    plan::PlanInput,
    programme::{
        Act, Asked, Comparison, NotReckoned, Programme, Terms, compare,
        start::{Known, Read},
        wear::Use,
        worth::DiscountRate,
    },
    stock::Stock,
    survey::{FilmCondition, FilmKind, Goal, Survey, Traffic, Wish},
};
use uuid::Uuid;

use crate::common::{base, climate, corridor, golden_card, now};

fn rate(share: f64) -> DiscountRate {
    DiscountRate::of(share).expect("a rate")
}

/// What a test tells of a floor beside its survey.
#[derive(Default)]
struct Story {
    gloss: Vec<(i64, f64)>,
    grip: Vec<(i64, f64)>,
    done: Vec<(i64, &'static str)>,
    told: Use,
    below_share: Option<f64>,
    months: Option<u32>,
}

fn days_ago(days: i64) -> DateTime<Utc> {
    now() - TimeDelta::days(days)
}

/// A sound corridor of four coats, seen 40 days ago.
fn sound() -> Survey {
    let mut survey = corridor();
    survey.film.coats = Some(4);
    survey.film.condition = Some(FilmCondition::Sound);
    survey.traffic = Some(Traffic::Medium);
    survey
}

fn asked(survey: &Survey, story: &Story) -> Result<Comparison, NotReckoned> {
    let told = Told {
        kind: survey.film.kind,
        coats: survey.film.coats,
        seal_coats: None,
        stripped_on: None,
        condition: survey.film.condition,
    };
    let entries = [Entry {
        id: EntryId::Surface(SurfaceId::from_uuid(Uuid::from_u128(1))),
        at: days_ago(40),
        counts: true,
        event: Event::Told(Word::Survey, told),
    }];
    let floor = Floor {
        base: base(),
        area: survey.area,
        traffic: survey.traffic,
    };
    let state = state_at(floor, &entries, now());
    let done: Vec<Done> = story
        .done
        .iter()
        .map(|(days, process)| Done {
            process: (*process).to_owned(),
            at: days_ago(*days),
            area: survey.area,
        })
        .collect();
    let reads = |told: &[(i64, f64)]| {
        told.iter()
            .map(|(days, value)| Read {
                at: days_ago(*days),
                value: *value,
            })
            .collect::<Vec<_>>()
    };
    let (gloss, grip) = (reads(&story.gloss), reads(&story.grip));
    let survey = Survey {
        film: state.film(),
        coated_at: state.coated_at(),
        ..survey.clone()
    };
    let (climate, card, wish) = (climate(), golden_card(), Wish::to(Goal::Maintain));
    let input = PlanInput {
        survey: &survey,
        wish: &wish,
        climate: &climate,
        card: &card,
        country: "GB",
        base: base(),
        own_products: &[],
        stock: Stock::NONE,
        climate_assumed: false,
        now: now(),
        zone: Tz::UTC,
    };
    let past = Past {
        entries: &entries,
        done: &done,
        surveyed_at: days_ago(40),
    };
    let due = due(&input, past).expect("dates");
    compare(Asked {
        input,
        known: Known {
            now: now(),
            state: &state,
            done: &done,
            gloss: &gloss,
            grip: &grip,
        },
        told: story.told,
        due: &due,
        terms: Terms {
            months: story.months.unwrap_or(60),
            rate: rate(0.035),
            below_share: story.below_share.unwrap_or(0.1),
        },
    })
}

#[test]
fn try_it() {
    let _ = (Act::ALL, FilmKind::Bare);
    let start = std::time::Instant::now();
    let found = asked(
        &sound(),
        &Story {
            grip: vec![(10, 45.0)],
            ..Story::default()
        },
    )
    .expect("reckoned");
    println!("{:?}", start.elapsed());
    println!(
        "{:?} {:?} {:?}",
        found.wear.coats_per_month, found.gloss, found.offers
    );
    println!("worth {} obj {:?}", found.worth, found.objectives);
    for (name, p) in [
        ("best", &found.best),
        ("fixed", &found.fixed),
        ("longer", &found.longer),
        ("leave", &found.leave),
        ("wait", &found.wait),
    ] {
        let Some(p) = p else {
            println!("{name} none");
            continue;
        };
        let sum = |n: usize| p.months.iter().map(|m| m.acts[n]).sum::<f64>();
        println!(
            "{name} pv {} below {} unsafe {:?} hb {} acts {:?}",
            p.present(rate(0.035)),
            p.below_share(),
            p.unsafe_from,
            p.hand_back,
            (0..6).map(sum).collect::<Vec<_>>()
        );
    }
    let p: &Programme = found.best.as_ref().expect("best");
    for m in p.months.iter().take(14) {
        println!("{:?}", m);
    }
    panic!();
}

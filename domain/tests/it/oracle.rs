//! The engine against the slow second estimate: a third worked floor, a sealed slab, and floors at random.

#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "a test stops at the first difference"
)]

use std::collections::BTreeSet;

use domain::{
    card::RateCard,
    plan::{Plan, Work},
    quantity::{Area, Labour, Length},
    survey::{Film, FilmCondition, FilmKind, Goal, Obstruction, Survey, Traffic, Wish},
};
use proptest::prelude::*;

use crate::{
    common::{base, climate},
    exact::up,
    floors::{any_card, any_floor, any_limits, any_process, card, cases, film_for, named, plan_in},
    slow::{Scene, SlowStep},
};

fn near(what: &str, engine: i64, oracle: i64, tolerance: i64) -> Result<(), TestCaseError> {
    prop_assert!(
        (engine - oracle).abs() <= tolerance,
        "{what}: the engine says {engine}, the oracle {oracle}"
    );
    Ok(())
}

fn steps_agree(work: &Work, steps: &[SlowStep<'_>]) -> Result<(), TestCaseError> {
    prop_assert_eq!(work.steps.len(), steps.len());
    for (engine, oracle) in work.steps.iter().zip(steps) {
        let what = &oracle.row.key;
        prop_assert_eq!(&engine.key, what);
        prop_assert_eq!(engine.coat.is_some(), oracle.coat);
        prop_assert_eq!(engine.coat.map_or(0, |coat| coat.gap.mm()), oracle.gap_mm);
        let used = engine.product.as_ref();
        let working = used.and_then(|used| used.working).unwrap_or_default();
        let need = used.and_then(|used| used.concentrate).unwrap_or_default();
        near(what, working.ul(), oracle.working_ul, 2)?;
        near(what, need.ul(), oracle.need_ul, 2)?;
        near(what, engine.water.ul(), oracle.water_ul, 2)?;
        near(what, engine.labour.us(), oracle.labour_us, 4)?;
    }
    Ok(())
}

/// Compares a plan's work in full.
fn agree(scene: &Scene<'_>, work: &Work) -> Result<(), TestCaseError> {
    let mut steps = scene.steps();
    let labour = scene.labour(&mut steps);
    steps_agree(work, &steps)?;
    prop_assert_eq!(work.labour.len(), labour.len());
    for (engine, oracle) in work.labour.iter().zip(&labour) {
        prop_assert_eq!(&engine.activity, &oracle.activity);
        prop_assert_eq!(&engine.machine, &oracle.machine);
        near(&oracle.activity, engine.time.us(), oracle.time_us, 4)?;
    }
    let totals = scene.totals(&steps);
    prop_assert_eq!(work.products.len(), totals.len());
    for engine in &work.products {
        let n_terms = i64::try_from(steps.len()).expect("few");
        let total = totals.get(&engine.product).copied().unwrap_or_default();
        near(&engine.product, engine.total.ul(), total, 2 * n_terms)?;
        let bought = scene.buy(&engine.product, total);
        let paid = scene.paid(&engine.product, total);
        prop_assert_eq!(engine.price.amount, paid, "{}", engine.product);
        prop_assert_eq!(engine.ordered.ul(), bought.volume_ml * 1_000);
        let n_packs: i64 = engine.packs.iter().map(|pack| pack.count).sum();
        prop_assert_eq!(n_packs, bought.n_packs);
    }
    let pads: Vec<_> = work
        .pads
        .iter()
        .map(|pad| (pad.pad.clone(), (pad.area.mm2(), pad.count)))
        .collect();
    prop_assert_eq!(pads, scene.pads(&steps).into_iter().collect::<Vec<_>>());
    let n_terms = i64::try_from(steps.len()).expect("few");
    near(
        "slurry",
        work.water.slurry.ul(),
        scene.slurry_ul(&steps),
        2 * n_terms,
    )?;
    money_agrees(scene, work, &scene.lines(&steps, &labour))?;
    let waits: Vec<i64> = work
        .steps
        .iter()
        .map(|step| step.wait.as_ref().map_or(0, |wait| wait.used_min))
        .collect();
    let elapsed = scene.elapsed_us(&steps, &waits);
    near("elapsed", work.time_line.elapsed.us(), elapsed, 20)?;
    let minutes = up(&(crate::exact::int(elapsed) / crate::exact::int(60_000_000)));
    let walk = work
        .time_line
        .events
        .iter()
        .find(|event| event.key == "walk");
    prop_assert_eq!(walk.map(|event| event.used_min), Some(minutes));
    Ok(())
}

fn money_agrees(
    scene: &Scene<'_>,
    work: &Work,
    lines: &[(&'static str, i64)],
) -> Result<(), TestCaseError> {
    let engine: Vec<_> = work
        .cost
        .lines
        .iter()
        .map(|line| (line.kind.word(), line.amount.amount))
        .collect();
    prop_assert_eq!(engine, lines.to_vec(), "{}", scene.process.key);
    let sum = |kinds: &[&str]| -> i64 {
        let counted = lines.iter().filter(|line| !kinds.contains(&line.0));
        counted.map(|line| line.1).sum()
    };
    prop_assert_eq!(work.cost.gross.amount, sum(&[]));
    prop_assert_eq!(work.cost.net.amount, sum(&["tax"]));
    let added = ["tax", "contingency", "overhead", "margin"];
    prop_assert_eq!(work.cost.direct.amount, sum(&added));
    Ok(())
}

fn scene<'a>(survey: &'a Survey, wish: &'a Wish, card: &'a RateCard, plan: &Plan) -> Scene<'a> {
    Scene {
        base: base(),
        card,
        survey,
        wish,
        process: base().process(&plan.process).expect("a process"),
    }
}

fn check(survey: &Survey, wish: &Wish, card: &RateCard) -> Work {
    let plan = plan_in(base(), survey, wish, &climate(), card);
    let work = plan.work.clone().unwrap_or_else(|| {
        panic!(
            "{}: {:?} {:?}",
            plan.verdict.word(),
            plan.findings,
            plan.questions
        )
    });
    agree(&scene(survey, wish, card, &plan), &work).unwrap_or_else(|differs| panic!("{differs}"));
    work
}

#[test]
fn golden_13_3_a_vinyl_room_is_scrubbed_and_recoated() {
    let survey = Survey {
        perimeter: Some(Length::from_mm(39_200)),
        built_year: Some(2012),
        traffic: Some(Traffic::Medium),
        obstruction: Some(Obstruction::Medium),
        film: Film {
            kind: Some(FilmKind::Polish),
            coats: Some(3),
            condition: Some(FilmCondition::Soiled),
        },
        ..Survey::new("vinyl_sheet", Area::from_mm2(87_350_000))
    };
    let work = check(&survey, &Wish::to(Goal::Restore), &card("GBP"));
    // One coat, laid up to the skirting: 87.35 m² at 50 m²/L.
    let coats: Vec<_> = work.steps.iter().filter_map(|step| step.coat).collect();
    assert_eq!(coats.len(), 1);
    let polish = work
        .products
        .iter()
        .find(|line| line.class == "polish")
        .expect("polish");
    assert_eq!(polish.need.ul(), 1_747_000);
    // Loss of 10 % between 50 and 300 m².
    assert_eq!(polish.total.ul(), 1_921_700);
    // Edges: 39.2 m at 60 m/h.
    let edges = work
        .labour
        .iter()
        .find(|line| line.activity == "edge_clean");
    assert_eq!(
        edges.map(|line| line.time),
        Some(Labour::from_seconds(2_352))
    );
}

#[test]
fn golden_13_4_a_bare_slab_is_sealed() {
    let survey = Survey {
        perimeter: Some(Length::from_mm(50_000)),
        traffic: Some(Traffic::Medium),
        obstruction: Some(Obstruction::Open),
        moisture_rh_pct: Some(70.0),
        film: Film {
            kind: Some(FilmKind::Bare),
            ..Film::default()
        },
        ..Survey::new("concrete_bare", Area::from_mm2(150_000_000))
    };
    let work = check(&survey, &Wish::to(Goal::Protect), &card("GBP"));
    let seal = work
        .products
        .iter()
        .find(|line| line.class == "seal")
        .expect("seal");
    // (150 - 50 · 0.1 + 4 · 0.1²) / 18 + 150 / 35 litres.
    assert_eq!(seal.need.ul(), 8_057_778 + 4_285_714);
}

#[test]
fn the_engine_agrees_with_the_oracle_on_every_process() {
    let mut compared = BTreeSet::new();
    for process in &base().processes {
        for material in &base().materials {
            for goal in Goal::ALL {
                let survey = Survey {
                    film: film_for(&process.key),
                    built_year: Some(2012),
                    ..Survey::new(&material.key, Area::from_mm2(61_234_567))
                };
                let wish = named(&process.key, *goal, domain::survey::Limits::default());
                let card = card("KWD");
                let plan = plan_in(base(), &survey, &wish, &climate(), &card);
                if let Some(work) = &plan.work {
                    agree(&scene(&survey, &wish, &card, &plan), work)
                        .unwrap_or_else(|differs| panic!("{}: {differs}", process.key));
                    compared.insert(process.key.as_str());
                }
            }
        }
    }
    // What another trade does has no steps of ours to compare.
    let ours = base()
        .processes
        .iter()
        .filter(|row| !row.specialist)
        .count();
    assert_eq!(compared.len(), ours, "{compared:?}");
}

proptest! {
    #![proptest_config(cases(256))]

    #[test]
    fn the_engine_agrees_with_the_oracle_on_any_floor(
        floor in any_floor(),
        process in any_process(),
        limits in any_limits(),
        card in any_card(),
    ) {
        let survey = Survey { film: film_for(&process), ..floor };
        let wish = named(&process, Goal::Restore, limits);
        let plan = plan_in(base(), &survey, &wish, &climate(), &card);
        prop_assume!(plan.work.is_some());
        if let Some(work) = &plan.work {
            agree(&scene(&survey, &wish, &card, &plan), work)?;
        }
    }
}

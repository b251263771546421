//! What jobs tell of coverage and of drying, in plans and in what a forecast adds up: how far it moves them, and what it never does.

#![expect(clippy::expect_used, reason = "a test that cannot be set up must stop")]

use chrono_tz::Tz;
use domain::{
    card::RateCard,
    due::forecast,
    estimate::{
        basis::Basis,
        pool::{Planned, pool},
    },
    knowledge::{KnowledgeBase, Measure},
    learning::{Kind, LearntFigure, WATER},
    plan::{Plan, PlanInput, RuledBy, Wait, Work},
    quantity::Area,
    stock::Stock,
    survey::{Climate, Goal, Limits, Survey, Ventilation},
};
use proptest::prelude::*;

use crate::{
    cases::bare,
    common::{base, climate, now},
    floors::{any_climate, any_floor, any_process, card, cases, film_for, named, plan_in},
};

/// What twelve jobs tell.
fn figure(multiple: f64, next_sd_log: f64) -> LearntFigure {
    LearntFigure {
        mean_log: multiple.ln(),
        sd_log: 0.06,
        next_sd_log,
        usual: 1.0,
        n_jobs: 12,
        n_jobs_anywhere: 12,
        weight: 12.0,
        from_prior: 0.1,
    }
}

/// A card on which jobs have told the same multiple of all classes of product, and of water.
fn told(kind: Kind, multiple: f64, next_sd_log: f64) -> RateCard {
    let mut told = card("GBP");
    let classes = base().products.iter().map(|row| row.class.as_str());
    for subject in classes.chain([WATER]) {
        let learnt = figure(multiple, next_sd_log);
        told.learnt.insert(kind, subject.to_owned(), learnt);
    }
    told
}

fn no_rules() -> KnowledgeBase {
    let mut own = base().clone();
    own.rules.clear();
    own
}

fn polished(card: &RateCard) -> Plan {
    let wish = named("polish", Goal::Restore, Limits::default());
    plan_in(&no_rules(), &bare("vinyl_sheet"), &wish, &climate(), card)
}

fn work(plan: &Plan) -> &Work {
    plan.work.as_ref().expect("work")
}

/// Litres of polish.
fn polish_l(plan: &Plan) -> f64 {
    let mut lines = work(plan).products.iter();
    let line = lines.find(|line| line.class == "polish");
    line.expect("polish").total.l()
}

fn basis<'p>(plan: &'p Plan, id: &str) -> &'p Basis {
    let mut rows = work(plan).basis.iter();
    rows.find(|row| row.id == id).expect("a reason")
}

fn input(basis: &Basis, name: &str) -> Option<f64> {
    let found = basis.inputs.iter().find(|input| input.name == name);
    found.map(|input| input.value)
}

/// The waits of a plan, with what they are called.
fn waits(plan: &Plan) -> Vec<(String, i64, i64)> {
    let waits = work(plan)
        .steps
        .iter()
        .filter_map(|step| step.wait.as_ref());
    waits
        .map(|wait| (wait.key.clone(), wait.p50_min, wait.p80_min))
        .collect()
}

#[test]
fn a_litre_goes_as_far_as_jobs_have_told_and_no_film_is_thinner_or_dries_otherwise_for_it() {
    let usual = polished(&card("GBP"));
    let line = |plan: &Plan| {
        let mut lines = work(plan).products.iter();
        let found = lines.find(|line| line.class == "polish");
        found.expect("polish").basis.clone()
    };
    for multiple in [0.8, 1.25] {
        let learnt = polished(&told(Kind::Coverage, multiple, 0.15));
        let ratio = polish_l(&usual) / polish_l(&learnt);
        // Each coat is rounded to the microlitre.
        assert!((ratio - multiple).abs() < 1e-5, "{ratio}");
        assert_eq!(waits(&usual), waits(&learnt));
        let why = basis(&learnt, &line(&learnt));
        assert!(
            why.source.starts_with("learnt from 12 jobs at the site"),
            "{why:?}"
        );
        assert_eq!(input(why, "learnt_from"), Some(12.0));
        let [low, high] = ["learnt_low", "learnt_high"].map(|name| input(why, name).expect("told"));
        assert!(low < multiple && multiple < high);
    }
    assert_eq!(
        input(basis(&usual, &line(&usual)), "coverage_multiple"),
        None
    );
}

#[test]
fn no_coverage_is_believed_beyond_its_bounds_whatever_jobs_tell() {
    let [least, most] = base().spread.learning.coverage.bounds;
    for (told_of, held) in [(1e-3, least), (0.1, least), (9.0, most), (1e3, most)] {
        let found = polish_l(&polished(&told(Kind::Coverage, told_of, 0.15)));
        let bound = polish_l(&polished(&told(Kind::Coverage, held, 0.15)));
        assert!((found - bound).abs() < 1e-9, "{told_of}");
    }
}

#[test]
fn what_is_laid_by_dose_is_laid_as_its_dose_says() {
    let strip = |card: &RateCard| {
        let survey = Survey {
            film: film_for("machine_strip_and_refinish"),
            ..bare("vinyl_sheet")
        };
        let wish = named(
            "machine_strip_and_refinish",
            Goal::Restore,
            Limits::default(),
        );
        let plan = plan_in(&no_rules(), &survey, &wish, &climate(), card);
        let lines = plan.work.expect("work").products;
        let of_dose = |class: &str| class.starts_with("stripper");
        let mut dosed = lines.iter().filter(|line| of_dose(&line.class));
        dosed.next().expect("a stripper").total
    };
    assert_eq!(strip(&card("GBP")), strip(&told(Kind::Coverage, 1.4, 0.15)));
}

/// A damp, closed room whose polish waits for its air.
fn damp_room() -> (Survey, Climate) {
    let mut survey = bare("vinyl_sheet");
    survey.surroundings.ventilation = Some(Ventilation::Closed);
    let air = Climate {
        humidity_pct: 65.0,
        ..climate()
    };
    (survey, air)
}

fn coat_wait(plan: &Plan) -> &Wait {
    let mut waits = work(plan)
        .steps
        .iter()
        .filter_map(|step| step.wait.as_ref());
    let found = waits.find(|wait| wait.key == "polish_to_next");
    found.expect("a wait between coats")
}

#[test]
fn films_dry_as_jobs_have_told_with_the_doubt_that_is_left() {
    let (survey, air) = damp_room();
    let wish = named("polish", Goal::Restore, Limits::default());
    let of = |card: &RateCard| plan_in(&no_rules(), &survey, &wish, &air, card);
    let usual = of(&card("GBP"));
    let learnt = of(&told(Kind::DryTime, 1.5, 0.20));
    let (before, after) = (coat_wait(&usual), coat_wait(&learnt));
    assert_eq!(
        (before.ruled_by, after.ruled_by),
        (RuledBy::Drying, RuledBy::Drying)
    );
    let [model, multiplied] = [(&usual, before), (&learnt, after)]
        .map(|(plan, wait)| input(basis(plan, &wait.basis), "drying_p50").expect("told"));
    // Both are rounded up to whole minutes.
    assert!(
        (multiplied - 1.5 * model).abs() <= 1.5,
        "{multiplied} {model}"
    );
    // Source: z of the 80th percentile, 0.8416, as tables of the normal distribution print it. The air of the room stands
    // still, so nothing else is in doubt.
    let p80 = input(basis(&learnt, &after.basis), "drying_p80").expect("told");
    let wanted = multiplied * (0.8416_f64 * 0.20).exp();
    assert!((p80 - wanted).abs() < 2.0, "{p80} {wanted}");
    assert!(
        basis(&learnt, &after.basis)
            .source
            .starts_with("learnt from 12 jobs at the site")
    );
    // A measure promises what comes true where it is taken, also where drying was learnt.
    let fan = after
        .shorten
        .iter()
        .find(|one| one.measure == Measure::Ventilate);
    let fan = fan.expect("air helps");
    let mut aired = survey.clone();
    aired.surroundings.air_changes_per_h = Some(fan.amount);
    let taken = plan_in(
        &no_rules(),
        &aired,
        &wish,
        &air,
        &told(Kind::DryTime, 1.5, 0.20),
    );
    assert_eq!(coat_wait(&taken).p80_min, fan.p80_min);
}

proptest! {
    #![proptest_config(cases(64))]
    /// Whatever jobs tell, label, trade and maker are kept, and no measure leads below them.
    #[test]
    fn no_dry_time_that_jobs_have_told_undercuts_a_label(
        survey in any_floor(), process in any_process(), air in any_climate(),
        multiple in 0.01..20.0_f64, sd in 0.01..0.5_f64
    ) {
        let wish = named(&process, Goal::Restore, Limits::default());
        let made = plan_in(base(), &survey, &wish, &air, &told(Kind::DryTime, multiple, sd));
        let steps = made.work.iter().flat_map(|work| &work.steps);
        for wait in steps.filter_map(|step| step.wait.as_ref()) {
            let words = [wait.label_min, wait.usual_min, wait.maker_min];
            let least = words.into_iter().flatten().max().unwrap_or(0);
            prop_assert!(least <= wait.p50_min && wait.p50_min <= wait.p80_min);
            for one in &wait.shorten {
                prop_assert!(least <= one.p80_min);
            }
        }
    }
}

#[test]
fn what_jobs_have_told_of_coverage_narrows_the_litres() {
    let usual = work(&polished(&card("GBP"))).outlook.product_l;
    let learnt = work(&polished(&told(Kind::Coverage, 1.0, 0.08)))
        .outlook
        .product_l;
    assert!((usual.p50 - learnt.p50).abs() < 0.02 * usual.p50);
    assert!(learnt.p90 / learnt.p50 < 0.6 * (usual.p90 / usual.p50 - 1.0) + 1.0);
}

/// What a forecast adds up for a process on a floor of so many m².
fn forecast_of(base: &KnowledgeBase, process: &str, m2: i64, card: &RateCard) -> forecast::Job {
    let (survey, wish, air) = floor(process, m2);
    let input = PlanInput {
        survey: &survey,
        wish: &wish,
        climate: &air,
        card,
        country: "GB",
        base,
        own_products: &[],
        stock: Stock::NONE,
        climate_assumed: false,
        now: now(),
        zone: Tz::UTC,
    };
    let process = base.process(process).expect("a process");
    forecast::price(&input, process).expect("a price").1
}

fn floor(process: &str, m2: i64) -> (Survey, domain::survey::Wish, Climate) {
    let survey = Survey {
        area: Area::from_mm2(m2 * 1_000_000),
        film: film_for(process),
        ..bare("vinyl_sheet")
    };
    let wish = named(process, Goal::Maintain, Limits::default());
    (survey, wish, climate())
}

#[test]
fn a_job_of_a_forecast_is_as_doubtful_as_the_plan_of_its_floor() {
    let own = no_rules();
    let mut learnt = told(Kind::Coverage, 0.9, 0.12);
    for rate in &base().rates {
        let activity = rate.activity.clone();
        learnt
            .learnt
            .insert(Kind::Rate, activity, figure(0.9, 0.12));
    }
    let rho = own.spread.shared;
    let (mut n_same, mut n_narrower) = (0, 0);
    for process in &own.processes {
        let (survey, wish, air) = floor(&process.key, 120);
        let made = plan_in(&own, &survey, &wish, &air, &learnt);
        let Some(work) = &made.work else { continue };
        let found = forecast_of(&own, &process.key, 120, &learnt)
            .net
            .percentiles(rho);
        if work.outlook.n_draws == 0 {
            n_same += 1;
            for (one, other) in [
                (found.p50, work.outlook.net.p50),
                (found.p80, work.outlook.net.p80),
                (found.p90, work.outlook.net.p90),
            ] {
                assert!(
                    (one - other).abs() < 1e-9 * other,
                    "{} {one} {other}",
                    process.key
                );
            }
        }
        let usual = forecast_of(&own, &process.key, 120, &card("GBP"))
            .net
            .percentiles(rho);
        n_narrower += i32::from(found.p90 / found.p50 < usual.p90 / usual.p50);
    }
    assert!(n_same > 5 && n_narrower > 10, "{n_same} {n_narrower}");
}

/// By how much it matters that packs are counted anew: where a floor takes a few pails, the P80 of the price moves by per cents.
#[test]
fn packs_counted_anew_move_the_price_of_small_work_and_hardly_that_of_large() {
    let own = no_rules();
    let off = |m2: i64| {
        let (survey, wish, air) = floor("polish", m2);
        let made = plan_in(&own, &survey, &wish, &air, &card("GBP"));
        let drawn = work(&made).outlook;
        assert!(drawn.n_draws > 0);
        let sum = forecast_of(&own, "polish", m2, &card("GBP")).net;
        let by_litres = sum.percentiles(own.spread.shared);
        (drawn.net.p80 / by_litres.p80 - 1.0).abs()
    };
    let small = (1..=20).map(|n| off(10 * n)).fold(0.0, f64::max);
    let large = (1..=5).map(|n| off(5_000 * n)).fold(0.0, f64::max);
    assert!(small > 0.01 && large < 0.01, "{small} {large}");
}

#[test]
fn an_estimate_says_from_how_many_jobs_its_rates_and_its_coverage_are() {
    let own = no_rules();
    let reasons = |card: &RateCard| {
        let plan = polished(card);
        let floor = Planned {
            area: Area::from_mm2(50_000_000),
            plan: &plan,
        };
        let all = pool(&own, card, &[floor], Stock::NONE).expect("an estimate");
        let laid = all.products.iter().find(|line| line.class == "polish");
        let ids = [
            all.labour.first().expect("labour").basis.clone(),
            laid.expect("polish").basis.clone(),
        ];
        ids.map(|id| {
            let mut rows = all.basis.iter();
            rows.find(|row| row.id == id).expect("a reason").clone()
        })
    };
    let [labour, polish] = reasons(&card("GBP"));
    assert_eq!(input(&labour, "learnt_from"), None);
    assert_eq!(input(&polish, "learnt_from"), None);

    let mut told = told(Kind::Coverage, 1.1, 0.15);
    for row in &base().rates {
        let learnt = figure(0.9, 0.2);
        told.learnt.insert(Kind::Rate, row.activity.clone(), learnt);
    }
    let [labour, polish] = reasons(&told);
    for (why, name, multiple) in [
        (&labour, "rate_multiple", 0.9),
        (&polish, "coverage_multiple", 1.1),
    ] {
        assert_eq!(input(why, "learnt_from"), Some(12.0));
        let found = input(why, name).expect("told");
        assert!((found - multiple).abs() < 1e-9, "{found}");
        assert!(why.source.starts_with("learnt from 12 jobs at the site"));
    }

    // What the site says of itself no job has told.
    for row in &base().rates {
        told.rates.insert(row.activity.clone(), 100.0);
    }
    let [labour, _polish] = reasons(&told);
    assert_eq!(input(&labour, "learnt_from"), None);
}

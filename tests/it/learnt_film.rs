//! Coverage and dry times that completed work tells: what is learnt, what plans make of it, and what it never does.

use serde_json::{Value, json};
use tests::{
    build::{self, with},
    client::Caller,
    read,
};

use crate::learnt_rate::{World, number, wish};

const POLISH: &str = "polish_emulsion";
const RINSE: &str = "rinse_to_coat";

/// What a plan of the floor on which nothing was done says.
async fn planned(world: &World) -> Value {
    let path = "/v1/plans/preview";
    let told = world.admin.post(path, &wish(&world.beside)).await;
    told.must(200).json()["work"].clone()
}

/// Litres of polish that a plan wants, and why.
fn polish(work: &Value) -> (f64, Value) {
    let lines = read::list(work, "/products").iter();
    let mut lines = lines.filter(|line| line["product"]["key"] == POLISH);
    let line = lines.next().unwrap();
    let why = read::find(work, "/basis", "/id", read::text(line, "/basis"));
    (number(line, "total_l"), why.clone())
}

/// The wait for the rinse water, and why.
fn rinse(work: &Value) -> (Value, Value) {
    let waits = read::list(work, "/steps").iter().map(|step| &step["wait"]);
    let mut waits = waits.filter(|wait| wait["key"] == RINSE);
    let wait = waits.next().unwrap().clone();
    let why = read::find(work, "/basis", "/id", read::text(&wait, "/basis"));
    (wait, why.clone())
}

fn input(why: &Value, name: &str) -> f64 {
    number(read::find(why, "/inputs", "/name", name), "value")
}

/// Reports a job of the plan that used so many times its polish, or found its rinse water dry after so many minutes.
async fn job(world: &World, change: Value) -> String {
    let reported = json!({
        "plan_id": world.plan["id"], "polish_coats": null, "products": null, "labour": null, "charged": build::pounds("900.00"),
    });
    let body = with(build::completion(&world.surface), reported);
    let body = with(body, change);
    let told = world.admin.record("/v1/completions", &body).await;
    told.must(201).id()
}

async fn used(world: &World, times: f64) -> String {
    let litres = polish(&world.plan["work"]).0 * times;
    let used = json!([{"product": POLISH, "volume_l": litres}]);
    job(world, json!({"products": used})).await
}

async fn dried(world: &World, after_min: i64) -> String {
    let dried = json!([{"wait": RINSE, "after_min": after_min}]);
    job(world, json!({"dried": dried})).await
}

/// What is learnt of one figure.
async fn learnt(world: &World, by: &Caller, kind: &str, subject: &str) -> Option<Value> {
    let query = format!("&kind={kind}&subject={subject}");
    world.learnt_by(by, &query).await.into_iter().next()
}

#[tokio::test]
async fn five_jobs_tell_how_far_a_litre_goes_and_plans_buy_by_it_and_say_so() {
    let world = World::new().await;
    let (before, _why) = polish(&planned(&world).await);
    for _ in 0..4 {
        used(&world, 1.25).await;
    }
    let told = learnt(&world, &world.admin, "coverage", "polish").await;
    assert_eq!(told.unwrap()["standing"], "too_few_jobs");
    assert!((polish(&planned(&world).await).0 - before).abs() < 1e-9);
    used(&world, 1.25).await;
    let told = learnt(&world, &world.admin, "coverage", "polish").await;
    let told = told.unwrap();
    assert_eq!(
        (&told["standing"], &told["n_jobs"]),
        (&json!("used"), &json!(5))
    );
    assert_eq!(told["unit"], "times");
    // A quarter more litres is 0.8 of the coverage; what is learnt lies between that and the data sheet, nearer to the jobs.
    let multiple = number(&told, "learnt");
    assert!((0.8..0.9).contains(&multiple), "{multiple}");
    let work = planned(&world).await;
    let (after, why) = polish(&work);
    assert!(
        (before / after - multiple).abs() < 1e-4,
        "{before} {after} {multiple}"
    );
    assert!(
        read::text(&why, "/source").starts_with("learnt from 5 jobs at the site"),
        "{why:#}"
    );
    assert!((input(&why, "coverage_multiple") - multiple).abs() < 1e-6);
    assert!(input(&why, "learnt_low") < multiple && multiple < input(&why, "learnt_high"));
    // A job of a plan that was made with what was learnt tells of the data sheet all the same.
    let again = build::new_plan(&world.admin, &wish(&world.beside))
        .await
        .json();
    let litres = polish(&again["work"]).0 * 1.25 * multiple;
    let change = json!({
        "surface_id": world.beside, "plan_id": again["id"],
        "products": [{"product": POLISH, "volume_l": litres}],
    });
    job(&world, change).await;
    let then = learnt(&world, &world.admin, "coverage", "polish").await;
    let then = then.unwrap();
    assert_eq!(then["n_jobs"], 6);
    assert!(number(&then, "learnt") < multiple && number(&then, "learnt") > 0.8);
}

#[tokio::test]
async fn a_site_may_want_no_coverage_learnt_and_what_cannot_be_learnt_is_told() {
    let world = World::new().await;
    let before = polish(&planned(&world).await);
    for _ in 0..5 {
        used(&world, 1.25).await;
    }
    assert!(polish(&planned(&world).await).0 > before.0);
    let path = format!("/v1/sites/{}", world.site);
    let change = async |change: Value| world.admin.patch(&path, "*", &change).await;
    let wrong = json!([
        "coverage.juggle",
        "dry_time.polish",
        "coverage.water",
        "rate.polish"
    ]);
    let refused = change(json!({"not_learnt": wrong})).await;
    refused.problem(422, "invalid_body");
    let places: Vec<String> = refused.faults().into_iter().map(|(at, _code)| at).collect();
    assert_eq!(
        places,
        ["#/not_learnt/0", "#/not_learnt/2", "#/not_learnt/3"]
    );
    let _site = change(json!({"not_learnt": ["coverage.polish"]}))
        .await
        .must(200);
    assert_eq!(polish(&planned(&world).await), before);
    let told = learnt(&world, &world.admin, "coverage", "polish").await;
    assert_eq!(told.unwrap()["standing"], "not_wanted");
}

#[tokio::test]
async fn litres_that_cannot_be_true_are_set_aside_and_other_coats_tell_nothing() {
    let world = World::new().await;
    let spilt = used(&world, 3.0).await;
    let litres = polish(&world.plan["work"]).0;
    let change =
        json!({"polish_coats": 2, "products": [{"product": POLISH, "volume_l": litres / 2.0}]});
    job(&world, change).await;
    let told = learnt(&world, &world.admin, "coverage", "polish").await;
    let told = told.unwrap();
    assert_eq!(
        (&told["n_jobs"], &told["n_set_aside"]),
        (&json!(0), &json!(1))
    );
    let aside = &told["set_aside"][0];
    assert_eq!(
        (&aside["completion_id"], &aside["reason"]),
        (&json!(spilt), &json!("out_of_range"))
    );
    assert!((number(aside, "figure") - 1.0 / 3.0).abs() < 1e-3);
}

#[tokio::test]
async fn what_dries_slowly_waits_longer_next_time_and_what_dries_fast_never_less_than_is_usual() {
    let slow = World::new().await;
    let (before, why) = rinse(&planned(&slow).await);
    let model = input(&why, "drying_p50");
    let model_p80 = input(&why, "drying_p80");
    let minutes = |times: f64| -> i64 {
        let text = format!("{:.0}", model * times);
        text.parse().unwrap()
    };
    for _ in 0..5 {
        dried(&slow, minutes(1.5)).await;
    }
    let told = learnt(&slow, &slow.admin, "dry_time", "water").await;
    let multiple = number(&told.unwrap(), "learnt");
    assert!((1.2..1.5).contains(&multiple), "{multiple}");
    let (after, why) = rinse(&planned(&slow).await);
    assert!(
        (input(&why, "drying_p50") - model * multiple).abs() < 2.0,
        "{why:#}"
    );
    // What is usual in the trade may be longer than either.
    assert!(input(&why, "drying_p80") > model_p80);
    assert!(number(&after, "p80_min") >= number(&before, "p80_min"));
    assert!(
        read::text(&why, "/source").starts_with("learnt from 5 jobs at the site"),
        "{why:#}"
    );

    let fast = World::new().await;
    for _ in 0..5 {
        dried(&fast, minutes(0.4).max(1)).await;
    }
    let (after, why) = rinse(&planned(&fast).await);
    assert!(input(&why, "drying_p80") < model_p80);
    assert!(number(&after, "p80_min") <= number(&before, "p80_min"));
    let least = after["label_min"].as_f64().or(after["usual_min"].as_f64());
    assert!(number(&after, "p50_min") >= least.unwrap(), "{after:#}");
}

#[tokio::test]
async fn a_film_that_dries_after_no_known_wait_is_refused_with_its_place() {
    let world = World::new().await;
    let dried = json!([{"wait": RINSE, "after_min": 60}, {"wait": "juggle", "after_min": 5}]);
    let body = with(build::completion(&world.surface), json!({"dried": dried}));
    let refused = world.admin.record("/v1/completions", &body).await;
    refused.problem(422, "invalid_body");
    let found = refused.faults();
    assert_eq!(
        found,
        [(
            "#/dried/1/wait".to_owned(),
            "reference_not_found".to_owned()
        )]
    );
    let dried = json!([{"wait": RINSE, "after_min": 60}]);
    let body = with(build::completion(&world.surface), json!({"dried": dried}));
    let kept = world
        .admin
        .record("/v1/completions", &body)
        .await
        .must(201)
        .json();
    assert_eq!(kept["dried"], dried);
}

#[tokio::test]
async fn another_tenants_jobs_change_nothing_and_the_order_of_jobs_neither() {
    let world = World::new().await;
    let ours = |told: Option<Value>| told.map(|told| told["learnt"].clone());
    let mut found = Vec::new();
    for order in [[0.9, 1.0, 1.1, 1.2, 1.3], [1.3, 1.0, 1.2, 0.9, 1.1]] {
        let world = World::new().await;
        for times in order {
            used(&world, times).await;
        }
        found.push(ours(
            learnt(&world, &world.admin, "coverage", "polish").await,
        ));
        // Each world is a service of its own; here another tenant of the same one asks.
        let stranger = world.app.admin_of("south");
        assert_eq!(learnt(&world, &stranger, "coverage", "polish").await, None);
    }
    assert!(found[0].is_some());
    assert_eq!(found[0], found[1]);
    let before = polish(&planned(&world).await);
    let theirs = world.app.admin_of("south");
    let site = build::new_site(&theirs).await;
    let surface = build::new_surface(&theirs, &build::surface(&site)).await;
    let plan = build::new_plan(&theirs, &wish(&surface)).await.json();
    let litres = polish(&plan["work"]).0 * 1.5;
    for _ in 0..6 {
        let reported = json!({
            "plan_id": plan["id"], "polish_coats": null, "labour": null,
            "products": [{"product": POLISH, "volume_l": litres}],
        });
        let body = with(build::completion(&surface), reported);
        let _told = theirs.record("/v1/completions", &body).await.must(201);
    }
    assert_eq!(polish(&planned(&world).await), before);
    assert!(world.learnt_by(&world.admin, "").await.is_empty());
}

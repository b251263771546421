//! Whether work fits its access window, the ways that would make it fit, and what skill does, over HTTP.

use serde_json::{Value, json};
use tests::{
    app::TestApp,
    build::{self, with},
    read,
};

fn amount(money: &Value) -> f64 {
    read::text(money, "/amount").parse().unwrap()
}

#[tokio::test]
async fn a_plan_that_does_not_fit_tells_what_would_and_each_way_comes_true() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let wish = |limits: Value| json!({"wish": {"limits": limits}});
    let body = with(build::plan(&surface), wish(json!({"window_min": 480})));
    let made = build::new_plan(&admin, &body).await.json();
    let fit = &made["window"];
    assert_eq!(
        (&fit["window_min"], &fit["fits"]),
        (&json!(480), &json!(false))
    );
    let nights = read::list(&made["work"], "/time_line/nights").len();
    assert_eq!(fit["n_nights"], nights);
    let kinds: Vec<&str> = read::list(fit, "/ways")
        .iter()
        .map(|way| read::text(way, "/kind"))
        .collect();
    for kind in ["larger_crew", "more_nights", "longer_window"] {
        assert!(kinds.contains(&kind), "{kind}: {kinds:?}");
    }
    for kind in ["larger_crew", "longer_window"] {
        let way = read::find(fit, "/ways", "/kind", kind);
        let limits = json!({"window_min": way["window_min"], "crew_size": way["crew_size"]});
        let then = with(build::plan(&surface), wish(limits));
        let then = build::new_plan(&admin, &then).await.json();
        assert_eq!(then["window"]["elapsed_min"], way["elapsed_min"], "{kind}");
        let change = amount(&then["work"]["cost"]["net"]) - amount(&made["work"]["cost"]["net"]);
        assert!(
            (change - amount(&way["net_change"])).abs() < 0.005,
            "{kind}: {change}"
        );
    }
    let bare = build::new_plan(&admin, &build::plan(&surface)).await.json();
    assert!(bare["window"].is_null());
}

#[tokio::test]
async fn trainees_take_longer_and_both_the_clock_and_the_hours_are_told() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let plan = async |skill: &str| {
        let wish = json!({"wish": {"limits": {"skill": skill, "crew_size": 2}}});
        let body = with(build::plan(&surface), wish);
        build::new_plan(&admin, &body).await.json()
    };
    let (slow, usual) = (plan("trainee").await, plan("trained").await);
    let hours = |plan: &Value, member: &str| read::number(&plan["work"]["time_line"], member);
    assert!(hours(&slow, "/elapsed_h") > hours(&usual, "/elapsed_h"));
    for told in [&slow, &usual] {
        let (crew, labour) = (hours(told, "/crew_h"), hours(told, "/labour_h"));
        assert!((labour - 2.0 * crew).abs() < 0.001, "{crew} {labour}");
    }
    let basis = read::find(&slow["work"], "/basis", "/id", "crew.skill");
    assert_eq!(basis["result"], 0.75);
    let unknown = json!({"wish": {"limits": {"skill": "novice"}}});
    let refused = admin
        .post("/v1/plans", &with(build::plan(&surface), unknown))
        .await;
    refused.problem(422, "invalid_body");
    assert_eq!(refused.faults()[0].0, "#/wish/limits/skill");
}

//! What is told of a schedule and cannot be, over HTTP.

use serde_json::json;
use tests::{
    app::{SOUTH, TestApp},
    build::{self, new_schedule},
    read,
};

use super::World;

#[tokio::test]
async fn everything_that_is_wrong_with_what_is_told_is_told_at_once() {
    let world = World::new().await;
    let path = format!("{}/replan", world.path);
    let from = "2026-06-02T12:00:00Z";
    let body = json!({
        "as_of": "2026-06-01T13:00:00Z",
        "progress": [
            {"task": 999, "not_before": from},
            {"task": 1},
            {"task": 2, "not_before": from, "started_at": "2026-06-01T12:00:00Z"},
            {"task": 3, "started_at": from},
            {"task": 3, "not_before": "2026-05-31T12:00:00Z"},
        ],
        "crews_away": [{"crew": "Nobody", "from": from, "to": from}],
        "machines_away": [{"machine": "burnisher", "from": from, "to": "2026-06-03T12:00:00Z"}],
        "closed": [{"surface_id": "srf_0193e8a0-0000-7000-8000-00000000dead", "from": from, "to": "2026-06-03T12:00:00Z"}],
    });
    let refused = world.admin.record(&path, &body).await;
    refused.problem(422, "invalid_body");
    let mut faults = refused.faults();
    faults.sort();
    let fault = |place: &str, code: &str| (place.to_owned(), code.to_owned());
    assert_eq!(
        faults,
        [
            fault("#/as_of", "in_future"),
            fault("#/closed/0/surface_id", "reference_not_found"),
            fault("#/crews_away/0/crew", "unknown_crew"),
            fault("#/crews_away/0/to", "out_of_range"),
            fault("#/machines_away/0/machine", "unknown_machine"),
            fault("#/progress/0/task", "reference_not_found"),
            fault("#/progress/1", "required"),
            fault("#/progress/2/not_before", "conflicting"),
            fault("#/progress/3/started_at", "in_future"),
            fault("#/progress/4/not_before", "out_of_range"),
            fault("#/progress/4/task", "duplicate"),
        ]
    );
    // The second task of a floor cannot have begun where its first has not.
    let tasks = world.tasks().await;
    let first = &tasks[&1];
    let next = tasks
        .values()
        .find(|task| task["plan_id"] == first["plan_id"] && task["number"] != first["number"])
        .unwrap();
    world.app.clock().set(from.parse().unwrap());
    let body = json!({"progress": [
        {"task": 1, "not_before": from},
        {"task": next["number"], "started_at": "2026-06-02T05:00:00Z"},
    ]});
    let refused = world.admin.record(&path, &body).await;
    refused.problem(422, "invalid_body");
    assert_eq!(refused.faults(), [fault("#/progress/1", "out_of_order")]);
    let south = world.app.admin_of(SOUTH);
    south
        .record(&path, &json!({}))
        .await
        .problem(404, "not_found");
    for rest in ["moves", "revisions"] {
        let theirs = south.get(&format!("{}/{rest}", world.path)).await;
        theirs.problem(404, "not_found");
    }
    let beyond = world
        .admin
        .get(&format!("{}/moves?revision=7", world.path))
        .await;
    beyond.problem(409, "state_conflict");
}

#[tokio::test]
async fn no_other_choice_is_taken_once_the_schedule_was_planned_again() {
    let world = World::new().await;
    let told = world.admin.get(&world.path).await.must(200).json();
    let n = read::list(&told, "/result/choices").len();
    let _moved = world.replan(&json!({})).await;
    let choose = format!("{}/choose", world.path);
    for choice in 2..=3 {
        let other = world
            .admin
            .record(&choose, &json!({"choice": choice}))
            .await;
        if choice <= n {
            other.problem(409, "state_conflict");
        } else {
            other.problem(422, "invalid_body");
        }
    }
    let same = world.admin.record(&choose, &json!({"choice": 1})).await;
    let _chosen = same.must(200);
}

#[tokio::test]
async fn a_schedule_that_nobody_has_chosen_from_is_not_planned_again() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let plan = build::new_plan(&admin, &build::plan(&surface)).await.id();
    let made = new_schedule(&admin, &build::schedule(&site, &plan)).await;
    let path = format!("/v1/schedules/{}/replan", read::text(&made, "/id"));
    let refused = admin.record(&path, &json!({})).await;
    refused.problem(409, "state_conflict");
}

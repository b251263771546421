//! Surveys that have a date: an old one does not overrule work that came after it.

use serde_json::json;
use tests::{
    build::{self, with},
    read,
};

use super::{Floor, STRIP, codes};

const WORN: &str = "worn";

#[tokio::test]
async fn a_survey_that_is_older_than_the_work_leaves_its_coats_alone() {
    let mut floor = Floor::with(json!({"kind": "polish", "coats": 6, "condition": WORN})).await;
    // Surveyed now: work of a week ago, told afterwards, is older than the survey.
    let site = floor.site.clone();
    let dated = |days: i64| {
        let seen = json!({"film": {"seen_at": floor.day(days)}, "name": "Corridor 2.105"});
        with(build::surface(&site), seen)
    };
    let older = build::new_surface(&floor.admin, &dated(-30)).await;
    floor.id = older;
    let hours = |hours: i64| json!({"started_at": floor.day(-7), "finished_at": floor.day(-6), "polish_coats": hours});
    floor.work(STRIP, hours(4)).await;
    let film = floor.state("").await;
    // Some days of wear are gone from the four.
    let likely = read::number(&film, "/polish_coats/likely");
    assert!((3.5..=4.0).contains(&likely), "{film:#}");
    assert_eq!(codes(&film), Vec::<&str>::new());
    let before = floor.state(&format!("?at={}", floor.day(-8))).await;
    assert!(
        read::number(&before, "/polish_coats/likely") > 5.0,
        "{before:#}"
    );
    // What lies there was laid days ago: it is not stripped again.
    let plan = build::new_plan(&floor.admin, &build::plan(&floor.id)).await;
    assert_ne!(plan.json()["process"]["key"], STRIP, "{}", plan.text());
}

#[tokio::test]
async fn the_date_of_a_survey_stays_until_something_else_is_seen() {
    let floor = Floor::with(json!({"kind": "polish", "coats": 6, "condition": WORN})).await;
    let path = format!("/v1/surfaces/{}", floor.id);
    let observed = || async {
        let page = floor.admin.get(&format!("{path}/observations")).await;
        let told = page.must(200).json();
        let seen = read::list(&told, "/items").len();
        let at = read::list(&told, "/items").iter();
        let at: Vec<String> = at.map(|one| read::text(one, "/at").to_owned()).collect();
        assert_eq!(seen, at.len());
        at
    };
    let now = floor.day(0);
    let found = floor.admin.get(&path).await.must(200);
    assert_eq!(found.json()["film"]["seen_at"], now);
    // Another member: nobody looked again.
    floor.app.clock().advance(chrono::TimeDelta::hours(1));
    let changed = floor
        .admin
        .patch(&path, "*", &json!({"note": "By the door."}))
        .await;
    assert_eq!(changed.must(200).json()["film"]["seen_at"], now);
    // The same film again: nobody said when, so it is no new look.
    let same = json!({"film": {"kind": "polish", "coats": 6}});
    let changed = floor.admin.patch(&path, "*", &same).await;
    assert_eq!(changed.must(200).json()["film"]["seen_at"], now);
    assert_eq!(observed().await, std::slice::from_ref(&now));
    // Something else: it was seen now, not when the other was.
    let other = json!({"film": {"condition": "sound"}});
    let changed = floor.admin.patch(&path, "*", &other).await;
    assert_eq!(changed.must(200).json()["film"]["seen_at"], floor.day(0));
    assert_eq!(observed().await, [now, floor.day(0)]);
}

#[tokio::test]
async fn a_survey_of_the_future_is_refused_wherever_it_is_sent() {
    let floor = Floor::with(json!({"kind": "polish"})).await;
    let ahead = json!({"film": {"kind": "polish", "seen_at": floor.day(2)}});
    let body = with(build::surface(&floor.site), ahead.clone());
    let refused = floor.admin.post("/v1/surfaces", &body).await;
    refused.problem(422, "invalid_body");
    let fault = |at: &str, code: &str| (at.to_owned(), code.to_owned());
    assert_eq!(refused.faults(), [fault("#/film/seen_at", "in_future")]);
    let path = format!("/v1/surfaces/{}", floor.id);
    let refused = floor.admin.patch(&path, "*", &ahead).await;
    assert_eq!(refused.faults(), [fault("#/film/seen_at", "in_future")]);
    let early = json!({"film": {"kind": "polish", "seen_at": "1999-12-31T00:00:00Z"}});
    let item = with(build::surface(&floor.site), early);
    let item = with(item, json!({"external": {"system": "register", "id": "1"}}));
    let refused = floor
        .admin
        .record("/v1/surfaces/batch", &json!({"items": [item]}))
        .await;
    assert_eq!(
        refused.faults(),
        [fault("#/items/0/film/seen_at", "too_early")]
    );
}

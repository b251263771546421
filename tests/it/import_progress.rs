//! How far an import is, and imports that are taken back.

use std::fmt::Write as _;

use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    app::{SOUTH, TestApp},
    build,
    client::Caller,
    read,
};

const TABLE: &str = "text/csv";
/// The stages in their order; a dry run tries what another applies.
const STAGES: [&str; 6] = [
    "waiting", "reading", "matching", "trying", "applying", "finished",
];

/// A table of so many rooms, each of which could be registered.
fn rooms(n: usize) -> String {
    let mut table = "external_system,external_id,name,storey,area_m2,finish\r\n".to_owned();
    for room in 1..=n {
        let _ = write!(table, "register,R-{room},Room {room},Ground,12.5,VCT\r\n");
    }
    table
}

/// The stage by its order, and how many spaces were done.
fn at(import: &Value) -> (usize, i64) {
    let stage = read::text(import, "/progress/stage");
    let stage = STAGES.iter().position(|other| *other == stage);
    let done = import["progress"]["done"].as_i64();
    (stage.unwrap(), done.unwrap())
}

/// All that is told of an import up to its end.
async fn watched(caller: &Caller, path: &str) -> Vec<Value> {
    let mut seen = Vec::new();
    loop {
        let now = caller.get(path).await.must(200).json();
        let has_ended = now.get("finished_at").is_some();
        seen.push(now);
        if has_ended {
            return seen;
        }
    }
}

#[tokio::test]
async fn an_import_says_how_far_it_is_and_never_goes_back() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    for (query, writing) in [("", "trying"), ("&apply=true", "applying")] {
        let query = format!("?site_id={site}{query}");
        let sent = build::send_file(&admin, &query, TABLE, rooms(2_500)).await;
        let sent = sent.must(202);
        let before = json!({"stage": "waiting", "done": 0});
        assert_eq!(sent.json()["progress"], before);
        let path = format!("/v1/imports/{}", sent.id());
        let seen = watched(&admin, &path).await;
        let at: Vec<(usize, i64)> = seen.iter().map(at).collect();
        assert!(at.is_sorted(), "{at:?}");
        for import in &seen {
            let progress = &import["progress"];
            let stage = read::text(import, "/progress/stage");
            let is_read = !["waiting", "reading"].contains(&stage);
            assert_eq!(progress["total"] == 2_500, is_read, "{progress}");
            let done = progress["done"].as_i64().unwrap();
            let share = is_read.then_some(done * 100 / 2_500);
            assert_eq!(progress["share_pct"].as_i64(), share, "{progress}");
            let is_other = ["trying", "applying"].contains(&stage) && stage != writing;
            assert!(!is_other, "{progress}");
        }
        let end = seen.last().unwrap();
        assert_eq!(end["status"], "succeeded", "{end:#}");
        let whole = json!({"stage": "finished", "done": 2_500, "total": 2_500, "share_pct": 100});
        assert_eq!(end["progress"], whole);
        // Sent, taken, matched, ended: each was written down once. Where others can write meanwhile, so was what was done after
        // each thousand.
        let n_told = if app.is_server() { 4 + 2 } else { 4 };
        assert_eq!(end["version"], n_told, "{end:#}");
    }
}

#[tokio::test]
async fn an_import_that_is_taken_back_is_taken_up_by_nobody_and_one_that_has_ended_stays() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let query = format!("?site_id={site}");
    let done = build::import(&admin, &query, TABLE, rooms(3)).await;
    let path = format!("/v1/imports/{}", read::text(&done, "/id"));
    let cancel = async || {
        let call = admin.call(Method::POST, &format!("{path}/cancel"));
        call.answer().await.must(200).json()
    };
    assert_eq!(cancel().await, done, "it had come to its end");
    // What a crash in the middle of it leaves.
    let held = "UPDATE imports SET status = 'running', stage = 'matching', n_done = 0, finished_at = NULL, lease_owner = 'another'";
    app.execute(held).await.unwrap();
    let south = app.as_(SOUTH, &["surfaces:read", "surfaces:write"]);
    let foreign = south.call(Method::POST, &format!("{path}/cancel"));
    foreign.answer().await.problem(404, "not_found");
    let cancelled = cancel().await;
    assert_eq!(cancelled["status"], "cancelled");
    assert!(cancelled.get("finished_at").is_some(), "{cancelled:#}");
    let stood = json!({"stage": "matching", "done": 0, "total": 3, "share_pct": 0});
    assert_eq!(cancelled["progress"], stood);
    assert_eq!(cancel().await, cancelled);
    let apply = admin.record(&format!("{path}/apply"), &json!({})).await;
    apply.problem(409, "state_conflict");
    // Another is done, so the worker has looked: a cancelled one is not taken up, long after its lease.
    app.clock().advance(chrono::TimeDelta::minutes(6));
    let other = build::import(&admin, &query, TABLE, rooms(2)).await;
    assert_eq!(other["status"], "succeeded");
    let still = admin.get(&path).await.must(200).json();
    assert_eq!(still, cancelled);
    let listed = admin.get("/v1/imports?status=cancelled").await.must(200);
    assert_eq!(listed.json()["items"], json!([cancelled]));
}

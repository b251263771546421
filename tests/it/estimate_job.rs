//! Estimates in the background: what single estimates say, once, whatever happens on the way.

use std::collections::BTreeSet;

use chrono::TimeDelta;
use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    app::{SOUTH, TestApp},
    build::{self, finished_job, new_estimate_job, with},
    client::Caller,
    read,
};

/// Corridors of two storeys and two materials, and a floor of which too little is known.
async fn estate(admin: &Caller) -> (String, Vec<String>) {
    let site = with(
        build::site(),
        json!({"rate_card": build::golden_rate_card()}),
    );
    let site = admin.post("/v1/sites", &site).await.must(201).id();
    let mut ids = Vec::new();
    for change in [
        json!({"storey": "1"}),
        json!({"storey": "2", "area_m2": 31.5, "perimeter_m": 23}),
        json!({"storey": "2", "material": "vinyl_sheet"}),
        json!({"storey": "3", "built_year": null, "film": {"kind": "unknown"}}),
    ] {
        ids.push(build::new_surface(admin, &with(build::surface(&site), change)).await);
    }
    (site, ids)
}

async fn result(caller: &Caller, id: &str) -> (String, Vec<Value>) {
    let answer = caller.get(&format!("/v1/estimate-jobs/{id}/result")).await;
    let answer = answer.must(200);
    assert_eq!(answer.header("Content-Type"), Some("application/x-ndjson"));
    let text = answer.text();
    let lines = text.lines().map(|line| serde_json::from_str(line).unwrap());
    (text.clone(), lines.collect())
}

/// What a crash in the middle of a job leaves: a lease, and lines without an end.
async fn crash(app: &TestApp, id: &str) {
    let end = r#"DELETE FROM estimate_job_parts WHERE lines LIKE '%"line":"total"%'"#;
    app.execute(end).await.unwrap();
    let held =
        "UPDATE estimate_jobs SET status = 'running', finished_at = NULL, lease_owner = 'another'";
    app.execute(held).await.unwrap();
    let job = app.admin().get(&format!("/v1/estimate-jobs/{id}")).await;
    assert_eq!(job.must(200).json()["status"], "running");
}

#[tokio::test]
async fn a_job_says_what_the_estimate_of_the_same_floors_says() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, ids) = estate(&admin).await;
    let body = build::estimate(&site);
    let single = admin.post("/v1/estimates", &body).await.must(201).json();
    let asked = admin.record("/v1/estimate-jobs", &body).await.must(202);
    assert_eq!(asked.header("Retry-After"), Some("1"));
    let id = asked.id();
    assert_eq!(
        asked.header("Location"),
        Some(format!("/v1/estimate-jobs/{id}").as_str())
    );
    let job = finished_job(&admin, &id).await;
    assert_eq!(job["status"], "succeeded");
    assert_eq!(job["progress"], json!({"done": 4, "total": 4}));
    assert_eq!(
        job["result"]["href"],
        format!("/v1/estimate-jobs/{id}/result")
    );
    let (_, mut lines) = result(&admin, &id).await;
    let total = lines.pop().unwrap();
    let told: Vec<&str> = lines
        .iter()
        .map(|line| read::text(line, "/surface_id"))
        .collect();
    assert_eq!(told, ids);
    for (line, answer) in lines.iter().zip(read::list(&single, "/surfaces")) {
        assert_eq!(line["line"], "surface");
        for member in ["surface_id", "verdict", "process", "summary", "asks", "net"] {
            assert_eq!(line.get(member), answer.get(member), "{member}");
        }
    }
    assert_eq!(total["line"], "total");
    for member in [
        "n_surfaces",
        "area_m2",
        "verdicts",
        "n_shifts",
        "paid_h",
        "labour",
        "products",
        "water",
        "pads",
        "cost",
        "apart_net",
        "outlook",
        "basis",
        "rate_card",
        "knowledge_version",
    ] {
        assert_eq!(total[member], single[member], "{member}");
    }
    let apart: i64 = lines
        .iter()
        .filter(|line| line.get("net").is_some())
        .map(|line| read::cents(line, "/net"))
        .sum();
    assert_eq!(apart, read::cents(&total, "/apart_net"));
    let by_verdict = read::list(&total, "/verdicts").iter();
    let by_verdict: f64 = by_verdict.map(|v| read::number(v, "/n_surfaces")).sum();
    assert_eq!(by_verdict, read::number(&total, "/n_planned"));
}

#[tokio::test]
async fn what_cannot_be_planned_is_listed_and_stops_nothing() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, ids) = estate(&admin).await;
    let elsewhere = admin.post("/v1/sites", &build::site()).await.must(201).id();
    let elsewhere = build::new_surface(&admin, &build::surface(&elsewhere)).await;
    let (south_admin, nobodys) = (
        app.admin_of(SOUTH),
        "srf_0193e8a0-0000-7000-8000-00000000dead",
    );
    let south = south_admin
        .post("/v1/sites", &build::site())
        .await
        .must(201)
        .id();
    let souths = build::new_surface(&south_admin, &build::surface(&south)).await;
    let body = json!({
        "site_id": site, "wish": {"goal": "restore"},
        "surface_ids": [ids[1], nobodys, elsewhere, souths, ids[0]],
    });
    let id = new_estimate_job(&admin, &body).await;
    let (_, mut lines) = result(&admin, &id).await;
    let total = lines.pop().unwrap();
    let of = |kind: &str| -> BTreeSet<&str> {
        let lines = lines.iter().filter(|line| line["line"] == kind);
        lines.map(|line| read::text(line, "/surface_id")).collect()
    };
    assert_eq!(of("surface"), [ids[0].as_str(), &ids[1]].into());
    assert_eq!(of("problem"), [nobodys, &elsewhere, &souths].into());
    for line in lines.iter().filter(|line| line["line"] == "problem") {
        assert_eq!(line["problem"]["code"], "not_found", "{line}");
    }
    assert_eq!(total["n_surfaces"], 5);
    assert_eq!(
        (&total["n_planned"], &total["n_problems"]),
        (&json!(2), &json!(3))
    );
}

#[tokio::test]
async fn a_request_that_cannot_be_met_is_told_all_its_faults() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, ids) = estate(&admin).await;
    let body = json!({
        "site_id": site, "wish": {"goal": "restore"}, "storey": "1",
        "wishes": [{"material": "moon_rock", "wish": {"goal": "clean"}}],
        "surface_ids": [ids[0], ids[1], ids[0]],
    });
    let refused = admin.record("/v1/estimate-jobs", &body).await;
    refused.problem(422, "invalid_body");
    let fault = |place: &str, code: &str| (place.to_owned(), code.to_owned());
    assert_eq!(
        refused.faults(),
        [
            fault("#/surface_ids", "conflicting"),
            fault("#/surface_ids/2", "duplicate"),
            fault("#/wishes/0/material", "unknown_material"),
        ]
    );
    let none = with(build::estimate(&site), json!({"storey": "9"}));
    let refused = admin.record("/v1/estimate-jobs", &none).await;
    assert_eq!(refused.faults(), [fault("#/site_id", "no_surfaces")]);
    assert_eq!(
        admin.get("/v1/estimate-jobs").await.json()["items"],
        json!([])
    );
}

#[tokio::test]
async fn a_job_is_made_once_for_a_key_and_is_nobody_elses() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, _) = estate(&admin).await;
    let body = build::estimate(&site);
    let first = admin.post_keyed("/v1/estimate-jobs", "k", &body).await;
    let again = admin.post_keyed("/v1/estimate-jobs", "k", &body).await;
    assert_eq!(first.must(202).body, again.must(202).body);
    let jobs = admin.get("/v1/estimate-jobs").await.must(200).json();
    assert_eq!(read::list(&jobs, "/items").len(), 1);
    let id = read::text(&jobs, "/items/0/id").to_owned();
    let _finished = finished_job(&admin, &id).await;
    let south = app.admin_of(SOUTH);
    let path = format!("/v1/estimate-jobs/{id}");
    south.get(&path).await.problem(404, "not_found");
    south
        .get(&format!("{path}/result"))
        .await
        .problem(404, "not_found");
    let cancel = south.call(Method::POST, &format!("{path}/cancel"));
    cancel.answer().await.problem(404, "not_found");
    assert_eq!(
        south.get("/v1/estimate-jobs").await.json()["items"],
        json!([])
    );
    let tag = admin.get(&path).await.must(200).etag();
    let known = admin.call(Method::GET, &path).header("If-None-Match", &tag);
    assert_eq!(known.answer().await.status, 304);
}

#[tokio::test]
async fn a_cancelled_job_has_no_result_and_a_finished_one_stays_as_it_is() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, _) = estate(&admin).await;
    let id = new_estimate_job(&admin, &build::estimate(&site)).await;
    let path = format!("/v1/estimate-jobs/{id}");
    let cancel = async || {
        let call = admin.call(Method::POST, &format!("{path}/cancel"));
        call.answer().await.must(200).json()
    };
    assert_eq!(cancel().await["status"], "succeeded");
    crash(&app, &id).await;
    let early = admin.get(&format!("{path}/result")).await;
    early.problem(409, "state_conflict");
    assert_eq!(early.header("Retry-After"), Some("1"));
    assert_eq!(cancel().await["status"], "cancelled");
    assert_eq!(cancel().await["status"], "cancelled");
    app.clock().advance(TimeDelta::seconds(61));
    // Another job is done, so the worker has looked: a cancelled one is not taken up.
    let _other = new_estimate_job(&admin, &build::estimate(&site)).await;
    assert_eq!(admin.get(&path).await.json()["status"], "cancelled");
    let none = admin.get(&format!("{path}/result")).await;
    none.problem(409, "state_conflict");
}

#[tokio::test]
async fn a_job_whose_worker_is_gone_is_made_anew_and_not_twice() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, _) = estate(&admin).await;
    let body = build::estimate(&site);
    let id = new_estimate_job(&admin, &body).await;
    let (whole, _) = result(&admin, &id).await;
    crash(&app, &id).await;
    let small = with(body.clone(), json!({"storey": "1"}));
    let _other = new_estimate_job(&admin, &small).await;
    let path = format!("/v1/estimate-jobs/{id}");
    let held = admin.get(&path).await.json();
    assert_eq!(held["status"], "running", "its lease has not run out");
    app.clock().advance(TimeDelta::seconds(61));
    let _other = new_estimate_job(&admin, &small).await;
    let job = finished_job(&admin, &id).await;
    assert_eq!(job["status"], "succeeded");
    assert_eq!(job["progress"], json!({"done": 4, "total": 4}));
    assert_eq!(result(&admin, &id).await.0, whole);
}

#[tokio::test]
async fn a_job_that_fails_over_and_over_is_given_up() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, _) = estate(&admin).await;
    let body = build::estimate(&site);
    let id = new_estimate_job(&admin, &body).await;
    crash(&app, &id).await;
    let tried = "UPDATE estimate_jobs SET n_attempts = 3";
    app.execute(tried).await.unwrap();
    app.clock().advance(TimeDelta::seconds(61));
    let _other = new_estimate_job(&admin, &body).await;
    let job = finished_job(&admin, &id).await;
    assert_eq!(job["status"], "failed");
    assert_eq!(job["problem"]["code"], "internal");
}

#[tokio::test]
async fn a_tenant_has_three_unfinished_jobs_at_most() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, _) = estate(&admin).await;
    let body = build::estimate(&site);
    let mut id = String::new();
    for _ in 0..3 {
        id = new_estimate_job(&admin, &body).await;
    }
    crash(&app, &id).await;
    let refused = admin.record("/v1/estimate-jobs", &body).await;
    refused.problem(429, "too_many_jobs");
    assert_eq!(refused.header("Retry-After"), Some("1"));
    let running = admin
        .get("/v1/estimate-jobs?status=running")
        .await
        .must(200);
    assert_eq!(read::list(&running.json(), "/items").len(), 3);
    let south = app.admin_of(SOUTH);
    let (souths, _) = estate(&south).await;
    let _not_theirs = new_estimate_job(&south, &build::estimate(&souths)).await;
    let cancel = admin.call(Method::POST, &format!("/v1/estimate-jobs/{id}/cancel"));
    let _cancelled = cancel.answer().await.must(200);
    let _one_more = new_estimate_job(&admin, &body).await;
}

#[tokio::test]
async fn a_job_is_forgotten_a_week_after_its_end() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, _) = estate(&admin).await;
    let body = build::estimate(&site);
    let id = new_estimate_job(&admin, &body).await;
    let path = format!("/v1/estimate-jobs/{id}");
    app.clock()
        .advance(TimeDelta::days(7) - TimeDelta::seconds(1));
    // Tokens live for a day.
    let _other = new_estimate_job(&app.admin(), &body).await;
    let _kept = app.admin().get(&path).await.must(200);
    app.clock().advance(TimeDelta::hours(2));
    let _other = new_estimate_job(&app.admin(), &body).await;
    app.admin().get(&path).await.problem(404, "not_found");
}

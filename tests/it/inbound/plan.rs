//! Events that cite a plan: contradictions are recorded and flagged, and somebody acknowledges them.

use chrono::TimeDelta;
use serde_json::{Value, json};
use tests::{
    app::NORTH,
    build::{self, with},
    inbound::event,
    read,
};

use super::{Crew, completion_of};

fn codes(deviations: &Value) -> Vec<String> {
    let all = deviations.as_array().unwrap();
    let code = |found: &Value| found["code"].as_str().unwrap_or_default().to_owned();
    all.iter().map(code).collect()
}

#[tokio::test]
async fn what_contradicts_the_plan_is_recorded_flagged_and_acknowledged() {
    let crew = Crew::new().await;
    let plan = build::new_plan(&crew.admin, &build::plan(&crew.surface))
        .await
        .id();
    let odd = crew.report(
        "1",
        json!({
            "plan_id": plan, "polish_coats": 2, "surface_ph": 9.4,
            "started_at": "2026-05-11T20:00:00Z", "finished_at": "2026-05-11T20:45:00Z",
            "products": [
                {"product": "stripper_alkaline", "volume_l": 0.4, "batch": "L2291", "expires_on": "2026-04-30"},
                {"product": "seal_water_based", "volume_l": 1},
            ],
            "charged": {"amount": "410.00", "currency": "GBP"},
            "invoice_lines": [{"text": "Strip and refinish", "net": {"amount": "400.00", "currency": "GBP"}}],
            "evidence": [{"url": "https://crew.test/photos/1.jpg", "sha256": "0".repeat(64)}],
        }),
    );
    let told = crew
        .send("evt-1", &event("completion.reported", 0, &odd))
        .await;
    let told = told.must(200);
    let id = completion_of(&told);
    let path = format!("/v1/completions/{id}");
    let kept = crew.admin.get(&path).await.must(200);
    let found = codes(&kept.json()["deviations"]);
    for code in [
        "fewer_polish_coats",
        "other_product",
        "ph_outside_limits",
        "before_plan",
        "too_fast_for_waits",
        "far_too_few_litres",
        "product_expired",
        "invoice_differs",
    ] {
        assert!(found.iter().any(|known| known == code), "{code}: {found:?}");
    }
    assert_eq!(told.json()["deviations"], json!(found));
    assert_eq!(kept.json()["products"][0]["batch"], "L2291");
    assert_eq!(
        kept.json()["evidence"][0]["url"],
        "https://crew.test/photos/1.jpg"
    );
    let acknowledge = format!("{path}/acknowledge");
    let accept = json!({"deviation": "before_plan", "reason": "Agreed by telephone."});
    let contractor = crew
        .app
        .as_(NORTH, &["completions:read", "completions:write"]);
    let refused = contractor.record(&acknowledge, &accept).await;
    refused.problem(403, "insufficient_scope");
    let accepted = crew.admin.record(&acknowledge, &accept).await.must(200);
    assert_eq!(accepted.etag(), "\"2.json\"");
    assert_eq!(crew.admin.get(&path).await.must(200).body, accepted.body);
    for deviation in accepted.json()["deviations"].as_array().unwrap() {
        let said = &deviation["acknowledged"]["reason"];
        let is_it = deviation["code"] == "before_plan";
        assert_eq!(*said == "Agreed by telephone.", is_it, "{deviation}");
    }
    let twice = crew.admin.record(&acknowledge, &accept).await;
    twice.problem(409, "state_conflict");
    let unknown = json!({"deviation": "more_seal_coats", "reason": "x"});
    let refused = crew.admin.record(&acknowledge, &unknown).await;
    refused.problem(422, "invalid_body");
}

#[tokio::test]
async fn a_plan_of_another_surface_is_flagged_and_left_undone() {
    let crew = Crew::new().await;
    let site = build::new_site(&crew.admin).await;
    let other = build::new_surface(&crew.admin, &build::surface(&site)).await;
    let plan = build::new_plan(&crew.admin, &build::plan(&other))
        .await
        .id();
    let report = crew.report("1", json!({"plan_id": plan}));
    let told = crew
        .send("evt-1", &event("completion.reported", 0, &report))
        .await;
    assert_eq!(
        told.must(200).json()["deviations"],
        json!(["other_surface"])
    );
    let on_time = with(
        with(build::completion(&other), json!({"plan_id": plan})),
        json!({"started_at": "2026-06-01T13:00:00Z", "finished_at": "2026-06-02T05:00:00Z"}),
    );
    let done = crew.admin.record("/v1/completions", &on_time).await;
    assert_eq!(done.must(201).json()["planned_share"], 1.0);
}

#[tokio::test]
async fn a_plan_tells_its_contractor_where_and_how_to_report_it() {
    let crew = Crew::new().await;
    let plan = build::new_plan(&crew.admin, &build::plan(&crew.surface))
        .await
        .id();
    let path = format!("/v1/plans/{plan}/reporting");
    let told = crew.admin.get(&path).await.must(200).json();
    assert_eq!(told["addresses"][0]["address"], crew.sender.path);
    assert_eq!(
        told["addresses"][0]["contractor_id"],
        crew.sender.contractor
    );
    let other = build::new_contractor(&crew.admin).await;
    let none = crew
        .admin
        .get(&format!("{path}?contractor_id={other}"))
        .await;
    assert_eq!(none.must(200).json()["addresses"], json!([]));
    // The example is taken as it stands, and follows its plan.
    crew.app.clock().advance(TimeDelta::hours(20));
    let told = crew.app.admin().get(&path).await.must(200).json();
    let taken = crew.send("evt-1", &told["example"]).await.must(200).json();
    assert_eq!(taken["outcome"], "recorded");
    assert_eq!(taken["deviations"], json!(["no_ph_reading"]));
    let workless = json!({"goal": "restore", "process": "safety_floor_deep_clean", "limits": {"window_min": 15}});
    let workless = json!({"surface_id": crew.surface, "wish": workless});
    let workless = build::new_plan(&crew.app.admin(), &workless).await.id();
    let refused = crew
        .app
        .admin()
        .get(&format!("/v1/plans/{workless}/reporting"))
        .await;
    refused.problem(409, "state_conflict");
}

#[tokio::test]
async fn a_void_completion_counts_nowhere() {
    let crew = Crew::new().await;
    let plan = build::new_plan(&crew.admin, &build::plan(&crew.surface))
        .await
        .id();
    let report = crew.report("1", json!({"plan_id": plan}));
    let id = crew
        .admin
        .record("/v1/completions", &report)
        .await
        .must(201)
        .id();
    let path = format!("/v1/completions/{id}/void");
    let reason = json!({"reason": "Reported for the wrong night."});
    let voided = crew.admin.record(&path, &reason).await.must(200);
    assert_eq!(voided.json()["status"], "voided");
    assert_eq!(
        voided.json()["voided"]["reason"],
        "Reported for the wrong night."
    );
    assert_eq!(voided.json()["voided"]["by_client"], "tests");
    crew.admin
        .record(&path, &reason)
        .await
        .problem(409, "state_conflict");
    let report = "/v1/reports/costs?from=2026-05&to=2026-06";
    let rows = crew.admin.get(report).await.must(200).json();
    assert_eq!(rows["rows"], json!([]));
    let state = format!("/v1/surfaces/{}/state", crew.surface);
    let state = crew.admin.get(&state).await.must(200).text();
    assert!(!state.contains(&id), "{state}");
    // The whole plan is left to be done.
    let again = crew.report("2", json!({"plan_id": plan}));
    let again = crew
        .admin
        .record("/v1/completions", &again)
        .await
        .must(201)
        .json();
    assert_eq!(again["planned_share"], 1.0);
    let tx = crew.app.store().read(crew.app.tenant(NORTH)).await.unwrap();
    let events = tx.outbox().list(100).await.unwrap();
    let told = events
        .iter()
        .find(|event| event.kind == "wearcourse.completion.voided.v1");
    assert_eq!(told.unwrap().subject, id);
    assert_eq!(read::text(&again, "/status"), "recorded");
}

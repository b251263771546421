//! What was registered or recorded by mistake is taken back: readings and observations are voided, sites retired.

use serde_json::{Value, json};
use tests::{
    app::TestApp,
    build::{self, with},
    client::Caller,
    read,
};

use crate::film::Floor;

/// The kinds of the last events that were told, and their versions.
async fn told(app: &TestApp, n: usize) -> Vec<(String, i64)> {
    let tx = app
        .store()
        .read(app.tenant(tests::app::NORTH))
        .await
        .unwrap();
    let events = tx.outbox().list(1_000).await.unwrap();
    let last = events[events.len() - n..].iter();
    last.map(|event| (event.kind.clone(), event.version))
        .collect()
}

async fn items(caller: &Caller, path: &str) -> Vec<Value> {
    let page = caller.get(path).await.must(200).json();
    read::list(&page, "/items").to_vec()
}

#[tokio::test]
async fn a_reading_of_the_wrong_floor_is_voided_once_and_stays_readable() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let named = json!({"external": {"system": "meter", "id": "7"}});
    let reading = with(build::reading(&surface), named);
    let made = admin.post("/v1/readings", &reading).await.must(201);
    let path = format!("/v1/readings/{}", made.id());
    let void = format!("{path}/void");
    let why = json!({"reason": "Another floor was measured."});
    let done = admin.record(&void, &why).await.must(200);
    let now = done.json();
    assert_eq!(now["status"], "voided");
    assert_eq!(now["voided"]["reason"], why["reason"]);
    assert_eq!(now["value"], made.json()["value"]);
    let kept = admin.get(&path).await.must(200);
    assert_eq!((kept.json(), kept.etag()), (now.clone(), done.etag()));
    assert_ne!(made.etag(), kept.etag());
    assert_eq!(items(&admin, "/v1/readings").await, [json!(null); 0]);
    let all = items(&admin, "/v1/readings?include_superseded=true").await;
    assert_eq!(all, [now]);
    let expected = ("wearcourse.reading.voided.v1".to_owned(), 2);
    assert_eq!(told(&app, 1).await, [expected]);
    // It is said once, and what is void is corrected no more.
    let again = admin.record(&void, &why).await;
    again.problem(409, "state_conflict");
    let corrected = admin.record(&format!("{path}/supersede"), &reading).await;
    corrected.problem(409, "state_conflict");
    // Its name is free again.
    let _anew = admin.post("/v1/readings", &reading).await.must(201);
    let blank = admin.record(&void, &json!({"reason": " "})).await;
    blank.problem(422, "invalid_body");
    let nobody = "/v1/readings/rdg_0193e8a0-0000-7000-8000-00000000dead/void";
    admin.record(nobody, &why).await.problem(404, "not_found");
}

#[tokio::test]
async fn a_voided_observation_says_nothing_of_the_film_at_any_moment() {
    let mut floor = Floor::with(json!({"kind": "polish", "coats": 6, "condition": "sound"})).await;
    floor.pass(1);
    let seen = floor
        .see(json!({"film": {"kind": "bare", "coats": null, "condition": null}}))
        .await
        .must(201);
    assert_eq!(floor.state("").await["kind"], "bare");
    floor.pass(1);
    let path = format!("/v1/observations/{}", seen.id());
    let void = format!("{path}/void");
    let why = json!({"reason": "Another floor was looked at."});
    let done = floor.admin.record(&void, &why).await.must(200);
    assert_eq!(done.json()["status"], "voided");
    assert_eq!(done.json()["voided"]["reason"], why["reason"]);
    let kept = floor.admin.get(&path).await.must(200);
    assert_eq!((kept.json(), kept.etag()), (done.json(), done.etag()));
    for query in [String::new(), format!("?at={}", floor.day(-1))] {
        assert_eq!(floor.state(&query).await["kind"], "polish", "{query}");
    }
    let expected = ("wearcourse.observation.voided.v1".to_owned(), 2);
    assert_eq!(told(&floor.app, 1).await, [expected]);
    let again = floor.admin.record(&void, &why).await;
    again.problem(409, "state_conflict");
    let listed = format!("/v1/surfaces/{}/observations", floor.id);
    assert_eq!(items(&floor.admin, &listed).await.len(), 1);
    let all = format!("{listed}?include_superseded=true");
    assert_eq!(items(&floor.admin, &all).await.len(), 2);
}

#[tokio::test]
async fn nothing_is_planned_and_nothing_estimated_at_a_site_that_was_retired() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let path = format!("/v1/sites/{site}");
    let today = app.now().date_naive();
    let tomorrow = json!({"retired_on": today.succ_opt().unwrap().to_string()});
    let _done = admin.patch(&path, "*", &tomorrow).await.must(200);
    let _still = build::new_plan(&admin, &build::plan(&surface)).await;
    assert!(!items(&admin, "/v1/due").await.is_empty());
    let change = json!({"retired_on": today.to_string()});
    let now = admin.patch(&path, "*", &change).await.must(200).json();
    assert_eq!(now["retired_on"], change["retired_on"]);
    for (path, body, pointer) in [
        ("/v1/plans", build::plan(&surface), "#/surface_id"),
        ("/v1/plans/preview", build::plan(&surface), "#/surface_id"),
        ("/v1/estimates", build::estimate(&site), "#/site_id"),
        ("/v1/estimate-jobs", build::estimate(&site), "#/site_id"),
    ] {
        let refused = admin.record(path, &body).await;
        refused.problem(422, "invalid_body");
        let fault = (pointer.to_owned(), "site_retired".to_owned());
        assert_eq!(refused.faults(), [fault], "{path}");
    }
    let more = build::surface(&site);
    let batch = json!({"mode": "partial", "items": [with(more.clone(), json!({"external": {"system": "fm", "id": "R-2"}}))]});
    let refused = admin.record("/v1/surfaces", &more).await;
    refused.problem(422, "invalid_body");
    let retired = ("#/site_id".to_owned(), "site_retired".to_owned());
    assert_eq!(refused.faults(), [retired]);
    let answer = admin.record("/v1/surfaces/batch", &batch).await.must(200);
    let answer = answer.json();
    let item = &answer["items"][0];
    assert_eq!(item["outcome"], "needs_attention", "{answer:#}");
    assert_eq!(item["errors"][0]["code"], "site_retired", "{answer:#}");
    // Nothing is due there, and what was registered can still be changed.
    let due = items(&admin, "/v1/due").await;
    assert!(due.is_empty(), "{due:#?}");
    let note = json!({"note": "Sold."});
    let floor = format!("/v1/surfaces/{surface}");
    let _changed = admin.patch(&floor, "*", &note).await.must(200);
    // What was done there can still be told.
    let work = build::completion(&surface);
    let _late = admin.record("/v1/completions", &work).await.must(201);
    let back = json!({"retired_on": null});
    let now = admin.patch(&path, "*", &back).await.must(200).json();
    assert_eq!(now["retired_on"], json!(null));
    let _again = build::new_plan(&admin, &build::plan(&surface)).await;
}

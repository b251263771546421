//! Names in other systems: what was recorded under one is not recorded again.

use serde_json::{Value, json};
use tests::{
    app::{SOUTH, TestApp},
    build::{self, with},
    client::{Answer, Caller},
};

fn named(body: Value) -> Value {
    with(
        body,
        json!({"external": {"system": "crew-app", "id": "88213 é"}}),
    )
}

async fn surface(caller: &Caller) -> String {
    let site = build::new_site(caller).await;
    build::new_surface(caller, &build::surface(&site)).await
}

/// That a record is refused because another one has its external name, which is told.
fn taken(answer: &Answer, by: &str) {
    let problem = answer.problem(409, "already_exists");
    assert!(problem["detail"].to_string().contains(by), "{problem:#}");
    let fault = ("#/external".to_owned(), "already_exists".to_owned());
    assert_eq!(answer.faults(), [fault]);
}

async fn found(caller: &Caller, path: &str, more: &str) -> Vec<String> {
    let path = format!("{path}?external_system=crew-app&external_id=88213%20%C3%A9{more}");
    let page = caller.get(&path).await.must(200).json();
    let ids = page["items"].as_array().unwrap().iter();
    ids.map(|item| item["id"].as_str().unwrap().to_owned())
        .collect()
}

#[tokio::test]
async fn work_with_an_external_name_is_booked_once() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let body = named(build::completion(&surface(&admin).await));
    // `record` sends a key of its own each time, as an app does that lost its answer and was restarted.
    let first = admin.record("/v1/completions", &body).await.must(201).id();
    taken(&admin.record("/v1/completions", &body).await, &first);
    assert_eq!(
        found(&admin, "/v1/completions", "").await,
        std::slice::from_ref(&first)
    );
    let other = with(body.clone(), json!({"external": {"id": "88213 e\u{301}"}}));
    let other = admin.record("/v1/completions", &other).await.must(201).id();
    let path = format!("/v1/completions/{first}/supersede");
    let second = admin.record(&path, &body).await.must(201).id();
    taken(&admin.record("/v1/completions", &body).await, &second);
    let path = format!("/v1/completions/{other}/supersede");
    taken(&admin.record(&path, &body).await, &second);
    assert_eq!(
        found(&admin, "/v1/completions", "").await,
        std::slice::from_ref(&second)
    );
    let all = found(&admin, "/v1/completions", "&include_superseded=true").await;
    assert_eq!(all, [first, second]);
    let south = app.admin_of(SOUTH);
    let body = named(build::completion(&surface(&south).await));
    let _done = south.record("/v1/completions", &body).await.must(201);
}

#[tokio::test]
async fn of_reports_that_come_at_once_one_is_booked() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let surface = surface(&admin).await;
    for round in 0..10 {
        let name = json!({"external": {"system": "crew-app", "id": format!("{round}")}});
        let body = with(build::completion(&surface), name);
        let send = async || admin.record("/v1/completions", &body).await;
        let (a, b) = tokio::join!(send(), send());
        let (done, late) = if a.status == 201 { (a, b) } else { (b, a) };
        taken(&late, &done.must(201).id());
    }
}

#[tokio::test]
async fn a_reading_with_an_external_name_is_recorded_once() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let body = named(build::reading(&surface(&admin).await));
    let first = admin.post("/v1/readings", &body).await.must(201).id();
    taken(&admin.post("/v1/readings", &body).await, &first);
    assert_eq!(
        found(&admin, "/v1/readings", "").await,
        std::slice::from_ref(&first)
    );
    let path = format!("/v1/readings/{first}/supersede");
    let second = admin.record(&path, &body).await.must(201).id();
    taken(&admin.post("/v1/readings", &body).await, &second);
    assert_eq!(found(&admin, "/v1/readings", "").await, [second]);
    let plain = build::reading(&surface(&admin).await);
    for _ in 0..2 {
        let _done = admin.post("/v1/readings", &plain).await.must(201);
    }
}

#[tokio::test]
async fn an_observation_with_an_external_name_is_recorded_once() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let path = format!("/v1/surfaces/{}/observations", surface(&admin).await);
    let body = named(build::observation());
    let first = admin.record(&path, &body).await.must(201).id();
    taken(&admin.record(&path, &body).await, &first);
    let supersede = format!("/v1/observations/{first}/supersede");
    let second = admin.record(&supersede, &body).await.must(201).id();
    taken(&admin.record(&path, &body).await, &second);
}

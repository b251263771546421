//! Readings: what is measured is kept as it was told, within what is possible, and corrected by another.

use serde_json::{Value, json};
use tests::{
    app::{NORTH, TestApp},
    build::{self, with},
    client::Caller,
    read,
};

async fn corridor(admin: &Caller) -> String {
    let site = build::new_site(admin).await;
    build::new_surface(admin, &build::surface(&site)).await
}

#[tokio::test]
async fn a_reading_is_kept_as_it_was_told_and_told_of() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let surface = corridor(&admin).await;
    let done = build::completion(&surface);
    let done = admin.record("/v1/completions", &done).await.must(201).id();
    let body = with(
        build::reading(&surface),
        json!({
            "completion_id": done, "spot": "3 m from the door", "instrument": "meter-2", "note": "after the last rinse",
            "external": {"system": "meter", "id": "7"},
        }),
    );
    let made = admin.post("/v1/readings", &body).await.must(201);
    let shown = made.json();
    for (member, value) in body.as_object().unwrap() {
        let at = json!("2026-05-12T09:30:00.000Z");
        let expected = if member == "at" { &at } else { value };
        assert_eq!(&shown[member], expected, "{member}");
    }
    let path = format!("/v1/readings/{}", made.id());
    assert_eq!(made.header("Location"), Some(path.as_str()));
    let read = admin.get(&path).await.must(200);
    assert_eq!((read.text(), read.etag()), (made.text(), made.etag()));
    let tx = app.store().read(app.tenant(NORTH)).await.unwrap();
    let events = tx.outbox().list(1_000).await.unwrap();
    let event = events.last().unwrap();
    assert_eq!(event.kind, "wearcourse.reading.taken.v1");
    assert_eq!(event.subject, made.id());
}

#[tokio::test]
async fn readings_are_listed_by_what_they_are_of() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (one, two) = (corridor(&admin).await, corridor(&admin).await);
    let take = async |surface: &str, kind: &str, value: Value| {
        let change = json!({"kind": kind, "value": value});
        let body = with(build::reading(surface), change);
        admin.post("/v1/readings", &body).await.must(201).id()
    };
    let ph = take(&one, "surface_ph", json!(8)).await;
    let cold = take(&one, "air_c", json!(-4.5)).await;
    let gloss = take(&two, "gloss_gu", json!(72)).await;
    let listed = async |query: &str| {
        let page = admin.get(&format!("/v1/readings?{query}")).await.must(200);
        let page = page.json();
        let ids = read::list(&page, "/items").iter();
        ids.map(|item| read::text(item, "/id").to_owned())
            .collect::<Vec<_>>()
    };
    assert_eq!(listed("").await, [ph.clone(), cold.clone(), gloss.clone()]);
    assert_eq!(
        listed(&format!("surface_id={one}")).await,
        [ph.clone(), cold.clone()]
    );
    assert_eq!(listed("kind=air_c").await, [cold]);
    assert_eq!(
        listed(&format!("surface_id={two}&kind=surface_ph")).await,
        [""; 0]
    );
    let first = admin.get("/v1/readings?limit=2").await.must(200).json();
    let cursor = read::text(&first, "/next_cursor");
    assert_eq!(listed(&format!("limit=2&cursor={cursor}")).await, [gloss]);
    let refused = admin.get("/v1/readings?kind=weight").await;
    refused.problem(422, "parameter_out_of_range");
}

#[tokio::test]
async fn a_reading_that_cannot_be_is_refused_with_every_fault() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (one, two) = (corridor(&admin).await, corridor(&admin).await);
    let done = build::completion(&two);
    let done = admin.record("/v1/completions", &done).await.must(201).id();
    let refused = async |change: Value, faults: &[(&str, &str)]| {
        let body = with(build::reading(&one), change);
        let answer = admin.post("/v1/readings", &body).await;
        answer.problem(422, "invalid_body");
        let faults = faults
            .iter()
            .map(|(place, code)| ((*place).to_owned(), (*code).to_owned()));
        assert_eq!(
            answer.faults(),
            faults.collect::<Vec<_>>(),
            "{}",
            answer.text()
        );
    };
    refused(
        json!({"completion_id": done, "value": 14.5, "at": "2099-01-01T00:00:00Z"}),
        &[
            ("#/at", "in_future"),
            ("#/completion_id", "completion_of_other_surface"),
            ("#/value", "out_of_range"),
        ],
    )
    .await;
    let nobodys = "srf_0193e8a0-0000-7000-8000-00000000dead";
    refused(
        json!({"surface_id": nobodys, "kind": "air_c", "value": 61, "at": "1999-01-01T00:00:00Z"}),
        &[
            ("#/at", "too_early"),
            ("#/surface_id", "reference_not_found"),
            ("#/value", "out_of_range"),
        ],
    )
    .await;
    let body = json!({"surface_id": one, "kind": "weight", "value": "7", "unit": "kg"});
    let answer = admin.post("/v1/readings", &body).await;
    answer.problem(422, "invalid_body");
    assert_eq!(answer.faults().len(), 4, "{}", answer.text());
    let none = admin.get("/v1/readings").await.must(200).json();
    assert_eq!(none["items"], json!([]));
}

#[tokio::test]
async fn a_correction_counts_in_the_place_of_a_reading_once() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let surface = corridor(&admin).await;
    let first = admin.post("/v1/readings", &build::reading(&surface)).await;
    let first = first.must(201);
    let supersede = format!("/v1/readings/{}/supersede", first.id());
    let better = with(build::reading(&surface), json!({"value": 8.1}));
    let second = admin.record(&supersede, &better).await.must(201);
    assert_eq!(second.json()["supersedes"], first.json()["id"]);
    assert_eq!(second.json()["status"], "recorded");
    let old = admin.get(&format!("/v1/readings/{}", first.id())).await;
    let old = old.must(200);
    assert_ne!(old.etag(), first.etag());
    let expected = with(
        first.json(),
        json!({"status": "superseded", "superseded_by": second.json()["id"]}),
    );
    for (member, value) in old.json().as_object().unwrap() {
        let same = value.is_null() || *value == expected[member];
        assert!(same, "{member}: {value}");
    }
    let listed = admin.get("/v1/readings").await.must(200).json();
    assert_eq!(listed["items"], json!([second.json()]));
    let all = "/v1/readings?include_superseded=true";
    let all = admin.get(all).await.must(200).json();
    assert_eq!(all["items"], json!([old.json(), second.json()]));
    let again = admin.record(&supersede, &better).await;
    again.problem(409, "state_conflict");
    let tx = app.store().read(app.tenant(NORTH)).await.unwrap();
    let events = tx.outbox().list(1_000).await.unwrap();
    let told: Vec<_> = events[events.len() - 2..]
        .iter()
        .map(|event| (event.kind.as_str(), event.subject.clone(), event.version))
        .collect();
    assert_eq!(
        told,
        [
            ("wearcourse.reading.taken.v1", second.id(), 1),
            ("wearcourse.reading.superseded.v1", first.id(), 2)
        ]
    );
}

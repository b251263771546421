//! What a key names is done once: every operation that writes, sent again.

use std::pin::pin;

use futures_util::future::{Either, select};
use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    app::{NORTH, SOUTH, TestApp},
    build,
    client::Answer,
};

use super::operation::{Estate, Operation, guarded};

fn writes() -> impl Iterator<Item = Operation> {
    guarded().into_iter().filter(Operation::is_write)
}

/// The headers that a repeat must carry too.
fn kept(answer: &Answer) -> [Option<&str>; 4] {
    ["Content-Type", "Location", "ETag", "Cache-Control"].map(|name| answer.header(name))
}

#[tokio::test]
async fn a_write_that_is_sent_again_with_its_key_answers_the_same_and_does_nothing() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let estate = Estate::new(admin.clone()).await;
    // The end of a schedule is told by the worker, whenever that comes.
    let n_events = async || {
        let tx = app.store().read(app.tenant(NORTH)).await.unwrap();
        let events = tx.outbox().list(1_000).await.unwrap();
        let asked = events
            .iter()
            .filter(|event| !event.kind.contains(".schedule."));
        asked.count()
    };
    for (n, operation) in writes().enumerate() {
        let (place, key) = (operation.place(), format!("again-{n}"));
        let call = async || {
            estate
                .call(&admin, &operation)
                .header("Idempotency-Key", &key)
                .answer()
                .await
        };
        let first = call().await;
        assert!(
            (200..300).contains(&first.status),
            "{place}: {}",
            first.text()
        );
        assert_eq!(first.header("Idempotent-Replayed"), None, "{place}");
        if operation.id == "applyImport" {
            // What it registers in the background tells of itself.
            let import = format!("/v1/imports/{}", first.id());
            let _applied = build::finished(&admin, &import).await;
        }
        let before = n_events().await;
        // The clock moves on, so that an answer that was made anew would differ.
        app.clock().advance(chrono::TimeDelta::seconds(1));
        let again = call().await;
        assert_eq!(
            (again.status, &again.body),
            (first.status, &first.body),
            "{place}"
        );
        assert_eq!(kept(&again), kept(&first), "{place}");
        assert_eq!(again.header("Idempotent-Replayed"), Some("true"), "{place}");
        assert_eq!(n_events().await, before, "{place}");
    }
}

#[tokio::test]
async fn s_121_a_key_that_came_with_another_request_is_refused() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let estate = Estate::new(admin.clone()).await;
    for (n, operation) in writes().enumerate() {
        let key = format!("other-{n}");
        let first = estate
            .call(&admin, &operation)
            .header("Idempotency-Key", &key)
            .answer()
            .await;
        assert!(
            (200..300).contains(&first.status),
            "{}: {}",
            operation.place(),
            first.text()
        );
        let other = admin
            .post_keyed("/v1/contractors", &key, &json!({"name": "Another crew"}))
            .await;
        other.problem(422, "idempotency_key_reused");
    }
}

#[tokio::test]
async fn s_121_a_key_is_each_tenants_own() {
    let app = TestApp::start().await;
    let body = json!({"name": "Crew"});
    let north = app
        .admin_of(NORTH)
        .post_keyed("/v1/contractors", "one", &body)
        .await
        .must(201);
    let south = app
        .admin_of(SOUTH)
        .post_keyed("/v1/contractors", "one", &body)
        .await
        .must(201);
    assert_ne!(north.id(), south.id());
    assert_eq!(south.header("Idempotent-Replayed"), None);
}

#[tokio::test]
async fn s_122_a_request_that_was_refused_may_be_mended_and_sent_with_its_key() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let post = async |body: &Value| admin.post_keyed("/v1/contractors", "mend", body).await;
    post(&json!({"name": ""}))
        .await
        .problem(422, "invalid_body");
    let _mended = post(&json!({"name": "Crew"})).await.must(201);
}

#[tokio::test]
async fn a_write_with_money_in_it_needs_a_key_and_no_write_takes_a_malformed_one() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let estate = Estate::new(admin.clone()).await;
    let needing = [
        "POST /v1/completions",
        "POST /v1/completions/{completion_id}/supersede",
        "POST /v1/completions/{completion_id}/void",
        "POST /v1/observations/{observation_id}/void",
        "POST /v1/readings/{reading_id}/void",
        "POST /v1/completions/{completion_id}/acknowledge",
        "POST /v1/contractor-sources/{source_id}/rotate",
        "POST /v1/deliveries/{delivery_id}/replay",
        "POST /v1/subscriptions/{subscription_id}/ping",
        "POST /v1/subscriptions/{subscription_id}/replay",
        "POST /v1/subscriptions/{subscription_id}/rotate",
        "POST /v1/estimate-jobs",
        "POST /v1/schedules",
        "POST /v1/schedules/{schedule_id}/choose",
        "POST /v1/schedules/{schedule_id}/replan",
        "POST /v1/surfaces/batch",
    ];
    let mut n_needing = 0;
    for operation in writes() {
        let place = operation.place();
        if needing.contains(&place.as_str()) {
            n_needing += 1;
            let answer = estate.call(&admin, &operation).answer().await;
            answer.problem(400, "idempotency_key_required");
            let fault = ("Idempotency-Key".to_owned(), "required".to_owned());
            assert_eq!(answer.faults(), [fault], "{place}");
        }
        let long = "k".repeat(256);
        for bad in ["two words", "", "\"\"", &long] {
            let answer = estate
                .call(&admin, &operation)
                .header("Idempotency-Key", bad)
                .answer()
                .await;
            answer.problem(400, "invalid_idempotency_key");
        }
    }
    assert_eq!(n_needing, needing.len());
}

#[tokio::test]
async fn s_120_the_same_request_sent_four_times_at_once_is_done_once() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let body = json!({"name": "Crew"});
    for round in 0..5 {
        let key = format!("race-{round}");
        let post = async || admin.post_keyed("/v1/contractors", &key, &body).await;
        let (a, b, c, d) = tokio::join!(post(), post(), post(), post());
        let answers = [a, b, c, d];
        let first: Vec<&Answer> = answers
            .iter()
            .filter(|answer| answer.status == 201 && answer.header("Idempotent-Replayed").is_none())
            .collect();
        assert_eq!(first.len(), 1);
        for answer in &answers {
            match answer.status {
                201 => assert_eq!(answer.body, first[0].body),
                _ => assert!(answer.problem(409, "idempotency_in_flight")["errors"].is_null()),
            }
        }
    }
    let page = admin.get("/v1/contractors").await.must(200).json();
    assert_eq!(page["items"].as_array().unwrap().len(), 5);
}

#[tokio::test]
async fn a_request_whose_key_is_being_worked_on_is_told_so() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let plan = build::new_plan(&admin, &build::plan(&surface)).await.id();
    // Somebody else is at the plan's floor, so that the first request waits in the middle of its work.
    let tx = app.store().begin(app.tenant(NORTH)).await.unwrap();
    tx.surfaces().lock(surface.parse().unwrap()).await.unwrap();
    let send = async || {
        let call = admin.call(Method::POST, &format!("/v1/plans/{plan}/accept"));
        let call = call
            .header("If-Match", "*")
            .header("Idempotency-Key", "one");
        call.answer().await
    };
    let (first, second) = (pin!(send()), pin!(send()));
    let (late, done) = match select(first, second).await {
        Either::Left((late, other)) | Either::Right((late, other)) => {
            drop(tx);
            (late, other.await)
        }
    };
    late.problem(409, "idempotency_in_flight");
    assert_eq!(late.header("Retry-After"), Some("1"));
    let _done = done.must(200);
}

#[tokio::test]
async fn answers_that_are_too_old_to_be_given_are_forgotten() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let body = json!({"name": "Evening crew"});
    for _ in 0..3 {
        let _done = admin.record("/v1/contractors", &body).await.must(201);
    }
    app.clock().advance(chrono::TimeDelta::hours(49));
    let tx = app.store().begin(app.tenant(NORTH)).await.unwrap();
    assert_eq!(tx.idempotency().sweep(app.now()).await.unwrap(), 3);
    // Not committed: they are there still.
    drop(tx);
    let admin = app.admin();
    for _ in 0..100 {
        let _done = admin.record("/v1/contractors", &body).await.must(201);
    }
    let tx = app.store().begin(app.tenant(NORTH)).await.unwrap();
    assert_eq!(tx.idempotency().sweep(app.now()).await.unwrap(), 0);
}

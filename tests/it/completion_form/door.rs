//! Who gets to a form: links and addresses, made, taken back, expired and guessed.

use chrono::TimeDelta;
use reqwest::Method;
use serde_json::json;
use tests::{
    app::{NORTH, SOUTH, TestApp},
    build, read,
};

use super::{link, planned, recorded, submit};

#[tokio::test]
async fn an_address_that_expired_was_revoked_or_was_guessed_opens_nothing_and_all_look_alike() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let plan = planned(&admin, json!({})).await;
    let (_, short) = link(&admin, &plan, json!({"days": 1})).await;
    let (made, revoked) = link(&admin, &plan, json!({})).await;
    let id = read::text(&made, "/id");
    let told = admin.get(&format!("/v1/completion-links/{id}")).await;
    let revoke = admin.call(Method::POST, &format!("/v1/completion-links/{id}/revoke"));
    let revoke = revoke.header("If-Match", &told.must(200).etag());
    let gone = revoke.answer().await.must(200).json();
    assert_eq!(read::text(&gone, "/status"), "revoked");
    app.clock().advance(TimeDelta::hours(25));
    let cut = short.len() - 43;
    let swapped = format!("{}{}", &short[..cut], &revoked[cut..]);
    let fields = [("key", "0190-1"), ("started_at", "x")];
    let unknown = app.stranger().get("/c/x").await.must(404);
    for path in [
        &short,
        &revoked,
        &swapped,
        "/c/%00",
        &short[..short.len() - 1],
    ] {
        let page = app.stranger().get(path).await.must(404);
        assert_eq!(page.body, unknown.body, "{path}");
        let refused = submit(&app, path, &fields).await.must(404);
        assert_eq!(refused.body, unknown.body, "{path}");
    }
    assert!(unknown.text().contains("opens nothing") && unknown.text().contains("öffnet nichts"));
    assert!(recorded(&app.admin(), &plan).await.is_empty());
}

#[tokio::test]
async fn who_tries_many_addresses_is_told_to_wait_and_a_good_one_still_opens() {
    let limits = [("WEARCOURSE_FAILED_AUTH_PER_MIN", "3")];
    let app = TestApp::start_as(&limits, |_| {}).await;
    let plan = planned(&app.admin(), json!({})).await;
    let (_, path) = link(&app.admin(), &plan, json!({})).await;
    for n in 0..3 {
        let _missed = app.stranger().get(&format!("/c/{n}")).await.must(404);
    }
    app.stranger()
        .get("/c/4")
        .await
        .problem(429, "too_many_failures");
    let _good = app.stranger().get(&path).await.must(200);
}

#[tokio::test]
async fn links_are_made_listed_and_taken_back_by_those_who_may_and_nobody_elses_are_seen() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let plan = planned(&admin, json!({})).await;
    let path = format!("/v1/plans/{plan}/completion-links");
    let [ours, others] = [
        build::new_contractor(&admin).await,
        admin
            .post("/v1/contractors", &json!({"name": "Day crew"}))
            .await
            .must(201)
            .id(),
    ];
    let (made, _) = link(&admin, &plan, json!({"contractor_id": others})).await;
    let listed = admin.get(&path).await.must(200).json();
    assert_eq!(read::list(&listed, "/items").len(), 1);
    assert_eq!(read::list(&listed, "/items")[0].get("address"), None);
    let south = app.admin_of(SOUTH);
    south.get(&path).await.problem(404, "not_found");
    south
        .post(&path, &json!({}))
        .await
        .problem(404, "not_found");
    let reader = app.as_(NORTH, &["completions:read"]);
    reader
        .post(&path, &json!({}))
        .await
        .problem(403, "insufficient_scope");
    // Who is bound to a contractor makes and sees that one's links only.
    let bound = app.bound_to(&ours, &["completions:read", "completions:write"]);
    let own = bound.post(&path, &json!({})).await.must(201).json();
    assert_eq!(read::text(&own, "/contractor_id"), ours);
    let refused = bound.post(&path, &json!({"contractor_id": others})).await;
    refused.problem(422, "invalid_body");
    assert_eq!(
        refused.faults(),
        [(
            "#/contractor_id".to_owned(),
            "reference_not_found".to_owned()
        )]
    );
    let listed = bound.get(&path).await.must(200).json();
    assert_eq!(read::list(&listed, "/items").len(), 1);
    let theirs = format!("/v1/completion-links/{}", read::text(&made, "/id"));
    bound.get(&theirs).await.problem(404, "not_found");
    let revoke = bound.call(Method::POST, &format!("{theirs}/revoke"));
    revoke
        .header("If-Match", "*")
        .answer()
        .await
        .problem(404, "not_found");
    for (change, field) in [
        (json!({"days": 93}), "#/days"),
        (json!({"reports": 0}), "#/reports"),
        (json!({"language": "fr"}), "#/language"),
    ] {
        let refused = admin.post(&path, &change).await;
        refused.problem(422, "invalid_body");
        assert_eq!(refused.faults()[0].0, field);
    }
}

#[tokio::test]
async fn what_no_form_sends_is_refused_before_it_is_looked_at() {
    let app = TestApp::start().await;
    let plan = planned(&app.admin(), json!({})).await;
    let (_, path) = link(&app.admin(), &plan, json!({})).await;
    let stranger = app.stranger();
    let json = stranger
        .call(Method::POST, &path)
        .json(&json!({}))
        .answer()
        .await;
    json.problem(415, "unsupported_media_type");
    assert_eq!(
        json.header("Accept-Post"),
        Some("application/x-www-form-urlencoded")
    );
    let huge = "a".repeat(70_000);
    submit(&app, &path, &[("note", &huge)])
        .await
        .problem(413, "body_too_large");
    submit(&app, &path, &[("note", "x")])
        .await
        .problem(400, "bad_request");
    let raw = stranger.call(Method::POST, &path);
    let raw = raw.header("Content-Type", "application/x-www-form-urlencoded");
    raw.bytes([0xff, 0xfe])
        .answer()
        .await
        .problem(400, "bad_request");
    stranger
        .call(Method::DELETE, &path)
        .answer()
        .await
        .problem(405, "method_not_allowed");
}

//! Limits of callers and of time: who asks too often, fails too often or is too slow is told so, and nobody else suffers.

use std::time::{Duration, Instant};

use chrono::TimeDelta;
use serde_json::json;
use tests::{
    app::{NORTH, SOUTH, TestApp},
    build,
    client::Answer,
    inbound::{Sender, event},
    raw::speak,
};

#[tokio::test]
async fn s_088_who_asks_too_often_waits_and_no_other_tenant_does() {
    let limits = [
        ("WEARCOURSE_RATE_PER_S", "50"),
        ("WEARCOURSE_RATE_BURST", "100"),
    ];
    let app = TestApp::start_as(&limits, |_| {}).await;
    let (north, south) = (app.admin_of(NORTH), app.admin_of(SOUTH));
    for _ in 0..100 {
        let _in_time = north.get("/v1/contractors").await.must(200);
    }
    let late = north.get("/v1/contractors").await;
    late.problem(429, "rate_limited");
    assert_eq!(late.header("Retry-After"), Some("1"));
    // Another token of the same tenant, another route and a route that it may not use: one limit for all.
    let narrow = app.as_(NORTH, &["sites:read"]);
    for path in ["/v1/sites", "/v1/contractors"] {
        narrow.get(path).await.problem(429, "rate_limited");
    }
    let _other = south.get("/v1/contractors").await.must(200);
    let _health = north.get("/livez").await.must(200);
    app.clock().advance(TimeDelta::seconds(1));
    let mut n_served = 0;
    while north.get("/v1/contractors").await.status == 200 {
        n_served += 1;
    }
    assert_eq!(n_served, 50);
}

/// A GET with a token that is none, and a header of a proxy.
async fn fail(app: &TestApp, forwarded_for: &str) -> Answer {
    let caller = app.with_token("a.b.c");
    let call = caller.call(reqwest::Method::GET, "/v1/contractors");
    call.header("X-Forwarded-For", forwarded_for).answer().await
}

#[tokio::test]
async fn s_089_failures_of_one_source_are_counted_whatever_it_says_of_itself() {
    let limits = [("WEARCOURSE_FAILED_AUTH_PER_MIN", "10")];
    let app = TestApp::start_as(&limits, |_| {}).await;
    for n in 0..10 {
        let refused = fail(&app, &format!("203.0.113.{n}")).await;
        refused.problem(401, "invalid_token");
    }
    let barred = fail(&app, "203.0.113.200").await;
    barred.problem(429, "too_many_failures");
    assert_eq!(barred.header("Retry-After"), Some("7"));
    assert_eq!(barred.header("WWW-Authenticate"), None);
    // A good token from there is let in, and asking without one is no failure.
    let _good = app.admin().get("/v1/contractors").await.must(200);
    let without = app.stranger().get("/v1/contractors").await;
    without.problem(401, "token_required");
    app.clock().advance(TimeDelta::seconds(6));
    fail(&app, "").await.problem(401, "invalid_token");
    fail(&app, "").await.problem(429, "too_many_failures");
}

#[tokio::test]
async fn s_089_a_trusted_proxy_says_whose_failures_they_are() {
    let limits = [
        ("WEARCOURSE_FAILED_AUTH_PER_MIN", "2"),
        ("WEARCOURSE_TRUSTED_PROXIES", "127.0.0.0/8"),
    ];
    let app = TestApp::start_as(&limits, |_| {}).await;
    for source in ["203.0.113.1", "203.0.113.2"] {
        for _ in 0..2 {
            fail(&app, source).await.problem(401, "invalid_token");
        }
        // What the sender wrote before the proxy added his address counts for nothing.
        let barred = fail(&app, &format!("198.51.100.1, {source}")).await;
        barred.problem(429, "too_many_failures");
    }
}

#[tokio::test]
async fn s_089_forged_messages_count_as_failures_and_proven_ones_for_their_tenant() {
    let limits = [
        ("WEARCOURSE_FAILED_AUTH_PER_MIN", "2"),
        ("WEARCOURSE_RATE_PER_S", "1"),
        ("WEARCOURSE_RATE_BURST", "4"),
    ];
    let app = TestApp::start_as(&limits, |_| {}).await;
    let admin = app.admin();
    let contractor = build::new_contractor(&admin).await;
    let sender = Sender::new(&app, &admin, &contractor).await;
    let data = json!({"external": {"system": "crew", "id": "1"}});
    let voided = event("completion.voided", 0, &data);
    let body = voided.to_string();
    for _ in 0..2 {
        let forged = sender.unsigned(&sender.path, &body).answer().await;
        forged.problem(401, "not_proven");
    }
    let barred = sender.unsigned(&sender.path, &body).answer().await;
    barred.problem(429, "too_many_failures");
    // Registering and making the source took two of the tenant's four.
    for n in 0..2 {
        let _taken = sender
            .send(&app, &format!("e-{n}"), &voided)
            .await
            .must(200);
    }
    let late = sender.send(&app, "e-2", &voided).await;
    late.problem(429, "rate_limited");
}

/// An hour: whatever is not cut short below does not end within a test.
const LONG: Duration = Duration::from_hours(1);

#[tokio::test]
async fn s_086_a_head_that_does_not_end_is_given_up() {
    let app = TestApp::start_as(&[], |config| {
        config.http.deadlines.head = Duration::from_millis(200);
        config.http.deadlines.body = LONG;
    })
    .await;
    let started = Instant::now();
    let heard = speak(&app, "GET /livez HTTP/1.1\r\nHost: a\r\nX: ", None).await;
    let took = started.elapsed();
    assert!(heard.starts_with("HTTP/1.1 408 "), "{heard}");
    assert!(took >= Duration::from_millis(150), "{took:?}");
}

#[tokio::test]
async fn s_086_a_body_that_does_not_end_is_given_up() {
    let app = TestApp::start_as(&[], |config| {
        config.http.deadlines.body = Duration::from_millis(200);
        config.http.deadlines.handler = LONG;
        config.http.deadlines.long = LONG;
    })
    .await;
    let token = app.token(NORTH);
    let head = format!(
        "POST /v1/contractors HTTP/1.1\r\nHost: a\r\nAuthorization: Bearer {token}\r\n\
         Content-Type: application/json\r\nContent-Length: 100\r\n\r\n{{"
    );
    let started = Instant::now();
    let answer = speak(&app, &head, Some("within 0.2 seconds")).await;
    let took = started.elapsed();
    assert!(answer.starts_with("HTTP/1.1 408 "), "{answer}");
    assert!(answer.contains("within 0.2 seconds"), "{answer}");
    assert!(took >= Duration::from_millis(150), "{took:?}");
}

#[tokio::test]
async fn an_answer_that_takes_too_long_is_given_up_and_a_report_may_take_longer() {
    let app = TestApp::start_as(&[], |config| {
        config.http.deadlines.handler = Duration::ZERO;
    })
    .await;
    let slow = app
        .admin()
        .post("/v1/contractors", &json!({"name": "Crew"}))
        .await;
    slow.problem(503, "timed_out");
    assert_eq!(slow.header("Retry-After"), Some("1"));
    let path = "/v1/reports/costs?from=2026-05&to=2026-06";
    let _long = app.admin().get(path).await.must(200);
}

//! The database goes away, or has no connection to spare: the answer is 503, and all is well once it is back.

use tests::{app::TestApp, client::Answer};

/// Who asks is told to ask again, and learns nothing of why.
#[track_caller]
fn is_unavailable(answer: &Answer) {
    answer.problem(503, "unavailable");
    assert_eq!(answer.header("Retry-After"), Some("1"));
    let text = answer.text().to_lowercase();
    for inside in ["sql", "pool", "connect", "postgres", "127.0.0.1"] {
        assert!(!text.contains(inside), "{text}");
    }
}

#[tokio::test]
async fn f_20_a_database_that_is_away_is_told_and_used_again_when_it_is_back() {
    let Some((link, app)) = TestApp::start_on_a_line().await else {
        return;
    };
    let admin = app.admin();
    let _before = admin.get("/v1/contractors").await.must(200);
    link.cut();
    for _ in 0..3 {
        is_unavailable(&admin.get("/v1/contractors").await);
        is_unavailable(
            &admin
                .post("/v1/contractors", &serde_json::json!({"name": "Crew"}))
                .await,
        );
        let _live = admin.get("/livez").await.must(200);
    }
    while admin.get("/readyz").await.status != 503 {}
    link.mend();
    while admin.get("/readyz").await.status != 200 {}
    let _after = admin.get("/v1/contractors").await.must(200);
    let _kept = admin
        .post("/v1/contractors", &serde_json::json!({"name": "Crew"}))
        .await
        .must(201);
}

#[tokio::test]
async fn f_22_a_pool_that_is_used_up_is_told_after_two_seconds() {
    let app = TestApp::start().await;
    let (north, mut held) = (app.tenant("north"), Vec::new());
    // A file has one writer; the pool of a server's connections is small in tests.
    let n = if app.is_server() { 5 } else { 1 };
    for _ in 0..n {
        held.push(app.store().begin(north).await.unwrap());
    }
    let body = serde_json::json!({"name": "Crew"});
    let started = std::time::Instant::now();
    let late = app.admin().post("/v1/contractors", &body).await;
    assert_eq!(late.status, 503, "{}", late.text());
    assert_eq!(late.header("Retry-After"), Some("1"));
    assert!(started.elapsed().as_secs_f64() > 1.9);
    let _live = app.admin().get("/livez").await.must(200);
    drop(held);
    let _later = app.admin().post("/v1/contractors", &body).await.must(201);
}

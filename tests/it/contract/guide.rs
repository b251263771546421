//! The page to begin with says what the service does.

use serde_json::Value;
use tests::app::TestApp;

use super::{openapi::must_fit, operation::all};

async fn guided() -> TestApp {
    TestApp::start_as(&[("WEARCOURSE_DOCS", "on")], |_config| {}).await
}

#[tokio::test]
async fn the_guide_names_every_operation_problem_and_event_and_runs_nothing() {
    let app = guided().await;
    let stranger = app.stranger();
    let page = stranger.get("/guide").await.must(200);
    assert_eq!(
        page.header("Content-Type"),
        Some("text/html; charset=utf-8")
    );
    let policy = page.header("Content-Security-Policy").unwrap();
    assert!(
        policy.starts_with("default-src 'none'; style-src 'sha256-"),
        "{policy}"
    );
    let html = page.text();
    assert!(!html.contains("<script"));
    let document = stranger.get("/openapi.json").await.must(200).json();
    let events = document["webhooks"].as_object().unwrap();
    let mut missing: Vec<String> = events
        .keys()
        .filter(|kind| !html.contains(&format!("<code>{kind}</code>")))
        .cloned()
        .collect();
    for operation in all() {
        if !html.contains(&format!("<code>{}</code>", operation.path)) {
            missing.push(operation.place());
        }
    }
    let codes = &document["components"]["schemas"]["ProblemCode"]["enum"];
    for code in codes.as_array().unwrap() {
        if !html.contains(&format!("href=\"/problems/{}\"", code.as_str().unwrap())) {
            missing.push(code.to_string());
        }
    }
    assert!(missing.is_empty(), "{missing:?}");
    let said = html.matches("<code>").count();
    assert!(said > 300 && !html.contains("null</code></pre>"), "{said}");
}

#[tokio::test]
async fn the_event_of_the_guide_is_one_that_the_service_may_send() {
    let app = guided().await;
    let document = app.stranger().get("/openapi.json").await.must(200).json();
    let event: Value =
        serde_json::from_str(include_str!("../../../api/src/guide/event.json")).unwrap();
    let kind = event["type"].as_str().unwrap();
    let content = &document["webhooks"][kind]["post"]["requestBody"]["content"];
    let schema = &content["application/cloudevents+json"]["schema"];
    assert!(schema.is_object(), "{kind}");
    must_fit(&document, schema, &event, kind);
}

#[tokio::test]
async fn s_107_the_guide_is_shown_only_where_the_description_is() {
    let app = TestApp::start().await;
    let _none = app.stranger().get("/guide").await.must(404);
}

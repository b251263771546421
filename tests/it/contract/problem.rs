//! Refusals that no handler makes: they too are problems, and tell nothing of what is inside.

use std::collections::BTreeSet;

use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    app::TestApp,
    client::{Answer, Call},
};

/// Words that no answer may hold: they are of our insides.
const INSIDE: [&str; 12] = [
    "panick", "sqlx", "sea_orm", "sea-orm", "actix", "sqlite", "postgres", ".rs:", "serde",
    "api::", "infra", "SELECT",
];

/// The headers of every answer.
#[track_caller]
fn is_secured(answer: &Answer) {
    for (name, value) in [
        ("X-Content-Type-Options", "nosniff"),
        ("Referrer-Policy", "no-referrer"),
        (
            "Content-Security-Policy",
            "default-src 'none'; frame-ancestors 'none'",
        ),
        ("Cache-Control", "no-store"),
    ] {
        assert_eq!(
            answer.header(name),
            Some(value),
            "{name} of {}",
            answer.text()
        );
    }
    for name in ["Server", "X-Powered-By"] {
        assert_eq!(answer.header(name), None, "{name}");
    }
}

#[track_caller]
fn is_problem(answer: &Answer, status: u16, code: &str) -> Value {
    let told = answer.problem(status, code);
    is_secured(answer);
    let text = answer.text();
    assert!(INSIDE.iter().all(|word| !text.contains(word)), "{text}");
    let id = answer.header("X-Request-Id").unwrap();
    assert_eq!(told["request_id"], id, "{text}");
    assert!(
        told["instance"].as_str().unwrap().starts_with("urn:uuid:"),
        "{text}"
    );
    told
}

async fn post(app: &TestApp, make: impl FnOnce(Call) -> Call) -> Answer {
    make(app.admin().call(Method::POST, "/v1/contractors"))
        .answer()
        .await
}

#[tokio::test]
async fn what_is_not_there_is_a_problem() {
    let app = TestApp::start().await;
    for path in [
        "/",
        "/v1",
        "/v1/",
        "/v2/sites",
        "/v1/sites/",
        "/v1/sites/a/b",
        "/favicon.ico",
        "/%00",
        "/v1/%2e%2e/x",
    ] {
        let answer = app.admin().get(path).await;
        is_problem(&answer, 404, "not_found");
        let answer = app.stranger().get(path).await;
        is_problem(&answer, 404, "not_found");
    }
}

#[tokio::test]
async fn another_method_is_a_problem() {
    let app = TestApp::start().await;
    for verb in [Method::PUT, Method::DELETE, Method::PATCH, Method::TRACE] {
        let answer = app.admin().call(verb, "/v1/contractors").answer().await;
        is_problem(&answer, 405, "method_not_allowed");
        assert_eq!(answer.header("Allow"), Some("POST, GET, HEAD, OPTIONS"));
    }
}

#[tokio::test]
async fn s_080_a_body_that_is_too_large_is_refused_at_its_first_byte_too_many() {
    let app = TestApp::start().await;
    let body = |n: usize| {
        let frame = json!({"name": ""}).to_string().len();
        json!({"name": "x".repeat(n - frame)}).to_string()
    };
    let limit = 256 * 1024;
    let fits = post(&app, |call| {
        call.header("Content-Type", "application/json")
            .bytes(body(limit))
    })
    .await;
    is_problem(&fits, 422, "invalid_body");
    let over = post(&app, |call| {
        call.header("Content-Type", "application/json")
            .bytes(body(limit + 1))
    })
    .await;
    is_problem(&over, 413, "body_too_large");
}

#[tokio::test]
async fn s_081_another_kind_of_body_is_refused_unread() {
    let app = TestApp::start().await;
    let body = json!({"name": "Crew"}).to_string();
    for kind in [
        "text/plain",
        "application/xml",
        "application/json; charset=latin1",
        "application/merge-patch+json",
        "json",
    ] {
        let answer = post(&app, |call| {
            call.header("Content-Type", kind).bytes(body.clone())
        })
        .await;
        is_problem(&answer, 415, "unsupported_media_type");
        assert_eq!(
            answer.header("Accept-Post"),
            Some("application/json"),
            "{kind}"
        );
    }
    let bare = post(&app, |call| call.bytes(body.clone())).await;
    is_problem(&bare, 415, "unsupported_media_type");
    for coding in ["gzip", "br", "deflate", "zstd", "identity, gzip"] {
        let call = |call: Call| {
            call.header("Content-Encoding", coding)
                .json(&json!({"name": "Crew"}))
        };
        let answer = post(&app, call).await;
        is_problem(&answer, 415, "unsupported_media_type");
    }
}

#[tokio::test]
async fn s_118_what_is_not_json_is_refused() {
    let app = TestApp::start().await;
    let deep = |n: usize| format!("{}{}", "[".repeat(n), "]".repeat(n)).into_bytes();
    let malformed: Vec<Vec<u8>> = vec![
        b"".to_vec(),
        b"{".to_vec(),
        b"{\"name\": \"Crew\"} x".to_vec(),
        b"{\"name\": 'Crew'}".to_vec(),
        b"{\"name\": \"\xff\"}".to_vec(),
        b"\xef\xbb\xbf{\"name\": \"Crew\"}".to_vec(),
        b"{\"name\": NaN}".to_vec(),
        b"{\"name\": \"\\ud800\"}".to_vec(),
        deep(33),
        deep(100_000),
    ];
    for body in malformed {
        let shown = String::from_utf8_lossy(&body[..body.len().min(40)]).into_owned();
        let answer = post(&app, |call| {
            call.header("Content-Type", "application/json").bytes(body)
        })
        .await;
        assert_eq!(answer.status, 400, "{shown}: {}", answer.text());
        is_problem(&answer, 400, "malformed_json");
    }
    let twice = b"{\"name\": \"A\", \"name\": \"B\"}".to_vec();
    let answer = post(&app, |call| {
        call.header("Content-Type", "application/json").bytes(twice)
    })
    .await;
    is_problem(&answer, 400, "duplicate_member");
    assert_eq!(
        answer.faults(),
        [("#/name".to_owned(), "duplicate_member".to_owned())]
    );
}

#[tokio::test]
async fn a_token_that_is_not_accepted_is_refused_in_one_text_for_every_reason() {
    let app = TestApp::start().await;
    let get = async |token: &str| {
        let call = app.stranger().call(Method::GET, "/v1/contractors");
        call.header("Authorization", &format!("Bearer {token}"))
            .answer()
            .await
    };
    let mut texts = BTreeSet::new();
    let long = "x".repeat(9_000);
    for token in ["x", "a.b.c", "eyJhbGciOiJub25lIn0.e30.", &long] {
        let answer = get(token).await;
        let mut told = is_problem(&answer, 401, "invalid_token");
        let challenge = answer.header("WWW-Authenticate").unwrap();
        assert_eq!(
            challenge,
            "Bearer realm=\"wearcourse\", error=\"invalid_token\""
        );
        for member in ["request_id", "instance"] {
            told.as_object_mut().unwrap().remove(member);
        }
        texts.insert(told.to_string());
    }
    let unknown_tenant = app
        .as_("nobody", &["contractors:read"])
        .get("/v1/contractors")
        .await;
    is_problem(&unknown_tenant, 401, "invalid_token");
    assert_eq!(texts.len(), 1);
    let basic = app
        .stranger()
        .call(Method::GET, "/v1/contractors")
        .header("Authorization", "Basic eDp5");
    is_problem(&basic.answer().await, 401, "token_required");
}

#[tokio::test]
async fn a_token_ends_with_its_day() {
    let app = TestApp::start().await;
    let caller = app.admin();
    app.clock().advance(chrono::TimeDelta::hours(24));
    let _still = caller.get("/v1/contractors").await.must(200);
    app.clock().advance(chrono::TimeDelta::seconds(31));
    is_problem(&caller.get("/v1/contractors").await, 401, "invalid_token");
}

#[tokio::test]
async fn every_code_has_a_page_that_says_what_to_do() {
    let app = TestApp::start().await;
    for code in api::Code::ALL {
        let page = app
            .stranger()
            .get(&format!("/problems/{}", code.as_str()))
            .await
            .must(200);
        is_secured(&page);
        let text = page.text();
        assert!(
            text.contains(code.title()) && text.contains(code.remedy()),
            "{text}"
        );
    }
    is_problem(
        &app.stranger().get("/problems/nonsense").await,
        404,
        "not_found",
    );
}

#[tokio::test]
async fn the_name_of_a_request_is_kept_and_a_bad_one_replaced() {
    let app = TestApp::start().await;
    let get = async |id: &str| {
        let call = app
            .stranger()
            .call(Method::GET, "/v1/sites")
            .header("X-Request-Id", id);
        call.answer().await
    };
    let named = get("job-7.2").await;
    assert_eq!(named.json()["request_id"], "job-7.2");
    let long = "x".repeat(500);
    for bad in ["a b", "<script>", &long] {
        let answer = get(bad).await;
        assert_ne!(answer.json()["request_id"], bad);
        is_problem(&answer, 401, "token_required");
    }
}

//! Hostile requests that no single resource is to blame for.

use chrono::TimeDelta;
use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    app::{NORTH, SOUTH, TestApp},
    build,
    inbound::{Sender, event},
    raw::speak,
};

use super::operation::{Estate, guarded, parameters};

#[tokio::test]
async fn s_002_a_child_is_not_found_below_another_tenants_parent_nor_the_other_way_round() {
    let app = TestApp::start().await;
    let (north, south) = (app.admin_of(NORTH), app.admin_of(SOUTH));
    let norths = Estate::new(north.clone()).await;
    let souths = Estate::new(south.clone()).await;
    let mut n = 0;
    for operation in guarded() {
        let names: Vec<&str> = parameters(&operation.path).collect();
        let [parent, child] = names.as_slice() else {
            continue;
        };
        let path = |parents: &Estate, children: &Estate| {
            let path = operation
                .path
                .replace(&format!("{{{parent}}}"), parents.id(parent));
            path.replace(&format!("{{{child}}}"), children.id(child))
        };
        for caller in [&north, &south] {
            for (parents, children) in [(&norths, &souths), (&souths, &norths)] {
                let path = path(parents, children);
                let own = souths.call_at(caller, &operation, &path);
                own.answer().await.problem(404, "not_found");
                n += 1;
            }
        }
        // The control: with its own parent it is there.
        if operation.verb == Method::GET {
            let _there = north.get(&path(&norths, &norths)).await.must(200);
        }
    }
    assert!(n >= 4, "{n} nested paths were tried");
}

#[tokio::test]
async fn s_005_what_is_another_tenants_is_not_found_in_a_batch_of_many() {
    let app = TestApp::start().await;
    let (north, south) = (app.admin_of(NORTH), app.admin_of(SOUTH));
    let (norths, souths) = (build::new_site(&north).await, build::new_site(&south).await);
    let item = |n: usize| {
        let site = if n == 617 { &norths } else { &souths };
        build::with(
            build::surface(site),
            json!({"external": {"system": "estate", "id": format!("r-{n}")}}),
        )
    };
    let items: Vec<Value> = (0..1_000).map(item).collect();
    let batch = json!({"mode": "atomic", "items": items});
    let refused = south.record("/v1/surfaces/batch", &batch).await;
    refused.problem(422, "invalid_body");
    assert!(
        refused.text().contains("/617/"),
        "{}",
        &refused.text()[..500.min(refused.body.len())]
    );
    for caller in [&north, &south] {
        let kept = caller.get("/v1/surfaces?limit=1").await.must(200).json();
        assert_eq!(kept["items"], json!([]));
    }
}

#[tokio::test]
async fn s_016_an_erased_tenants_tokens_and_sources_open_nothing() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let contractor = build::new_contractor(&admin).await;
    let sender = Sender::new(&app, &admin, &contractor).await;
    let data = json!({"external": {"system": "crew", "id": "1"}});
    let voided = event("completion.voided", 0, &data);
    let _before = sender.send(&app, "evt-1", &voided).await.must(200);
    app.erase_tenant(NORTH).await;
    // A tenant is believed for half a minute.
    app.clock().advance(TimeDelta::seconds(31));
    admin
        .get("/v1/contractors")
        .await
        .problem(401, "invalid_token");
    let after = sender.send(&app, "evt-2", &voided).await;
    after.problem(401, "not_proven");
    let _others = app.admin_of(SOUTH).get("/v1/contractors").await.must(200);
}

#[tokio::test]
async fn s_031_a_token_is_read_in_one_place_only() {
    let app = TestApp::start().await;
    let token = app.token(NORTH);
    let ask = |path: &str| app.stranger().call(Method::GET, path);
    let path = "/v1/contractors";
    for query in ["access_token", "token", "authorization"] {
        let answer = ask(&format!("{path}?{query}={token}")).answer().await;
        answer.problem(401, "token_required");
        assert!(!answer.text().contains(&token[..20]));
    }
    let cookie = ask(path).header(
        "Cookie",
        &format!("Authorization=Bearer {token}; token={token}"),
    );
    cookie.answer().await.problem(401, "token_required");
    for scheme in ["Basic", "Token", "Bearer,", "DPoP"] {
        let other = ask(path).header("Authorization", &format!("{scheme} {token}"));
        other.answer().await.problem(401, "token_required");
    }
    let one = format!("Bearer {token}");
    let doubled = ask(path)
        .header("Authorization", &one)
        .header("Authorization", &one);
    doubled.answer().await.problem(400, "bad_request");
    let long = ask(path).header("Authorization", &format!("Bearer {}", "x".repeat(8_192)));
    long.answer().await.problem(401, "invalid_token");
    // The control: in its place it is good.
    let _good = ask(path)
        .header("Authorization", &one)
        .answer()
        .await
        .must(200);
}

#[tokio::test]
async fn s_082_deep_wide_and_long_json_is_refused() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let nested = |n: usize| format!("{}1{}", "{\"a\":".repeat(n), "}".repeat(n));
    let wide: Vec<String> = (0..20_000).map(|n| format!("\"k{n}\":1,")).collect();
    let wide = wide.concat();
    let key = "k".repeat(200_000);
    for (body, status, code) in [
        (nested(33), 400, "malformed_json"),
        (nested(128), 400, "malformed_json"),
        (nested(20_000), 400, "malformed_json"),
        (format!("{{{wide}\"name\":\"A\"}}"), 422, "invalid_body"),
        (format!("{{\"{key}\":1}}"), 422, "invalid_body"),
        (
            format!("{{\"name\":\"A\",\"{key}{key}\":1}}"),
            413,
            "body_too_large",
        ),
    ] {
        let call = admin.call(Method::POST, "/v1/contractors");
        let call = call.header("Content-Type", "application/json").bytes(body);
        call.answer().await.problem(status, code);
    }
    let site = build::new_site(&admin).await;
    let items: Vec<Value> = (0..1_001).map(|_| build::surface(&site)).collect();
    let many = admin
        .record(
            "/v1/surfaces/batch",
            &json!({"mode": "atomic", "items": items}),
        )
        .await;
    many.problem(422, "invalid_body");
}

#[tokio::test]
async fn s_103_a_path_that_is_written_otherwise_is_another_path() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let estate = Estate::new(admin.clone()).await;
    for operation in guarded()
        .iter()
        .filter(|operation| operation.verb == Method::GET)
    {
        let path = estate.path(operation);
        let (_, tail) = path.split_once("/v1/").unwrap();
        let (head, last) = path.rsplit_once('/').unwrap();
        for other in [
            format!("/{path}"),
            format!("{path}/"),
            format!("{path};x=1"),
            format!("{path}%00"),
            format!("{path}%2f"),
            format!("/v1/%2e/{tail}"),
            format!("/v1/%2e%2e/v1/{tail}"),
            format!("/V1/{tail}"),
            format!("{head}%2F{last}"),
        ] {
            for token in [Some(app.token(NORTH)), None] {
                let is_stranger = token.is_none();
                let answer = raw(&app, token, &other).await;
                let status: u16 = answer.get(9..12).unwrap_or_default().parse().unwrap();
                // As a parameter of its own path it may be looked at, and then a stranger is one.
                let is_right = [400, 404].contains(&status) || (status == 401 && is_stranger);
                assert!(is_right, "{other}: {answer}");
            }
        }
    }
}

/// The head and body of the answer to a GET of a path that no client library tidies up.
async fn raw(app: &TestApp, token: Option<String>, path: &str) -> String {
    let token = token.map_or(String::new(), |token| {
        format!("Authorization: Bearer {token}\r\n")
    });
    let request = format!("GET {path} HTTP/1.1\r\nHost: a\r\nConnection: close\r\n{token}\r\n");
    speak(app, &request, None).await
}

#[tokio::test]
async fn s_104_no_other_origin_is_let_read_anything() {
    let app = TestApp::start().await;
    for origin in [
        "null",
        "https://care.test",
        "https://care.test.evil.test",
        "http://127.0.0.1",
    ] {
        for (verb, path) in [
            (Method::GET, "/v1/contractors"),
            (Method::OPTIONS, "/v1/contractors"),
            (Method::GET, "/livez"),
            (Method::GET, "/openapi.json"),
        ] {
            let call = app.admin().call(verb, path).header("Origin", origin);
            let answer = call
                .header("Access-Control-Request-Method", "POST")
                .answer()
                .await;
            let told = answer
                .headers
                .keys()
                .find(|name| name.as_str().starts_with("access-control"));
            assert_eq!(told, None, "{origin} {path}");
        }
    }
}

#[tokio::test]
async fn s_105_every_answer_has_the_headers_of_all() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let mut answers = vec![
        admin.get("/nowhere").await,
        app.stranger().get("/v1/sites").await,
    ];
    let estate = Estate::new(admin.clone()).await;
    for operation in guarded()
        .iter()
        .filter(|operation| operation.verb == Method::GET)
    {
        answers.push(estate.call(&admin, operation).answer().await.must(200));
    }
    answers.push(
        admin
            .call(Method::TRACE, "/v1/sites")
            .answer()
            .await
            .must(405),
    );
    for answer in answers {
        let header = |name: &str| answer.header(name).unwrap_or_default().to_owned();
        assert_eq!(header("X-Content-Type-Options"), "nosniff");
        // The page of a job sheet may look as it does, by the hash of its style.
        let csp = header("Content-Security-Policy");
        let (first, last) = ("default-src 'none'; ", "frame-ancestors 'none'");
        assert!(csp.starts_with(first) && csp.ends_with(last) && !csp.contains("unsafe"));
        let cache = if answer.header("ETag").is_some() {
            "private, no-cache"
        } else {
            "no-store"
        };
        assert_eq!(header("Cache-Control"), cache);
        assert!(!header("Content-Type").is_empty() && !header("X-Request-Id").is_empty());
        for name in ["Server", "X-Powered-By", "Via"] {
            assert_eq!(answer.header(name), None, "{name}");
        }
    }
}

//! Who may call what: every operation, without a token, without its scope, and for another tenant's records.

use reqwest::Method;
use tests::{
    app::{NORTH, SOUTH, TestApp},
    client::Caller,
};

use super::bare::bare;
use super::operation::{
    Estate, Operation, all, guarded, nobodys_path, parameter, parameters, send,
};

/// A path of the operation that looks like one of its own; nobody gets far enough to see that the id is nobody's.
fn some_path(path: &str) -> String {
    nobodys_path(path).unwrap_or_else(|| path.to_owned())
}

#[tokio::test]
async fn s_009_without_a_token_every_operation_asks_for_one() {
    let app = TestApp::start().await;
    for operation in guarded() {
        let place = operation.place();
        let answer = app
            .stranger()
            .call(operation.verb.clone(), &some_path(&operation.path))
            .answer()
            .await;
        answer.problem(401, "token_required");
        assert_eq!(
            answer.header("WWW-Authenticate"),
            Some("Bearer realm=\"wearcourse\""),
            "{place}"
        );
    }
}

#[tokio::test]
async fn s_009_every_scope_but_its_own_opens_no_operation() {
    let app = TestApp::start().await;
    for operation in guarded() {
        let place = operation.place();
        let own = operation.scope.unwrap();
        let others: Vec<&str> = api::SCOPES
            .iter()
            .map(|scope| scope.name)
            .filter(|name| *name != own)
            .collect();
        let caller = app.as_(NORTH, &others);
        let answer = caller
            .call(operation.verb.clone(), &some_path(&operation.path))
            .answer()
            .await;
        answer.problem(403, "insufficient_scope");
        let challenge = answer.header("WWW-Authenticate").unwrap();
        let expected = format!("error=\"insufficient_scope\", scope=\"{own}\"");
        assert!(challenge.ends_with(&expected), "{place}: {challenge}");
    }
}

#[tokio::test]
async fn s_009_its_own_scope_alone_opens_each_operation() {
    let app = TestApp::start().await;
    let estate = Estate::new(app.admin()).await;
    for (n, operation) in guarded().into_iter().enumerate() {
        let caller = app.as_(NORTH, &[operation.scope.unwrap()]);
        let call = estate.call(&caller, &operation);
        let answer = call
            .header("Idempotency-Key", &n.to_string())
            .answer()
            .await;
        assert!(
            (200..300).contains(&answer.status),
            "{}: {}",
            operation.place(),
            answer.text()
        );
    }
}

#[tokio::test]
async fn s_001_what_belongs_to_another_tenant_is_not_there() {
    let app = TestApp::start().await;
    let (north, south) = (app.admin(), app.admin_of(SOUTH));
    let norths = Estate::new(north.clone()).await;
    let souths = Estate::new(south.clone()).await;
    let before = everything(&north, &norths).await;
    let mut n = 0;
    for operation in guarded() {
        let Some(nobodys) = nobodys_path(&operation.path) else {
            continue;
        };
        let is_product = operation.path.starts_with("/v1/products/");
        if !is_product && parameter(&operation.path).is_some_and(|(_, name)| name == "key") {
            // What is known of floors is the same for every tenant.
            continue;
        }
        let mut call = async |path: &str| {
            n += 1;
            let call = souths.call_at(&south, &operation, path);
            let call = call.header("Idempotency-Key", &n.to_string());
            call.answer().await
        };
        let (foreign, unknown) = (call(&norths.path(&operation)).await, call(&nobodys).await);
        foreign.problem(404, "not_found");
        assert_eq!(bare(&foreign), bare(&unknown), "{}", operation.place());
    }
    assert!(n > 0);
    assert_eq!(everything(&north, &norths).await, before);
}

/// The bytes of every record of an estate, by its path.
async fn everything(caller: &Caller, estate: &Estate) -> Vec<(String, String)> {
    let mut found = Vec::new();
    for operation in guarded()
        .iter()
        .filter(|o| o.verb == Method::GET && o.path.ends_with("_id}"))
    {
        let path = estate.path(operation);
        let text = caller.get(&path).await.must(200).text();
        found.push((path, text));
    }
    assert!(found.len() >= 6);
    found
}

#[tokio::test]
async fn s_004_a_filter_by_another_tenants_record_finds_nothing() {
    let app = TestApp::start().await;
    let norths = Estate::new(app.admin()).await;
    let south = app.admin_of(SOUTH);
    let _own = Estate::new(south.clone()).await;
    for (path, filters) in [
        ("/v1/surfaces?", vec!["site_id"]),
        ("/v1/plans?", vec!["site_id", "surface_id"]),
        ("/v1/estimates?", vec!["site_id"]),
        ("/v1/deliveries?", vec!["subscription_id"]),
        ("/v1/rates/learnt?", vec!["site_id"]),
        (
            "/v1/readings?",
            vec!["site_id", "surface_id", "completion_id"],
        ),
        (
            "/v1/completions?",
            vec!["site_id", "surface_id", "plan_id", "contractor_id"],
        ),
        (
            "/v1/reports/costs?from=2026-01&to=2027-01&",
            vec!["site_id", "surface_id", "contractor_id"],
        ),
        (
            "/v1/reports/costs/completions?from=2026-01&to=2027-01&",
            vec!["site_id", "surface_id", "contractor_id"],
        ),
    ] {
        for filter in filters {
            let path = format!("{path}{filter}={}", norths.id(filter));
            let told = south.get(&path).await.must(200).json();
            for list in ["items", "rows", "totals"] {
                let found = told[list].as_array().map_or(0, Vec::len);
                assert_eq!(found, 0, "{path}: {told:#}");
            }
        }
    }
}

#[tokio::test]
async fn s_008_no_header_says_whose_records_they_are() {
    let app = TestApp::start().await;
    let norths = Estate::new(app.admin()).await;
    let path = format!("/v1/sites/{}", norths.id("site_id"));
    for (name, value) in [
        ("X-Tenant-Id", NORTH),
        ("X-Tenant", NORTH),
        ("X-User-Id", "tester"),
        ("X-Original-Url", "/v1/contractors"),
    ] {
        let call = app
            .admin_of(SOUTH)
            .call(Method::GET, &path)
            .header(name, value);
        call.answer().await.problem(404, "not_found");
    }
    let call = app
        .admin()
        .call(Method::POST, &path)
        .header("X-HTTP-Method-Override", "PATCH");
    call.answer().await.problem(405, "method_not_allowed");
}

#[tokio::test]
async fn what_is_no_id_of_its_kind_names_nothing() {
    const BAD: [&str; 6] = [
        "x",
        "%00",
        "srf_",
        "0193e8a0-0000-7000-8000-00000000dead",
        "..%2Fsites",
        "%F0%9F%A6%80",
    ];
    let app = TestApp::start().await;
    let admin = app.admin();
    let estate = Estate::new(admin.clone()).await;
    for operation in guarded() {
        for (name, bad) in parameters(&operation.path).flat_map(|name| BAD.map(|bad| (name, bad))) {
            let path = estate.fill(&operation.path.replace(&format!("{{{name}}}"), bad));
            let call = estate
                .call_at(&admin, &operation, &path)
                .header("Idempotency-Key", bad);
            let answer = call.answer().await;
            assert!(
                matches!(answer.status, 400 | 404),
                "{} {bad}: {}",
                operation.place(),
                answer.text()
            );
        }
    }
}

#[tokio::test]
async fn a_change_needs_the_version_that_it_changes() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let mut n = 0;
    for operation in guarded().into_iter().filter(Operation::is_change) {
        let estate = Estate::new(admin.clone()).await;
        let path = estate.path(&operation);
        let record = if operation.is_step() {
            path.rsplit_once('/').unwrap().0
        } else {
            path.as_str()
        };
        let change = async |version: Option<&str>| {
            let mut call = admin.call(operation.verb.clone(), &path);
            if operation.has_body() {
                call = call.merge_patch(&estate.body(&operation));
            }
            if let Some(version) = version {
                call = call.header("If-Match", version);
            }
            call.answer().await
        };
        change(None).await.problem(428, "precondition_required");
        for stale in ["\"99.json\"", "\"0.json\"", "W/\"1.json\"", "1"] {
            change(Some(stale)).await.problem(412, "stale_version");
        }
        let version = admin.get(record).await.must(200).etag();
        assert_eq!(version, "\"1.json\"", "{}", operation.place());
        n += 1;
        if operation.verb == Method::DELETE {
            let _gone = change(Some(&version)).await.must(204);
            admin.get(record).await.problem(404, "not_found");
            continue;
        }
        let changed = change(Some(&version)).await.must(200);
        assert_eq!(changed.etag(), "\"2.json\"");
        change(Some(&version)).await.problem(412, "stale_version");
        assert_eq!(admin.get(record).await.must(200).body, changed.body);
    }
    assert!(n >= 3);
}

#[tokio::test]
async fn s_102_another_method_is_refused_with_those_that_are_offered() {
    let app = TestApp::start().await;
    let admin = app.admin();
    for operation in all() {
        let path = some_path(&operation.path);
        let answer = admin.call(Method::PUT, &path).answer().await;
        answer.problem(405, "method_not_allowed");
        let allow = answer.header("Allow").unwrap();
        let allow: Vec<&str> = allow.split(", ").collect();
        assert!(
            allow.contains(&operation.verb.as_str()) && allow.contains(&"OPTIONS"),
            "{path} {allow:?}"
        );
        assert!(!allow.contains(&"PUT"), "{path} {allow:?}");
        let deletes = |one: &Operation| one.path == operation.path && one.verb == Method::DELETE;
        assert_eq!(
            allow.contains(&"DELETE"),
            all().iter().any(deletes),
            "{path}"
        );
        let asked = admin.call(Method::OPTIONS, &path).answer().await.must(204);
        assert_eq!(asked.header("Allow"), answer.header("Allow"));
    }
}

#[tokio::test]
async fn a_parameter_that_nobody_asked_for_is_refused_by_every_operation() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let estate = Estate::new(admin.clone()).await;
    for (n, operation) in guarded().into_iter().enumerate() {
        let path = format!("{}?surprise=1", estate.path(&operation));
        let call = estate.call_at(&admin, &operation, &path);
        let answer = call
            .header("Idempotency-Key", &n.to_string())
            .answer()
            .await;
        assert_eq!(
            answer.status,
            400,
            "{}: {}",
            operation.place(),
            answer.text()
        );
        answer.problem(400, "unknown_parameter");
        assert!(
            answer
                .faults()
                .contains(&("surprise".to_owned(), "unknown_parameter".to_owned()))
        );
    }
}

#[tokio::test]
async fn s_017_a_member_that_nobody_asked_for_is_refused_by_every_operation() {
    const MEMBERS: [&str; 8] = [
        "id",
        "tenant_id",
        "created_at",
        "version",
        "status",
        "money",
        "findings",
        "surprise",
    ];
    let app = TestApp::start().await;
    let admin = app.admin();
    let estate = Estate::new(admin.clone()).await;
    for (n, operation) in guarded()
        .into_iter()
        .enumerate()
        .filter(|(_, operation)| operation.has_body())
    {
        let mut body = estate.body(&operation);
        for member in MEMBERS {
            body[member] = 1.into();
        }
        let call = send(&admin, &operation, &estate.path(&operation), Some(&body));
        let answer = call
            .header("Idempotency-Key", &n.to_string())
            .answer()
            .await;
        assert_eq!(
            answer.status,
            422,
            "{}: {}",
            operation.place(),
            answer.text()
        );
        for member in MEMBERS {
            let fault = (format!("#/{member}"), "unknown_member".to_owned());
            assert!(
                answer.faults().contains(&fault),
                "{} {member}: {}",
                operation.place(),
                answer.text()
            );
        }
    }
}

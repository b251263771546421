//! The life of a plan: what a preview says, and how a plan is accepted, superseded and withdrawn.

use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    app::{NORTH, TestApp},
    build::{self, with},
    client::{Answer, Caller},
    read,
};

async fn corridor(admin: &Caller) -> String {
    let site = build::new_site(admin).await;
    build::new_surface(admin, &build::surface(&site)).await
}

async fn plan(admin: &Caller, surface: &str, goal: &str) -> Answer {
    let body = with(build::plan(surface), json!({"wish": {"goal": goal}}));
    build::new_plan(admin, &body).await
}

async fn step(admin: &Caller, id: &str, step: &str, version: &str) -> Answer {
    let call = admin.call(Method::POST, &format!("/v1/plans/{id}/{step}"));
    call.header("If-Match", version).answer().await
}

async fn read_plan(admin: &Caller, id: &str) -> Answer {
    admin.get(&format!("/v1/plans/{id}")).await.must(200)
}

/// The types of the events of a subject, in their order.
async fn events(app: &TestApp, subject: &str) -> Vec<String> {
    let tx = app.store().read(app.tenant(NORTH)).await.unwrap();
    let events = tx.outbox().list(1_000).await.unwrap();
    let own = events.into_iter().filter(|event| event.subject == subject);
    own.map(|event| event.kind).collect()
}

#[tokio::test]
async fn a_preview_says_what_the_plan_would_and_keeps_nothing() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let surface = corridor(&admin).await;
    let body = build::plan(&surface);
    let reader = app.as_(NORTH, &["plans:read"]);
    let shown = reader.post("/v1/plans/preview", &body).await.must(200);
    let (header, shown) = (shown.header("ETag").is_some(), shown.json());
    assert!(!header);
    let tx = app.store().read(app.tenant(NORTH)).await.unwrap();
    let n_events = tx.outbox().list(1_000).await.unwrap().len();
    drop(tx);
    // The site and the surface were told of, nothing else.
    assert_eq!(n_events, 2);
    let none = admin.get("/v1/plans").await.must(200).json();
    assert_eq!(none["items"], json!([]));
    let mut made = build::new_plan(&admin, &body).await.json();
    for member in ["id", "version", "status", "created_at"] {
        assert!(shown.get(member).is_none(), "{member}");
        made.as_object_mut().unwrap().remove(member);
    }
    assert_eq!(shown, made);
}

#[tokio::test]
async fn a_preview_that_cannot_be_made_is_refused_with_every_fault() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let body = json!({
        "surface_id": "srf_0193e8a0-0000-7000-8000-00000000dead",
        "wish": {"goal": "restore", "process": "moonwalk"},
    });
    let refused = admin.post("/v1/plans/preview", &body).await;
    refused.problem(422, "invalid_body");
    let places: Vec<String> = refused
        .faults()
        .into_iter()
        .map(|(place, _)| place)
        .collect();
    assert_eq!(places, ["#/surface_id", "#/wish/process"]);
    let body = json!({"wish": {"goal": "shine"}, "id": 1});
    let refused = admin.post("/v1/plans/preview", &body).await;
    refused.problem(422, "invalid_body");
    assert_eq!(refused.faults().len(), 3, "{}", refused.text());
}

#[tokio::test]
async fn an_accepted_plan_is_the_same_bytes_but_for_its_version_and_status() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let surface = corridor(&admin).await;
    let made = plan(&admin, &surface, "restore").await;
    let id = made.id();
    let accepted = step(&admin, &id, "accept", &made.etag()).await.must(200);
    assert_eq!(accepted.etag(), "\"2.json\"");
    let was = "\"version\":1,\"status\":\"proposed\"";
    let is = "\"version\":2,\"status\":\"accepted\"";
    assert_eq!(accepted.text(), made.text().replacen(was, is, 1));
    let read = read_plan(&admin, &id).await;
    assert_eq!(
        (read.etag(), read.text()),
        (accepted.etag(), accepted.text())
    );
    let listed = admin.get("/v1/plans?status=accepted").await.must(200);
    let listed = listed.json();
    let brief = &read::list(&listed, "/items")[0];
    assert_eq!(
        (&brief["id"], &brief["version"], &brief["status"]),
        (&json!(id), &json!(2), &json!("accepted"))
    );
    let withdrawn = step(&admin, &id, "withdraw", "*").await.must(200);
    assert_eq!(read::text(&withdrawn.json(), "/status"), "withdrawn");
    assert_eq!(withdrawn.etag(), "\"3.json\"");
    let none = admin
        .get("/v1/plans?status=accepted")
        .await
        .must(200)
        .json();
    assert_eq!(none["items"], json!([]));
    let told =
        ["proposed", "accepted", "withdrawn"].map(|word| format!("wearcourse.plan.{word}.v1"));
    assert_eq!(events(&app, &id).await, told);
}

#[tokio::test]
async fn an_accepted_plan_takes_the_place_of_one_for_the_same_surface_and_goal() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (surface, other) = (corridor(&admin).await, corridor(&admin).await);
    let mut ids = Vec::new();
    for (surface, goal) in [
        (&surface, "restore"),
        (&surface, "clean"),
        (&other, "restore"),
        (&surface, "restore"),
    ] {
        let id = plan(&admin, surface, goal).await.id();
        let _accepted = step(&admin, &id, "accept", "*").await.must(200);
        ids.push(id);
    }
    let mut now = Vec::new();
    for id in &ids {
        let plan = read_plan(&admin, id).await.json();
        now.push((
            read::text(&plan, "/status").to_owned(),
            plan["version"].clone(),
        ));
    }
    let is = |status: &str, version: i64| (status.to_owned(), Value::from(version));
    let accepted = is("accepted", 2);
    assert_eq!(now[0], is("superseded", 3));
    assert_eq!(now[1..], [accepted.clone(), accepted.clone(), accepted]);
    let last = events(&app, &ids[0]).await.pop();
    assert_eq!(last.as_deref(), Some("wearcourse.plan.superseded.v1"));
}

#[tokio::test]
async fn a_step_that_the_life_of_a_plan_does_not_have_is_refused() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let surface = corridor(&admin).await;
    let conflict = async |id: &str, word: &str| {
        let before = read_plan(&admin, id).await.body;
        let refused = step(&admin, id, word, "*").await;
        refused.problem(409, "state_conflict");
        assert_eq!(read_plan(&admin, id).await.body, before);
    };
    let id = plan(&admin, &surface, "restore").await.id();
    let _accepted = step(&admin, &id, "accept", "*").await.must(200);
    conflict(&id, "accept").await;
    let second = plan(&admin, &surface, "restore").await.id();
    let _accepted = step(&admin, &second, "accept", "*").await.must(200);
    conflict(&id, "accept").await;
    conflict(&id, "withdraw").await;
    let _withdrawn = step(&admin, &second, "withdraw", "*").await.must(200);
    conflict(&second, "withdraw").await;
    conflict(&second, "accept").await;
    // A plan without work is an answer, and nothing that can be done.
    let unknown = with(
        build::surface(&build::new_site(&admin).await),
        json!({"built_year": null, "film": null}),
    );
    let unknown = build::new_surface(&admin, &unknown).await;
    let asks = plan(&admin, &unknown, "restore").await;
    assert!(asks.json().get("work").is_none(), "{}", asks.text());
    conflict(&asks.id(), "accept").await;
    let work = with(build::completion(&surface), json!({"plan_id": second}));
    let refused = admin.record("/v1/completions", &work).await;
    refused.problem(422, "invalid_body");
}

#[tokio::test]
async fn a_step_takes_nothing_or_an_empty_object() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let surface = corridor(&admin).await;
    let id = plan(&admin, &surface, "restore").await.id();
    let accept = async |key: &str, body: Option<Value>| {
        let call = admin.call(Method::POST, &format!("/v1/plans/{id}/accept"));
        let call = call.header("If-Match", "*").header("Idempotency-Key", key);
        match body {
            Some(body) => call.json(&body).answer().await,
            None => call.answer().await,
        }
    };
    for body in [json!([]), json!({"a": 1}), json!(null), json!("")] {
        let refused = accept("refused", Some(body)).await;
        refused.problem(422, "invalid_body");
        assert_eq!(
            refused.faults(),
            [("#".to_owned(), "unknown_member".to_owned())]
        );
    }
    let large = json!({"a": "b".repeat(2_000)});
    accept("large", Some(large))
        .await
        .problem(413, "body_too_large");
    let _done = accept("k", Some(json!({}))).await.must(200);
    let again = accept("k", None).await.must(200);
    assert_eq!(again.header("Idempotent-Replayed"), Some("true"));
}

#[tokio::test]
async fn of_plans_that_are_accepted_at_once_one_stands() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let surface = corridor(&admin).await;
    let mut ids = Vec::new();
    for _ in 0..4 {
        ids.push(plan(&admin, &surface, "restore").await.id());
    }
    let accept = async |id: &str| step(&admin, id, "accept", "*").await;
    let (a, b, c, d) = tokio::join!(
        accept(&ids[0]),
        accept(&ids[1]),
        accept(&ids[2]),
        accept(&ids[3])
    );
    for answer in [&a, &b, &c, &d] {
        assert!(matches!(answer.status, 200 | 503), "{}", answer.text());
    }
    let n_done = [&a, &b, &c, &d].iter().filter(|a| a.status == 200).count();
    let accepted = admin
        .get("/v1/plans?status=accepted")
        .await
        .must(200)
        .json();
    let superseded = admin
        .get("/v1/plans?status=superseded")
        .await
        .must(200)
        .json();
    assert_eq!(read::list(&accepted, "/items").len(), 1);
    assert_eq!(read::list(&superseded, "/items").len() + 1, n_done);
}

#[tokio::test]
async fn plans_are_listed_by_what_they_say_of_the_wish() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let surface = corridor(&admin).await;
    let mut made = Vec::new();
    for air_c in [24, 8, 24] {
        let change = json!({"climate": {"air_c": air_c, "humidity_pct": 50}});
        let body = with(build::plan(&surface), change);
        made.push(build::new_plan(&admin, &body).await.json());
    }
    let said = |verdict: &str| -> Vec<&str> {
        let of = made
            .iter()
            .filter(|plan| read::text(plan, "/verdict") == verdict);
        of.map(|plan| read::text(plan, "/id")).collect()
    };
    assert_eq!(said("refused").len(), 1, "{made:#?}");
    let mut n = 0;
    for verdict in [
        "allowed",
        "allowed_with_warnings",
        "needs_information",
        "refused",
    ] {
        let path = format!("/v1/plans?verdict={verdict}&surface_id={surface}");
        let page = admin.get(&path).await.must(200).json();
        let items = read::list(&page, "/items").iter();
        let ids: Vec<&str> = items.map(|item| read::text(item, "/id")).collect();
        assert_eq!(ids, said(verdict), "{verdict}");
        n += said(verdict).len();
    }
    assert_eq!(n, made.len());
    let unknown = admin.get("/v1/plans?verdict=maybe").await;
    unknown.problem(422, "parameter_out_of_range");
    // A cursor is good for one verdict only.
    let page = admin.get("/v1/plans?limit=1").await.must(200).json();
    let cursor = read::text(&page, "/next_cursor");
    let path = format!("/v1/plans?limit=1&verdict=refused&cursor={cursor}");
    admin.get(&path).await.problem(400, "bad_cursor");
}

//! Contractor sources: their secret is told once, kept sealed, and changed without losing a message.

use chrono::TimeDelta;
use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    app::{NORTH, SOUTH, TestApp},
    build,
    inbound::{Sender, event},
    read,
};

#[tokio::test]
async fn s_054_a_secret_is_told_once_and_kept_sealed() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let contractor = build::new_contractor(&admin).await;
    let body = json!({"contractor_id": contractor, "name": "Crew app"});
    let send = async || {
        admin
            .post_keyed("/v1/contractor-sources", "once", &body)
            .await
            .must(201)
    };
    let made = send().await;
    let secret = read::text(&made.json(), "/secret").to_owned();
    assert!(secret.starts_with("whsec_") && secret.len() == 6 + 44);
    assert_eq!(send().await.body, made.body, "its key has its answer");
    let path = format!("/v1/contractor-sources/{}", made.id());
    let (one, list) = (
        admin.get(&path).await.must(200),
        admin.get("/v1/contractor-sources").await.must(200),
    );
    let rotated = admin.record(&format!("{path}/rotate"), &json!({})).await;
    let newer = read::text(&rotated.must(200).json(), "/secret").to_owned();
    assert_ne!(newer, secret);
    for shown in [one.text(), list.text()] {
        assert!(!shown.contains("whsec_") && !shown.contains(&secret[6..]));
        assert!(shown.contains(&made.id()));
    }
    for secret in [&secret, &newer] {
        assert!(is_nowhere(&app, &secret[6..]).await);
    }
    assert!(
        !is_nowhere(&app, "Crew app").await,
        "what is there is found"
    );
}

/// Whether a text stands in no column that could hold a secret. The update fails where it does, on either database: bytes
/// read as text are themselves on SQLite and hexadecimal on PostgreSQL.
async fn is_nowhere(app: &TestApp, text: &str) -> bool {
    let hex = text
        .bytes()
        .fold(String::new(), |hex, byte| format!("{hex}{byte:02x}"));
    let mut found = false;
    for (table, column) in [
        ("contractor_sources", "name"),
        ("contractor_sources", "secret"),
        ("contractor_sources", "previous_secret"),
        ("outbox", "payload"),
        ("idempotency_keys", "body"),
        ("idempotency_keys", "headers"),
    ] {
        let cast = format!("CAST({column} AS TEXT)");
        let sql = format!(
            "UPDATE {table} SET tenant_id = CASE WHEN {cast} LIKE '%{text}%' OR {cast} LIKE '%{hex}%' THEN NULL ELSE tenant_id END"
        );
        found |= app.execute(&sql).await.is_err();
    }
    !found
}

#[tokio::test]
async fn s_053_a_rotation_refuses_no_sender_until_the_old_secret_ends() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let old = Sender::new(&app, &admin, &build::new_contractor(&admin).await).await;
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let reading = event("reading.taken", 0, &build::reading(&surface));
    let rotate = format!("/v1/contractor-sources/{}/rotate", old.id);
    let told = admin.record(&rotate, &json!({})).await.must(200).json();
    assert_eq!(told["previous_secret_until"], "2026-06-02T12:00:00.000Z");
    let mut new = old.clone();
    read::text(&told, "/secret").clone_into(&mut new.secret);
    for (n, sender) in [&old, &new].into_iter().cycle().take(10).enumerate() {
        let _done = sender
            .send(&app, &format!("m{n}"), &reading)
            .await
            .must(200);
    }
    app.clock()
        .advance(TimeDelta::hours(24) - TimeDelta::seconds(1));
    let _done = old.send(&app, "late", &reading).await.must(200);
    app.clock().advance(TimeDelta::seconds(1));
    old.send(&app, "later", &reading)
        .await
        .problem(401, "not_proven");
    let _done = new.send(&app, "later", &reading).await.must(200);
    // A secret that leaked ends at once.
    let admin = app.admin();
    let told = admin.record(&rotate, &json!({"overlap_h": 0})).await;
    assert_eq!(told.must(200).json()["previous_secret_until"], Value::Null);
    new.send(&app, "leaked", &reading)
        .await
        .problem(401, "not_proven");
}

#[tokio::test]
async fn a_disabled_source_is_refused_and_gets_no_secret() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let sender = Sender::new(&app, &admin, &build::new_contractor(&admin).await).await;
    let path = format!("/v1/contractor-sources/{}", sender.id);
    let disable = async || {
        let call = admin.call(Method::POST, &format!("{path}/disable"));
        call.header("If-Match", "*").answer().await
    };
    assert_eq!(disable().await.must(200).json()["status"], "disabled");
    disable().await.problem(409, "state_conflict");
    let rotated = admin.record(&format!("{path}/rotate"), &json!({})).await;
    rotated.problem(409, "state_conflict");
    let refused = sender.send(&app, "m1", &json!({})).await;
    refused.problem(401, "not_proven");
}

#[tokio::test]
async fn a_source_is_made_for_a_contractor_of_the_tenant() {
    let app = TestApp::start().await;
    let souths = build::new_contractor(&app.admin_of(SOUTH)).await;
    for id in [&souths, "con_0193e8a0-0000-7000-8000-00000000dead"] {
        let body = json!({"contractor_id": id, "name": "Crew app"});
        let refused = app.admin().post("/v1/contractor-sources", &body).await;
        refused.problem(422, "invalid_body");
        let fault = (
            "#/contractor_id".to_owned(),
            "reference_not_found".to_owned(),
        );
        assert_eq!(refused.faults(), [fault]);
    }
    let bad = json!({"contractor_id": "x", "name": " ", "secret": "whsec_x"});
    let refused = app.admin().post("/v1/contractor-sources", &bad).await;
    refused.problem(422, "invalid_body");
    assert_eq!(refused.faults().len(), 3);
}

#[tokio::test]
async fn sources_are_listed_by_their_contractor() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (one, other) = (
        build::new_contractor(&admin).await,
        build::new_contractor(&admin).await,
    );
    let first = Sender::new(&app, &admin, &one).await;
    let second = Sender::new(&app, &admin, &other).await;
    for (contractor, source) in [(&one, &first), (&other, &second)] {
        let path = format!("/v1/contractor-sources?contractor_id={contractor}");
        let items = admin.get(&path).await.must(200).json()["items"].clone();
        assert_eq!(items.as_array().unwrap().len(), 1);
        assert_eq!(items[0]["id"], source.id);
    }
    let page = admin.get("/v1/contractor-sources?limit=1").await.must(200);
    let next = read::text(&page.json(), "/next_cursor").to_owned();
    let rest = format!("/v1/contractor-sources?limit=1&cursor={next}");
    assert_eq!(
        admin.get(&rest).await.must(200).json()["items"][0]["id"],
        second.id
    );
    let reader = app.as_(NORTH, &["contractors:read"]);
    let body = json!({"contractor_id": one, "name": "Crew app"});
    let refused = reader.post("/v1/contractor-sources", &body).await;
    refused.problem(403, "insufficient_scope");
}

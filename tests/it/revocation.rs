//! Tokens that are refused before they end: somebody left, lost a role, or lost a token.

use chrono::TimeDelta;
use infra::row::RevocationRow;
use serde_json::json;
use tests::{
    app::{CLIENT, NORTH, SOUTH, TestApp},
    build, read,
};

const LEFT: &str = "who-left";

#[tokio::test]
async fn s_015_who_is_taken_away_is_refused_at_once_and_a_later_token_is_good() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let left = app.admin_called(NORTH, LEFT);
    let site = build::new_site(&left).await;
    let body = json!({"subject": LEFT, "reason": "No longer works here."});
    let told = admin.post("/v1/revocations", &body).await.must(201);
    let made = told.json();
    assert_eq!(read::text(&made, "/subject"), LEFT);
    left.get("/v1/sites").await.problem(401, "invalid_token");
    left.post("/v1/sites", &build::site())
        .await
        .problem(401, "invalid_token");
    // Others of the tenant, and people of another tenant who are called the same, go on.
    let _others = admin.get(&format!("/v1/sites/{site}")).await.must(200);
    let _elsewhere = app
        .admin_called(SOUTH, LEFT)
        .get("/v1/sites")
        .await
        .must(200);
    // Who comes back has a token of a later second.
    app.clock().advance(TimeDelta::seconds(2));
    let back = app.admin_called(NORTH, LEFT);
    let _again = back.get("/v1/sites").await.must(200);
    left.get("/v1/sites").await.problem(401, "invalid_token");
    let listed = admin.get("/v1/revocations").await.must(200).json();
    assert_eq!(read::list(&listed, "/items").len(), 1);
    let path = format!("/v1/revocations/{}", told.id());
    assert_eq!(admin.get(&path).await.must(200).json(), made);
    app.admin_of(SOUTH)
        .get(&path)
        .await
        .problem(404, "not_found");
}

#[tokio::test]
async fn s_015_another_process_refuses_within_half_a_minute() {
    let app = TestApp::start().await;
    let left = app.admin_called(NORTH, LEFT);
    let _good = left.get("/v1/sites").await.must(200);
    // What another process writes is not told to this one.
    let now = app.now();
    let row = RevocationRow {
        id: "rev_01890a5d-ac96-774b-bcce-b302099a8057".parse().unwrap(),
        version: 1,
        holder: "subject".to_owned(),
        name: LEFT.to_owned(),
        issued_until: now,
        reason: "Lost the phone.".to_owned(),
        created_at: now,
    };
    let tx = app.store().begin(app.tenant(NORTH)).await.unwrap();
    tx.revocations().insert(&row).await.unwrap();
    tx.commit().await.unwrap();
    app.clock().advance(TimeDelta::seconds(30));
    left.get("/v1/sites").await.problem(401, "invalid_token");
}

#[tokio::test]
async fn a_program_is_named_by_its_client_and_every_fault_of_a_revocation_is_told() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let both = json!({"subject": LEFT, "client_id": "app", "reason": "Both."});
    for (body, pointer, code) in [
        (both, "#", "required"),
        (json!({"reason": "Nobody."}), "#", "required"),
        (
            json!({"subject": LEFT, "issued_until": "2099-01-01T00:00:00Z", "reason": "Later."}),
            "#/issued_until",
            "in_future",
        ),
    ] {
        let told = admin.post("/v1/revocations", &body).await;
        let told = told.problem(422, "invalid_body");
        assert_eq!(read::text(&told, "/errors/0/pointer"), pointer);
        assert_eq!(read::text(&told, "/errors/0/code"), code);
    }
    let other = app.admin_called(NORTH, LEFT);
    let client = json!({"client_id": CLIENT, "issued_until": "2020-01-01T00:00:00Z", "reason": "An old key."});
    let _told = admin.post("/v1/revocations", &client).await.must(201);
    // Tokens of a later second are good, whoever holds them.
    let _good = other.get("/v1/sites").await.must(200);
}

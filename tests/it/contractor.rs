//! Contractors: registering, listing, reading.

use serde_json::{Value, json};
use tests::{
    app::{NORTH, SOUTH, TestApp},
    client::Answer,
    read,
};

fn crew(name: &str, id: &str) -> Value {
    json!({"name": name, "external": {"system": "ledger", "id": id}})
}

fn names(page: &Answer) -> Vec<String> {
    let page = page.json();
    read::list(&page, "/items")
        .iter()
        .map(|item| read::text(item, "/name").to_owned())
        .collect()
}

#[tokio::test]
async fn a_contractor_that_was_registered_is_read_back_byte_for_byte() {
    let app = TestApp::start().await;
    let made = app
        .admin()
        .post("/v1/contractors", &crew("Evening crew north", "C-204"))
        .await
        .must(201);
    let path = made.header("Location").unwrap().to_owned();
    assert_eq!(path, format!("/v1/contractors/{}", made.id()));
    assert_eq!(made.etag(), "\"1.json\"");
    assert_eq!(made.json()["created_at"], "2026-06-01T12:00:00.000Z");
    let found = app.admin().get(&path).await.must(200);
    assert_eq!(found.body, made.body);
    assert_eq!(found.etag(), made.etag());
    let known = app
        .admin()
        .call(reqwest::Method::GET, &path)
        .header("If-None-Match", &made.etag());
    assert!(known.answer().await.must(304).body.is_empty());
}

#[tokio::test]
async fn every_fault_of_a_contractor_is_told_at_once() {
    let app = TestApp::start().await;
    let bad = json!({"name": "", "phone": "1", "external": {"system": "x".repeat(101)}});
    let refused = app.admin().post("/v1/contractors", &bad).await;
    refused.problem(422, "invalid_body");
    let expected = [
        ("#/external/id", "required"),
        ("#/external/system", "max_length"),
        ("#/name", "min_length"),
        ("#/name", "pattern"),
        ("#/phone", "unknown_member"),
    ];
    let found = refused.faults();
    let found: Vec<_> = found
        .iter()
        .map(|(place, code)| (place.as_str(), code.as_str()))
        .collect();
    assert_eq!(found, expected, "{}", refused.text());
}

#[tokio::test]
async fn an_external_id_is_taken_once_by_each_tenant_and_is_compared_byte_for_byte() {
    let app = TestApp::start().await;
    let post = async |tenant: &str, id: &str| {
        app.admin_of(tenant)
            .post("/v1/contractors", &crew("Crew", id))
            .await
    };
    let _first = post(NORTH, "C-1").await.must(201);
    post(NORTH, "C-1").await.problem(409, "already_exists");
    let _other_case = post(NORTH, "c-1").await.must(201);
    let _other_blank = post(NORTH, "C-1 ").await.must(201);
    let _other_tenant = post(SOUTH, "C-1").await.must(201);
}

#[tokio::test]
async fn a_list_is_paged_to_its_end_without_gap_or_double() {
    let app = TestApp::start().await;
    let admin = app.admin();
    for n in 1..=5 {
        let _made = admin
            .post(
                "/v1/contractors",
                &crew(&format!("Crew {n}"), &n.to_string()),
            )
            .await
            .must(201);
    }
    let mut seen = Vec::new();
    let mut path = "/v1/contractors?limit=2".to_owned();
    loop {
        let page = admin.get(&path).await.must(200);
        seen.extend(names(&page));
        match page.json()["next_cursor"].as_str() {
            Some(cursor) => path = format!("/v1/contractors?limit=2&cursor={cursor}"),
            None => break,
        }
    }
    assert_eq!(seen, ["Crew 1", "Crew 2", "Crew 3", "Crew 4", "Crew 5"]);
    assert_eq!(
        names(&app.admin_of(SOUTH).get("/v1/contractors").await.must(200)),
        [""; 0]
    );
}

//! Faults of the database that no caller can help: told as ours, with nothing of what is inside, and gone when it is mended.

use reqwest::Method;
use serde_json::json;
use tests::{
    app::TestApp,
    build,
    client::{Answer, Caller},
};

/// An answer that says it was our mistake, and nothing else.
#[track_caller]
fn is_ours(answer: &Answer, place: &str) {
    assert_eq!(answer.status, 500, "{place}: {}", answer.text());
    let told = answer.problem(500, "internal");
    let id = answer.header("X-Request-Id");
    assert_eq!(told["request_id"].as_str(), id, "{place}");
    let text = answer.text().to_lowercase();
    for inside in [
        "sql",
        "select",
        "insert",
        "table",
        "column",
        "relation",
        "serde",
        "expected",
        "line 1",
        "panicked",
        "rs:",
        "postgres",
        "contractors_gone",
        "corrupt",
        "row",
        "driver",
        "constraint",
    ] {
        // The address of the problem and the path that was asked for are the caller's own words.
        let told = text
            .replace("/v1/contractors", "")
            .replace("\"errors\"", "");
        assert!(!told.contains(inside), "{place} says {inside}: {text}");
    }
}

/// Every way to contractors.
async fn ask(admin: &Caller, id: &str) -> Vec<(String, Answer)> {
    let mut answers = Vec::new();
    for path in [
        "/v1/contractors".to_owned(),
        format!("/v1/contractors/{id}"),
        "/v1/contractors?limit=5".to_owned(),
    ] {
        let answer = admin.get(&path).await;
        answers.push((path, answer));
    }
    answers
}

#[tokio::test]
async fn s_125_a_table_that_is_gone_is_our_fault_and_says_nothing_of_itself() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let id = build::new_contractor(&admin).await;
    app.execute("ALTER TABLE contractors RENAME TO contractors_gone")
        .await
        .unwrap();
    for (place, answer) in ask(&admin, &id).await {
        is_ours(&answer, &place);
    }
    for key in ["same", "same", "other"] {
        let body = json!({"name": "Crew"});
        let answer = admin.post_keyed("/v1/contractors", key, &body).await;
        is_ours(&answer, "POST");
    }
    let _alive = admin.get("/livez").await.must(200);
    let _other = admin.get("/v1/sites").await.must(200);
    app.execute("ALTER TABLE contractors_gone RENAME TO contractors")
        .await
        .unwrap();
    for (_, answer) in ask(&admin, &id).await {
        let _well = answer.must(200);
    }
    // A key that met our fault is as good as new.
    let body = json!({"name": "Crew"});
    let done = admin
        .post_keyed("/v1/contractors", "same", &body)
        .await
        .must(201);
    assert_eq!(done.header("Idempotent-Replayed"), None);
}

#[tokio::test]
async fn s_125_a_row_that_cannot_be_read_is_our_fault_and_spoils_no_other() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let good = build::new_surface(&admin, &build::surface(&site)).await;
    let bad = build::new_surface(&admin, &build::surface(&site)).await;
    let uuid = bad.trim_start_matches("srf_");
    // SQLite keeps ids as bytes, a server as what they are.
    let id = if app.is_server() {
        format!("'{uuid}'")
    } else {
        format!("x'{}'", uuid.replace('-', ""))
    };
    let sql = format!("UPDATE surfaces SET document = '{{\"name\": 7' WHERE id = {id}");
    app.execute(&sql).await.unwrap();
    let path = format!("/v1/surfaces/{bad}");
    // It is read as it is kept; whoever has to understand it says that he cannot.
    is_ours(
        &admin.post("/v1/plans", &build::plan(&bad)).await,
        "a plan for it",
    );
    let change = admin
        .call(Method::PATCH, &path)
        .merge_patch(&json!({"name": "A"}));
    is_ours(
        &change.header("If-Match", "*").answer().await,
        "a change of it",
    );
    let _well = admin.get(&format!("/v1/surfaces/{good}")).await.must(200);
    let _planned = admin.post("/v1/plans", &build::plan(&good)).await.must(201);
}

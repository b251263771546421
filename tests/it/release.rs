//! Two releases share a database while replicas are replaced, and after a rollback.

use serde_json::json;
use tests::{
    app::TestApp,
    build::{self, with},
};

#[tokio::test]
async fn a_step_of_a_newer_release_takes_nobody_out_of_service() {
    let app = TestApp::start().await;
    let sql = "INSERT INTO seaql_migrations (version, applied_at) VALUES ('m29990101_001_of_a_newer_release', 0)";
    app.execute(sql).await.unwrap();
    let _done = app.stranger().get("/readyz").await.must(200);
}

#[tokio::test]
async fn what_a_newer_release_wrote_is_read() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let rates = json!({"rate_card": build::golden_rate_card(), "climate": {"air_c": 20, "humidity_pct": 55}});
    let site = admin.post("/v1/sites", &with(build::site(), rates)).await;
    let site = site.must(201).id();
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let _done = admin
        .post("/v1/products", &build::product())
        .await
        .must(201);
    let plan = build::new_plan(&admin, &build::plan(&surface)).await.id();
    let inner = [
        ("sites", "document", r#""climate":{"#),
        ("sites", "document", r#""rate_card":{"#),
        ("rate_cards", "document", r#""labour_per_h":{"#),
        ("surfaces", "document", r#""film":{"#),
        ("products", "document", r#""sheet":{"#),
        ("plans", "request_document", r#""wish":{"#),
    ];
    for (table, column, object) in inner {
        let newer = r#""of_a_newer_release":[1],"#;
        for object in [object, "{"] {
            // The outer object is the first of its document.
            let changed = if object == "{" {
                format!("'{{{newer}' || substr({column}, 2)")
            } else {
                // A document without it becomes nothing, which no table takes: the row of this list tells nothing then.
                format!(
                    "CASE WHEN {column} LIKE '%{object}%' THEN replace({column}, '{object}', '{object}{newer}') END"
                )
            };
            let sql = format!("UPDATE {table} SET {column} = {changed}");
            app.execute(&sql).await.unwrap();
        }
    }
    let rename = json!({"name": "North clinic, block A"});
    for path in [
        format!("/v1/sites/{site}"),
        format!("/v1/surfaces/{surface}"),
    ] {
        let changed = admin.patch(&path, "*", &rename).await.must(200);
        assert_eq!(changed.json()["name"], rename["name"]);
    }
    let path = "/v1/products/night_polish";
    let _done = admin
        .patch(path, "*", &json!({"withdrawn": true}))
        .await
        .must(200);
    let path = format!("/v1/plans/{plan}");
    admin
        .patch(&path, "*", &json!({}))
        .await
        .problem(405, "method_not_allowed");
    let call = admin.call(reqwest::Method::POST, &format!("{path}/accept"));
    let _done = call.header("If-Match", "*").answer().await.must(200);
    build::new_plan(&admin, &build::plan(&surface)).await;
    let _done = admin
        .post("/v1/estimates", &build::estimate(&site))
        .await
        .must(201);
    let work = with(build::completion(&surface), json!({"plan_id": plan}));
    let _done = admin.record("/v1/completions", &work).await.must(201);
}

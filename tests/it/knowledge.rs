//! The knowledge base: what the planner knows, with the source and the grade of each row.

use reqwest::Method;
use tests::{
    app::{SOUTH, TestApp},
    read,
};

#[tokio::test]
async fn every_row_says_where_it_comes_from_and_is_read_alone_as_in_its_list() {
    let app = TestApp::start().await;
    let reader = app.as_("north", &["knowledge:read"]);
    for (path, least) in [
        ("/v1/materials", 22),
        ("/v1/processes", 20),
        ("/v1/products", 14),
        ("/v1/rules", 80),
    ] {
        let page = reader.get(path).await.must(200).json();
        let rows = read::list(&page, "/items");
        assert!(rows.len() >= least, "{path}: {}", rows.len());
        for row in rows {
            let key = row
                .get("key")
                .or_else(|| row.get("id"))
                .unwrap()
                .as_str()
                .unwrap();
            assert!(!read::text(row, "/source").is_empty(), "{key}");
            let grades = ["published", "common_practice", "from_memory"];
            assert!(grades.contains(&read::text(row, "/grade")), "{key}");
            let alone = reader.get(&format!("{path}/{key}")).await.must(200).json();
            assert_eq!(&alone, row, "{key}");
        }
        reader
            .get(&format!("{path}/no_such_key"))
            .await
            .problem(404, "not_found");
    }
}

#[tokio::test]
async fn the_knowledge_is_the_same_for_every_tenant_and_known_by_its_edition() {
    let app = TestApp::start().await;
    let norths = app.admin().get("/v1/materials").await.must(200);
    let souths = app.admin_of(SOUTH).get("/v1/materials").await.must(200);
    assert_eq!(norths.body, souths.body);
    let known = app
        .admin()
        .call(Method::GET, "/v1/materials")
        .header("If-None-Match", &norths.etag());
    assert_eq!(known.answer().await.status, 304);
    // The edition alone names no answer: another release tells the same edition in other words.
    let rules = app.admin().get("/v1/rules").await.must(200);
    assert_ne!(rules.etag(), norths.etag());
}

#[tokio::test]
async fn every_rule_that_a_plan_names_can_be_read() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = tests::build::new_site(&admin).await;
    let surface = tests::build::new_surface(&admin, &tests::build::surface(&site)).await;
    let plan = tests::build::new_plan(&admin, &tests::build::plan(&surface))
        .await
        .json();
    let findings = read::list(&plan, "/findings");
    assert!(!findings.is_empty());
    for finding in findings {
        let rule = read::text(finding, "/rule");
        let told = admin
            .get(&format!("/v1/rules/{rule}"))
            .await
            .must(200)
            .json();
        assert_eq!(told["statement"], finding["statement"], "{rule}");
    }
    for candidate in read::list(&plan, "/candidates") {
        let key = read::text(candidate, "/process/key");
        let _there = admin.get(&format!("/v1/processes/{key}")).await.must(200);
    }
}

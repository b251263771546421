//! The knowledge base: what the planner knows, with the source and the grade of each row.

use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    app::{SOUTH, TestApp},
    build, read,
};

#[tokio::test]
async fn every_row_says_where_it_comes_from_and_is_read_alone_as_in_its_list() {
    let app = TestApp::start().await;
    let reader = app.as_("north", &["knowledge:read"]);
    for (path, least) in [
        ("/v1/identification-tests", 9),
        ("/v1/materials", 33),
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
}

#[tokio::test]
async fn every_rule_that_a_plan_names_can_be_read() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let plan = build::new_plan(&admin, &build::plan(&surface)).await.json();
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

#[tokio::test]
async fn an_unknown_floor_is_dusted_and_damp_mopped_and_the_tests_that_would_tell_are_handed_out() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let unknown = json!({"material": "unknown_hard", "film": null});
    let floor = build::with(build::surface(&site), unknown);
    let floor = build::new_surface(&admin, &floor).await;
    let plan = |goal: &str| json!({"surface_id": floor, "wish": {"goal": goal}});
    let tests = |plan: &Value| -> Vec<String> {
        let handed_out = read::list(plan, "/identification").iter();
        handed_out
            .map(|test| read::text(test, "/key").to_owned())
            .collect()
    };

    let restored = build::new_plan(&admin, &plan("restore")).await.json();
    assert_eq!(read::text(&restored, "/verdict"), "needs_information");
    assert_eq!(restored["meanwhile"], json!(["damp_mop", "dust_mop"]));
    let handed_out = tests(&restored);
    for key in ["acid_drop", "scratch", "stripper_drop", "resistance"] {
        assert!(handed_out.iter().any(|test| test == key), "{key}");
    }
    let drop = read::find(&restored, "/identification", "/key", "acid_drop");
    let lime = read::find(
        drop,
        "/readings",
        "/reading",
        "It fizzes, or the spot goes dull",
    );
    assert!(read::list(lime, "/points_to").contains(&json!("marble")));
    let path = "/v1/identification-tests/acid_drop";
    assert_eq!(&admin.get(path).await.must(200).json(), drop);

    let cleaned = build::new_plan(&admin, &plan("clean")).await.json();
    assert_eq!(read::text(&cleaned, "/verdict"), "allowed");
    assert_eq!(read::text(&cleaned, "/process/key"), "damp_mop");
    let mop = read::find(read::at(&cleaned, "/work"), "/steps", "/key", "mop");
    assert_eq!(read::text(mop, "/product/key"), "cleaner_neutral");
    assert_eq!(tests(&cleaned), handed_out);

    // A floor that is known but for what lies on it gets the tests of films and no others.
    let known = build::with(build::surface(&site), json!({"film": null}));
    let known = build::new_surface(&admin, &known).await;
    let wish = json!({"surface_id": known, "wish": {"goal": "restore"}});
    let made = build::new_plan(&admin, &wish).await.json();
    assert_eq!(
        tests(&made),
        ["water_drop", "scratch", "stripper_drop", "white_spirit_rub"]
    );
    let known = build::new_surface(&admin, &build::surface(&site)).await;
    let made = build::new_plan(&admin, &build::plan(&known)).await.json();
    assert!(tests(&made).is_empty());
}

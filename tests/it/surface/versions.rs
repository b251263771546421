//! Changes of surfaces under the version that was read, one of several, or any.

use serde_json::json;
use tests::{app::TestApp, build};

#[tokio::test]
async fn a_change_goes_through_if_one_of_several_versions_is_the_one_that_is_there() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let id = build::new_surface(&admin, &build::surface(&site)).await;
    let path = format!("/v1/surfaces/{id}");
    let note = |text: &str| json!({"note": text});
    let stale = admin
        .patch(&path, "\"2.json\", \"3.json\"", &note("a"))
        .await;
    stale.problem(412, "stale_version");
    let weak = admin.patch(&path, "W/\"1.json\"", &note("a")).await;
    weak.problem(412, "stale_version");
    let done = admin
        .patch(&path, "\"7.json\", \"1.json\"", &note("a"))
        .await;
    assert_eq!(done.must(200).etag(), "\"2.json\"");
}

#[tokio::test]
async fn a_change_of_any_version_is_never_too_late() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let id = build::new_surface(&admin, &build::surface(&site)).await;
    let path = format!("/v1/surfaces/{id}");
    for round in 0..30 {
        let change = async |side: &str| {
            let body = json!({"storey": format!("{side}{round}")});
            admin.patch(&path, "*", &body).await.must(200)
        };
        tokio::join!(change("a"), change("b"));
    }
    let version = &admin.get(&path).await.must(200).json()["version"];
    assert_eq!(version, &json!(61));
}

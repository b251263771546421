//! The air over a floor where nobody has told it.

use serde_json::json;
use tests::{
    app::TestApp,
    build::{self, with},
    read,
};

#[tokio::test]
async fn a_film_in_air_that_nobody_has_told_is_warned_of() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let silent = with(build::site(), json!({"climate": null}));
    let site = admin.post("/v1/sites", &silent).await.must(201).json();
    assert_eq!(site["climate_assumed"], true);
    let surface = build::surface(read::text(&site, "/id"));
    let surface = build::new_surface(&admin, &surface).await;
    let warned = |plan: &serde_json::Value| {
        let findings = read::list(plan, "/findings");
        findings.iter().any(|f| f["rule"] == "climate-assumed")
    };
    let request = build::plan(&surface);
    let made = build::new_plan(&admin, &request).await.json();
    assert!(warned(&made));
    assert_eq!(read::text(&made, "/verdict"), "allowed_with_warnings");
    // Told with the wish, though it is the same air.
    let told = with(
        request,
        json!({"climate": {"air_c": 20, "humidity_pct": 50}}),
    );
    let made = build::new_plan(&admin, &told).await.json();
    assert!(!warned(&made));
    assert_eq!(read::text(&made, "/verdict"), "allowed");
}

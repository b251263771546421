//! Amounts that no ledger holds: refused where they arise, told where an older release let them in.

use serde_json::json;
use tests::{
    app::TestApp,
    build::{self, with},
};

#[tokio::test]
async fn s_083_amounts_that_no_ledger_holds_are_refused_and_spoil_no_report() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let rates = with(
        build::golden_rate_card(),
        json!({"labour_per_h": build::pounds("999999999999"), "tax_pct": 20}),
    );
    let body = with(build::site(), json!({"rate_card": rates}));
    let site = admin.post("/v1/sites", &body).await.must(201).id();
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    for (path, body, place) in [
        ("/v1/completions", build::completion(&surface), "#"),
        ("/v1/plans", build::plan(&surface), "#/surface_id"),
        ("/v1/plans/preview", build::plan(&surface), "#/surface_id"),
        ("/v1/estimates", build::estimate(&site), "#/site_id"),
    ] {
        let refused = admin.record(path, &body).await;
        refused.problem(422, "invalid_body");
        let fault = (place.to_owned(), "amount_out_of_range".to_owned());
        assert_eq!(refused.faults(), [fault], "{path}");
    }
    let most = with(
        build::completion(&surface),
        json!({"charged": build::pounds("9999999999")}),
    );
    let most = with(most, json!({"labour": null, "products": null}));
    let labour = json!({"labour": [{"stage": "prepare", "hours": 0.01}]});
    let most = admin.record("/v1/completions", &with(most, labour)).await;
    let _done = most.must(201);
    let path = "/v1/reports/costs?from=2026-01&to=2026-07&group_by=stage";
    let told = admin.get(path).await.must(200).json();
    assert_eq!(
        told["totals"][0]["actual"]["net"]["amount"],
        "9999999999.00"
    );
}

#[tokio::test]
async fn a_sum_that_no_ledger_holds_is_told_with_what_to_do() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    for day in ["2026-05-10", "2026-05-11"] {
        let times = json!({
            "started_at": format!("{day}T20:00:00Z"), "finished_at": format!("{day}T23:30:00Z"),
        });
        let body = with(build::completion(&surface), times);
        let _done = admin.record("/v1/completions", &body).await.must(201);
    }
    // What an older release let in.
    let sql = format!(
        "UPDATE completion_lines SET actual_amount = {}",
        i64::MAX / 2
    );
    app.execute(&sql).await.unwrap();
    let sql = format!(
        "UPDATE cost_rollups SET actual_net = {}, month = '2026-03'",
        i64::MAX
    );
    app.execute(&sql).await.unwrap();
    let other = build::completion(&surface);
    let _done = admin.record("/v1/completions", &other).await.must(201);
    for query in ["group_by=site", "group_by=stage", "group_by=surface,month"] {
        let path = format!("/v1/reports/costs?from=2026-01&to=2026-07&{query}");
        let refused = admin.get(&path).await;
        let told = refused.problem(422, "parameter_out_of_range");
        assert_eq!(told["errors"][0]["code"], "amount_out_of_range", "{query}");
    }
}

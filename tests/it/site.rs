//! Sites and their rate cards.

use serde_json::{Value, json};
use tests::{
    app::{SOUTH, TestApp},
    build::{self, pounds, with},
    read,
};

#[tokio::test]
async fn a_site_that_was_registered_is_read_back_byte_for_byte() {
    let app = TestApp::start().await;
    let body = with(
        build::site(),
        json!({
            "rate_card": build::golden_rate_card(),
            "climate": {"air_c": 20, "humidity_pct": 55},
            "external": {"system": "register", "id": "B/7 north"},
        }),
    );
    let made = app.admin().post("/v1/sites", &body).await.must(201);
    let path = made.header("Location").unwrap().to_owned();
    let told = made.json();
    assert_eq!(app.admin().get(&path).await.must(200).body, made.body);
    assert_eq!(told["rate_card"]["labour_per_h"], pounds("16.50"));
    assert_eq!(told["rate_card_number"], 1);
    assert_eq!(read::number(&told, "/climate/floor_c"), 19.0);
    assert_eq!(told["external"]["id"], "B/7 north");
    let found = app
        .admin()
        .get("/v1/sites?external_system=register&external_id=B%2F7%20north")
        .await
        .must(200);
    assert_eq!(read::list(&found.json(), "/items"), [told]);
}

#[tokio::test]
async fn a_site_without_rates_says_those_that_count() {
    let app = TestApp::start().await;
    let told = app
        .admin()
        .post(
            "/v1/sites",
            &with(build::site(), json!({"rate_card": null})),
        )
        .await
        .must(201)
        .json();
    assert_eq!(told["rate_card_assumed"], true);
    assert_eq!(told["rate_card"]["valid_from"], "2026-06-01");
    assert_eq!(told["rate_card"]["labour_per_h"]["currency"], "GBP");
    assert!(read::number(&told, "/climate/humidity_pct") > 0.0);
}

#[tokio::test]
async fn every_fault_of_a_site_is_told_at_once() {
    let app = TestApp::start().await;
    let bad = with(
        build::site(),
        json!({
            "time_zone": "Europe/Londinium", "currency": "XXX",
            "rate_card": with(build::golden_rate_card(), json!({
                "packs": [{"product": "no_such", "size_l": 5, "price": pounds("1")}],
            })),
        }),
    );
    let refused = app.admin().post("/v1/sites", &bad).await;
    refused.problem(422, "invalid_body");
    let faults = refused.faults();
    for place in ["#/time_zone", "#/currency", "#/rate_card/packs/0/product"] {
        assert!(
            faults.iter().any(|(found, _)| found == place),
            "{place}: {faults:?}"
        );
    }
    let bad = with(
        build::site(),
        json!({"name": " ", "country": "gb", "rate_card": {"labour_per_h": 16.5, "crew_size": null}}),
    );
    let refused = app.admin().post("/v1/sites", &bad).await;
    refused.problem(422, "invalid_body");
    let faults = refused.faults();
    for place in [
        "#/name",
        "#/country",
        "#/rate_card/labour_per_h",
        "#/rate_card/crew_size",
    ] {
        assert!(
            faults.iter().any(|(found, _)| found == place),
            "{place}: {faults:?}"
        );
    }
}

#[tokio::test]
async fn money_of_another_currency_or_with_too_many_digits_is_refused() {
    let app = TestApp::start().await;
    let price = |amount: &str, currency: &str| {
        let price = json!({"amount": amount, "currency": currency});
        let card = with(build::golden_rate_card(), json!({"labour_per_h": price}));
        with(build::site(), json!({"rate_card": card}))
    };
    for (amount, currency) in [
        ("16.50", "EUR"),
        ("16.50001", "GBP"),
        ("-1", "GBP"),
        ("1e3", "GBP"),
        ("1,000.00", "GBP"),
    ] {
        let refused = app
            .admin()
            .post("/v1/sites", &price(amount, currency))
            .await;
        refused.problem(422, "invalid_body");
        assert!(
            refused.faults()[0]
                .0
                .starts_with("#/rate_card/labour_per_h/"),
            "{}",
            refused.text()
        );
    }
}

#[tokio::test]
async fn a_change_of_rates_is_a_new_edition_and_a_change_of_nothing_is_none() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let made = admin.post("/v1/sites", &build::site()).await.must(201);
    let path = format!("/v1/sites/{}", made.id());
    let rates = json!({"rate_card": {"labour_per_h": pounds("18.00"), "valid_from": "2026-07-01"}});
    let changed = admin.patch(&path, &made.etag(), &rates).await.must(200);
    assert_eq!(changed.etag(), "\"2.json\"");
    assert_eq!(changed.json()["rate_card_number"], 2);
    assert_ne!(changed.json()["rate_card_id"], made.json()["rate_card_id"]);
    assert_eq!(changed.json()["rate_card"]["labour_per_h"], pounds("18.00"));
    let same = admin.patch(&path, &changed.etag(), &rates).await.must(200);
    assert_eq!(same.body, changed.body);
    let renamed = admin
        .patch(&path, "*", &json!({"name": "South clinic"}))
        .await
        .must(200)
        .json();
    assert_eq!(renamed["version"], 3);
    assert_eq!(renamed["rate_card_number"], 2);
}

#[tokio::test]
async fn what_a_change_would_break_is_refused_whole() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let made = admin.post("/v1/sites", &build::site()).await.must(201);
    let path = format!("/v1/sites/{}", made.id());
    let patches = [
        (json!({"currency": "EUR"}), "#/currency"),
        (json!({"name": null}), "#/name"),
        (json!({"climate": {"air_c": 99}}), "#/climate/air_c"),
        (json!({"time_zone": "Mars/Olympus"}), "#/time_zone"),
    ];
    for (patch, place) in patches {
        let refused = admin.patch(&path, "*", &patch).await;
        refused.problem(422, "invalid_body");
        assert!(
            refused.faults().iter().any(|(found, _)| found == place),
            "{}",
            refused.text()
        );
    }
    assert_eq!(admin.get(&path).await.must(200).body, made.body);
}

#[tokio::test]
async fn an_external_id_of_a_site_is_taken_once() {
    let app = TestApp::start().await;
    let body = with(
        build::site(),
        json!({"external": {"system": "register", "id": "7"}}),
    );
    let _first = app.admin().post("/v1/sites", &body).await.must(201);
    app.admin()
        .post("/v1/sites", &body)
        .await
        .problem(409, "already_exists");
    let _other = app.admin_of(SOUTH).post("/v1/sites", &body).await.must(201);
    let half = app.admin().get("/v1/sites?external_id=7").await;
    half.problem(422, "parameter_out_of_range");
}

#[tokio::test]
async fn s_084_a_list_of_sites_refuses_what_it_cannot_do() {
    let app = TestApp::start().await;
    for limit in ["0", "201", "-1", "x", ""] {
        let refused = app.admin().get(&format!("/v1/sites?limit={limit}")).await;
        refused.problem(422, "parameter_out_of_range");
    }
    for cursor in ["x", "", "eyJhIjoxfQ"] {
        let refused = app.admin().get(&format!("/v1/sites?cursor={cursor}")).await;
        assert!(
            matches!(refused.status, 400 | 422),
            "{cursor}: {}",
            refused.text()
        );
    }
}

#[tokio::test]
async fn s_007_a_cursor_is_good_for_its_own_list_and_tenant_only() {
    let app = TestApp::start().await;
    for n in 1..=2 {
        let site = with(build::site(), json!({"name": format!("Site {n}")}));
        let _made = app.admin().post("/v1/sites", &site).await.must(201);
    }
    let page = app.admin().get("/v1/sites?limit=1").await.must(200).json();
    let cursor = read::text(&page, "/next_cursor");
    let next = app
        .admin()
        .get(&format!("/v1/sites?limit=1&cursor={cursor}"))
        .await
        .must(200)
        .json();
    assert_eq!(read::text(&next, "/items/0/name"), "Site 2");
    assert_eq!(next["next_cursor"], Value::Null);
    app.admin()
        .get(&format!("/v1/contractors?cursor={cursor}"))
        .await
        .problem(400, "bad_cursor");
    app.admin_of(SOUTH)
        .get(&format!("/v1/sites?cursor={cursor}"))
        .await
        .problem(400, "bad_cursor");
    let edited = format!("{}A", &cursor[..cursor.len() - 1]);
    app.admin()
        .get(&format!("/v1/sites?cursor={edited}"))
        .await
        .problem(400, "bad_cursor");
}

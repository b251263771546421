//! Products of a tenant's own: registering, changing, reading, and what plans, rate cards and reports make of them.

use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    app::{NORTH, SOUTH, TestApp},
    build::{self, pounds, with},
    client::Caller,
    read,
};

const PATH: &str = "/v1/products/night_polish";

async fn plan(caller: &Caller, site: &str) -> Value {
    let surface = build::new_surface(caller, &build::surface(site)).await;
    let plan = build::new_plan(caller, &build::plan(&surface)).await.json();
    assert!(plan["work"].is_object(), "{plan:#}");
    plan
}

/// The polish that a plan uses.
fn polish(plan: &Value) -> &Value {
    read::find(&plan["work"], "/products", "/class", "polish")
}

fn basis<'a>(plan: &'a Value, id: &str) -> &'a Value {
    read::find(&plan["work"], "/basis", "/id", id)
}

#[tokio::test]
async fn a_product_that_was_registered_is_read_back_and_listed_before_the_built_in_ones() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let built_in = admin.get("/v1/products").await.must(200);
    let n_built_in = read::list(&built_in.json(), "/items").len();
    let made = admin
        .post("/v1/products", &build::product())
        .await
        .must(201);
    assert_eq!(made.header("Location"), Some(PATH));
    let told = made.json();
    assert_eq!(told["origin"], "tenant");
    assert_eq!(told["version"], 1);
    assert_eq!(told["withdrawn"], false);
    assert_eq!(told["source"], "data sheet TDS 114, edition 2026-02");
    let found = admin.get(PATH).await.must(200);
    assert_eq!((found.etag(), found.body), (made.etag(), made.body));
    let page = admin.get("/v1/products").await.must(200);
    let items = page.json();
    let items = read::list(&items, "/items");
    assert_eq!(items.len(), n_built_in + 1);
    assert_eq!(items[0], told);
    assert!(items[1..].iter().all(|item| item["origin"] == "built_in"));
    let tag = page.header("ETag").unwrap().to_owned();
    let known = admin.call(Method::GET, "/v1/products");
    let known = known.header("If-None-Match", &tag).answer().await;
    assert!(known.must(304).body.is_empty());
    assert_ne!(built_in.header("ETag"), Some(&*tag));
    let south = app.admin_of(SOUTH);
    south.get(PATH).await.problem(404, "not_found");
    assert_eq!(
        south.get("/v1/products").await.must(200).body,
        built_in.body
    );
}

#[tokio::test]
async fn a_plan_is_worked_out_with_the_tenants_own_product_and_says_so() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let before = plan(&admin, &site).await;
    assert_eq!(polish(&before)["product"]["key"], "polish_emulsion");
    assert!(polish(&before)["product_version"].is_null());
    let _made = admin
        .post("/v1/products", &build::product())
        .await
        .must(201);
    let after = plan(&admin, &site).await;
    let line = polish(&after);
    assert_eq!(line["product"]["key"], "night_polish");
    assert_eq!(line["product_version"], 1);
    // The same coats at 40 m² a litre, where the built-in one covers 35 on the first and 45 on later coats.
    let coats: Vec<&Value> = read::list(&after["work"], "/steps")
        .iter()
        .filter(|step| step["product"]["class"] == "polish")
        .collect();
    let litres: f64 = coats
        .iter()
        .map(|coat| read::number(coat, "/coat/area_m2") / 40.0)
        .sum();
    assert!(
        (read::number(line, "/need_l") - litres).abs() < 0.01,
        "{line:#} {litres}"
    );
    assert!(
        coats
            .iter()
            .all(|coat| coat["product"]["product_version"] == 1)
    );
    assert_eq!(line["packs"][0]["size_l"], 10.0);
    let source = "data sheet TDS 114, edition 2026-02";
    assert_eq!(basis(&after, "product.night_polish")["source"], source);
    let label = read::find(&after["work"], "/basis", "/source", source);
    assert_eq!(label["grade"], "published");
    let waits = read::list(&after["work"], "/basis").iter();
    let waits =
        waits.filter(|row| read::text(row, "/id").starts_with("wait.") && row["source"] == source);
    assert!(waits.count() >= coats.len());
    let estimate = build::estimate(&site);
    let estimate = admin
        .post("/v1/estimates", &estimate)
        .await
        .must(201)
        .json();
    let line = read::find(&estimate, "/products", "/class", "polish");
    assert_eq!(line["product"]["key"], "night_polish");
    assert_eq!(line["product_version"], 1);
}

#[tokio::test]
async fn rules_judge_the_figures_of_the_tenants_own_product() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let wish = json!({"goal": "clean", "process": "damp_mop"});
    let request = json!({"surface_id": surface, "wish": wish});
    let before = build::new_plan(&admin, &request).await.json();
    assert_ne!(before["verdict"], "refused", "{before:#}");
    let caustic = json!({
        "key": "caustic", "class": "neutral_cleaner", "name": "Caustic cleaner",
        "suits": ["vinyl_composition_tile"], "dilution": 100, "dose_ml_m2": 40, "ph_in_use": 13,
        "packs": [{"size_l": 5, "example_price": "9"}],
        "sheet": {"reference": "TDS 13", "edition": "1"},
    });
    let _made = admin.post("/v1/products", &caustic).await.must(201);
    let after = build::new_plan(&admin, &request).await.json();
    assert_eq!(after["verdict"], "refused", "{after:#}");
}

#[tokio::test]
async fn a_product_counts_on_the_materials_that_it_suits_and_until_it_is_withdrawn() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let materials = admin.get("/v1/materials").await.must(200).json();
    let other = read::list(&materials, "/items")
        .iter()
        .map(|row| read::text(row, "/key"))
        .find(|key| *key != "vinyl_composition_tile")
        .unwrap();
    let change = json!({"key": "hall_polish", "suits": [other]});
    let elsewhere = with(build::product(), change);
    let _other = admin.post("/v1/products", &elsewhere).await.must(201);
    let key = |plan: &Value| polish(plan)["product"]["key"].as_str().unwrap().to_owned();
    assert_eq!(key(&plan(&admin, &site).await), "polish_emulsion");
    let made = admin
        .post("/v1/products", &build::product())
        .await
        .must(201);
    let later = with(build::product(), json!({"key": "later_polish"}));
    let _later = admin.post("/v1/products", &later).await.must(201);
    assert_eq!(key(&plan(&admin, &site).await), "night_polish");
    let withdrawn = json!({"withdrawn": true});
    let gone = admin.patch(PATH, &made.etag(), &withdrawn).await.must(200);
    assert_eq!(gone.json()["withdrawn"], true);
    assert_eq!(key(&plan(&admin, &site).await), "later_polish");
    assert_eq!(admin.get(PATH).await.must(200).body, gone.body);
}

#[tokio::test]
async fn a_change_is_a_new_version_and_a_change_of_nothing_is_none() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let made = admin
        .post("/v1/products", &build::product())
        .await
        .must(201);
    let first = plan(&admin, &site).await;
    let change = json!({"foot_wait_min": 200, "sheet": {"edition": "2026-09"}});
    let changed = admin.patch(PATH, &made.etag(), &change).await.must(200);
    assert_eq!(changed.etag(), "\"2.json\"");
    assert_eq!(
        changed.json()["source"],
        "data sheet TDS 114, edition 2026-09"
    );
    let same = admin.patch(PATH, &changed.etag(), &change).await.must(200);
    assert_eq!(same.body, changed.body);
    admin
        .patch(PATH, &made.etag(), &change)
        .await
        .problem(412, "stale_version");
    assert_eq!(polish(&plan(&admin, &site).await)["product_version"], 2);
    let kept = format!("/v1/plans/{}", read::text(&first, "/id"));
    assert_eq!(admin.get(&kept).await.must(200).json(), first);
    let tx = app.store().read(app.tenant(NORTH)).await.unwrap();
    let events = tx.outbox().list(100).await.unwrap();
    let kinds: Vec<_> = events
        .iter()
        .filter(|event| event.subject == "night_polish")
        .map(|event| (event.kind.as_str(), event.version))
        .collect();
    let expected = [
        ("wearcourse.product.registered.v1", 1),
        ("wearcourse.product.changed.v1", 2),
    ];
    assert_eq!(kinds, expected);
}

#[tokio::test]
async fn a_rate_card_and_a_report_may_name_the_tenants_own_product() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let cards = format!("/v1/sites/{site}/rate-cards");
    let pack = json!([{"product": "night_polish", "size_l": 5, "price": pounds("20.00")}]);
    let change = json!({"packs": pack, "valid_from": "2026-06-01"});
    let card = with(build::golden_rate_card(), change);
    let early = admin.post(&cards, &card).await;
    early.problem(422, "invalid_body");
    let place = ("#/packs/0/product".to_owned(), "unknown_product".to_owned());
    assert_eq!(early.faults(), [place]);
    let _made = admin
        .post("/v1/products", &build::product())
        .await
        .must(201);
    let _issued = admin.post(&cards, &card).await.must(201);
    let plan = plan(&admin, &site).await;
    assert_eq!(polish(&plan)["packs"][0]["size_l"], 5.0);
    assert_eq!(polish(&plan)["example_price"], false);
    let _withdrawn = admin
        .patch(PATH, "*", &json!({"withdrawn": true}))
        .await
        .must(200);
    let used = json!([{"product": "night_polish", "volume_l": 10}]);
    let done = json!({
        "products": used, "plan_id": plan["id"],
        "started_at": "2026-06-01T02:00:00Z", "finished_at": "2026-06-01T10:00:00Z",
    });
    let surface = read::text(&plan, "/surface_id").to_owned();
    let done = with(build::completion(&surface), done);
    let done = admin
        .record("/v1/completions", &done)
        .await
        .must(201)
        .json();
    let line = read::find(&done, "/lines", "/product_class", "polish");
    assert_eq!(read::cents(line, "/actual"), 4_000);
    let south = app.admin_of(SOUTH);
    let theirs = build::new_site(&south).await;
    let foreign = south
        .post(&format!("/v1/sites/{theirs}/rate-cards"), &card)
        .await;
    foreign.problem(422, "invalid_body");
}

#[tokio::test]
async fn every_fault_of_a_product_is_told_at_once() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let bad = with(
        build::product(),
        json!({
            "key": "Night Polish", "ph_in_use": 14.1, "water_share": 1.1, "dilution": -1, "suits": [],
            "coverage_first": {"none": 0.9, "low": 201}, "packs": [{"size_l": 5, "example_price": "1,50"}],
            "sheet": {"reference": " ", "edition": null}, "colour": "white",
        }),
    );
    let refused = admin.post("/v1/products", &bad).await;
    refused.problem(422, "invalid_body");
    let faults = refused.faults();
    for place in [
        "#/key",
        "#/ph_in_use",
        "#/water_share",
        "#/dilution",
        "#/suits",
        "#/coverage_first/none",
        "#/coverage_first/low",
        "#/packs/0/example_price",
        "#/sheet/reference",
        "#/sheet/edition",
        "#/colour",
    ] {
        let told = faults.iter().any(|(found, _)| found == place);
        assert!(told, "{place}: {faults:?}");
    }
    let pack = json!({"size_l": 5, "example_price": "1.50"});
    let bad = with(
        build::product(),
        json!({
            "key": "polish_emulsion", "suits": ["moon_rock", "terrazzo", "terrazzo"],
            "dose_ml_m2": 20, "water_share": null, "packs": [pack, pack],
        }),
    );
    let refused = admin.post("/v1/products", &bad).await;
    refused.problem(422, "invalid_body");
    let faults = refused.faults();
    for (place, code) in [
        ("#/key", "reserved"),
        ("#/suits/0", "unknown_material"),
        ("#/dose_ml_m2", "not_of_class"),
        ("#/water_share", "required"),
        ("#/packs/1/size_l", "duplicate"),
    ] {
        let told = faults.contains(&(place.to_owned(), code.to_owned()));
        assert!(told, "{place} {code}: {faults:?}");
    }
    let bad = with(build::product(), json!({"class": "wax_on"}));
    let refused = admin.post("/v1/products", &bad).await;
    let place = ("#/class".to_owned(), "unknown_class".to_owned());
    assert_eq!(refused.faults(), [place]);
    let bad = with(build::product(), json!({"class": "neutral_cleaner"}));
    let refused = admin.post("/v1/products", &bad).await;
    assert_eq!(refused.faults().len(), 6, "{}", refused.text());
}

#[tokio::test]
async fn what_a_product_is_known_by_cannot_be_changed_and_what_is_built_in_neither() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let _made = admin
        .post("/v1/products", &build::product())
        .await
        .must(201);
    let again = admin.post("/v1/products", &build::product()).await;
    again.problem(409, "already_exists");
    let _theirs = app
        .admin_of(SOUTH)
        .post("/v1/products", &build::product())
        .await
        .must(201);
    let change = json!({"key": "day_polish", "class": "seal", "ph_in_use": 8});
    let refused = admin.patch(PATH, "*", &change).await;
    refused.problem(422, "invalid_body");
    let places = ["#/class", "#/key"].map(|place| (place.to_owned(), "read_only".to_owned()));
    assert_eq!(refused.faults(), places);
    let built_in = admin
        .patch(
            "/v1/products/polish_emulsion",
            "*",
            &json!({"ph_in_use": 7}),
        )
        .await;
    built_in.problem(409, "state_conflict");
    let unknown = admin
        .patch("/v1/products/no_such", "*", &json!({"ph_in_use": 7}))
        .await;
    unknown.problem(404, "not_found");
}

#[tokio::test]
async fn the_data_sheet_says_in_which_air_a_coat_is_laid() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let verdict = async |air_c: f64, humidity_pct: f64| {
        let wish = json!({"goal": "restore", "process": "scrub_and_recoat"});
        let climate = json!({"air_c": air_c, "floor_c": air_c, "humidity_pct": humidity_pct});
        let request = json!({"surface_id": surface, "wish": wish, "climate": climate});
        let plan = build::new_plan(&admin, &request).await.json();
        let findings = read::list(&plan, "/findings");
        [
            "too-cold-for-film",
            "too-warm-for-film",
            "too-humid-for-film",
        ]
        .map(|rule| findings.iter().any(|finding| finding["rule"] == rule))
    };
    let none = [false; 3];
    assert_eq!(verdict(10.5, 60.0).await, none);
    assert_eq!(verdict(9.5, 60.0).await, [true, false, false]);
    let figures = json!({"apply_min_c": 12, "apply_max_c": 28.5, "humidity_max_pct": 70});
    let made = with(build::product(), figures.clone());
    let made = admin.post("/v1/products", &made).await.must(201);
    assert_eq!(made.json()["apply_max_c"], 28.5);
    assert_eq!(verdict(12.0, 70.0).await, none);
    assert_eq!(verdict(11.5, 70.5).await, [true, false, true]);
    assert_eq!(verdict(29.0, 40.0).await, [false, true, false]);
    // A sheet may allow more than is usual, too.
    let bold = json!({"apply_min_c": 5, "apply_max_c": null, "humidity_max_pct": 90});
    let _done = admin.patch(PATH, &made.etag(), &bold).await.must(200);
    assert_eq!(verdict(6.0, 60.0).await, none);
    assert_eq!(verdict(33.0, 40.0).await, [false, true, false]);
    let wrong = json!({"apply_min_c": 30, "apply_max_c": 20});
    let refused = admin.patch(PATH, "*", &wrong).await;
    let fault = ("#/apply_min_c".to_owned(), "contradiction".to_owned());
    assert_eq!(refused.faults(), [fault]);
}

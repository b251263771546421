//! Surfaces: registering, changing, listing, reading.

mod versions;

use serde_json::{Value, json};
use tests::{
    app::{SOUTH, TestApp},
    build::{self, with},
    client::Caller,
    read,
};

async fn names(admin: &Caller, query: &str) -> Vec<String> {
    let page = admin
        .get(&format!("/v1/surfaces?{query}"))
        .await
        .must(200)
        .json();
    read::list(&page, "/items")
        .iter()
        .map(|item| read::text(item, "/name").to_owned())
        .collect()
}

#[tokio::test]
async fn a_surface_that_was_registered_is_read_back_byte_for_byte() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let body = with(
        build::surface(&site),
        json!({
            "external": {"system": "register", "id": " 2.104/Ä "},
            "note": "First line\nsecond line", "moisture_rh_pct": 61.5, "wet_in_use": true,
        }),
    );
    let made = admin.post("/v1/surfaces", &body).await.must(201);
    let found = admin.get(made.header("Location").unwrap()).await.must(200);
    assert_eq!(
        (found.body.clone(), found.etag()),
        (made.body.clone(), "\"1.json\"".to_owned())
    );
    let told = found.json();
    let seen = json!({"film": {"seen_at": "2026-06-01T12:00:00.000Z"}});
    for (member, value) in with(body, seen).as_object().unwrap() {
        // 240 and 240.0 are one number in JSON.
        let same = told[member] == *value
            || told[member]
                .as_f64()
                .is_some_and(|n| Some(n) == value.as_f64());
        assert!(same, "{member}: {} and not {value}", told[member]);
    }
    assert_eq!(read::list(&told, "/findings"), [Value::Null; 0]);
}

#[tokio::test]
async fn a_finish_word_is_looked_up_and_never_guessed() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let post = async |finish: &str| {
        let body = with(
            build::surface(&site),
            json!({"material": null, "finish": finish}),
        );
        admin.post("/v1/surfaces", &body).await
    };
    for (word, material) in [
        ("VINYL COMPOSITION TILE", "vinyl_composition_tile"),
        ("  vinyl   composition tile ", "vinyl_composition_tile"),
        ("Sheet Vinyl", "vinyl_sheet"),
        ("CERAMIC TILE ", "ceramic_tile"),
        ("CONCRETE", "concrete_bare"),
    ] {
        let told = post(word).await.must(201).json();
        assert_eq!(read::text(&told, "/material"), material);
        assert_eq!(read::text(&told, "/finish"), word);
    }
    for word in [
        "CARPET",
        "VINYL COMPOSITION TILE/CARPET",
        "VINYL",
        "TILE",
        "SHEET VINYL (NEW)",
        "FloorCovering",
        "n/a",
    ] {
        let refused = post(word).await;
        refused.problem(422, "invalid_body");
        assert_eq!(
            refused.faults()[0].0,
            "#/finish",
            "{word}: {}",
            refused.text()
        );
    }
}

#[tokio::test]
async fn quantities_are_rounded_to_what_is_kept_and_shown_as_kept() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let body = with(
        build::surface(&site),
        json!({"area_m2": 20.123_456_5, "perimeter_m": 19.072_000_000_000_003}),
    );
    let told = admin.post("/v1/surfaces", &body).await.must(201).json();
    // Half to even: 20.1234565 m² lies halfway between two mm².
    assert_eq!(read::number(&told, "/area_m2"), 20.123_456);
    assert_eq!(read::number(&told, "/perimeter_m"), 19.072);
}

#[tokio::test]
async fn a_perimeter_that_is_missing_or_cannot_enclose_the_area_is_a_finding() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let post = async |change: Value| {
        let body = with(build::surface(&site), change);
        admin.post("/v1/surfaces", &body).await.must(201).json()
    };
    // A rectangle twice as long as wide: 32 m² have 24 m of edge.
    for (change, rule) in [
        (
            json!({"area_m2": 32, "perimeter_m": null}),
            "perimeter-missing",
        ),
        (
            json!({"area_m2": 32, "perimeter_m": 0}),
            "perimeter-missing",
        ),
        // Feet written into millimetres.
        (
            json!({"area_m2": 32, "perimeter_m": 0.093}),
            "perimeter-impossible",
        ),
        (
            json!({"area_m2": 32, "perimeter_m": 20}),
            "perimeter-impossible",
        ),
    ] {
        let told = post(change).await;
        let finding = read::find(&told, "/findings", "/rule", rule);
        assert_eq!(read::number(finding, "/perimeter_used_m"), 24.0);
    }
    // A circle of 32 m² has 20.06 m.
    assert_eq!(
        read::list(
            &post(json!({"area_m2": 32, "perimeter_m": 20.06})).await,
            "/findings"
        )
        .len(),
        0
    );
}

#[tokio::test]
async fn every_fault_of_a_surface_is_told_at_once() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let bad = with(
        build::surface(&site),
        json!({
            "area_m2": 0, "perimeter_m": -1, "built_year": 999, "traffic": "huge", "laid_on": "2026-02-30",
            "film": {"kind": "paint", "coats": -1}, "ptv_wet": "36", "name": "\u{202e}x", "storey": "",
        }),
    );
    let refused = admin.post("/v1/surfaces", &bad).await;
    refused.problem(422, "invalid_body");
    let faults = refused.faults();
    for place in [
        "#/name",
        "#/area_m2",
        "#/perimeter_m",
        "#/built_year",
        "#/traffic",
        "#/laid_on",
        "#/film/kind",
        "#/film/coats",
        "#/ptv_wet",
        "#/storey",
    ] {
        assert!(
            faults.iter().any(|(found, _)| found == place),
            "{place}: {faults:?}"
        );
    }
    let id = build::new_surface(&admin, &build::surface(&site)).await;
    let change = json!({"name": "\u{202e}x", "area_m2": 0});
    let refused = admin
        .patch(&format!("/v1/surfaces/{id}"), "*", &change)
        .await;
    refused.problem(422, "invalid_body");
    assert_eq!(
        refused.faults(),
        [
            ("#/area_m2".to_owned(), "minimum".to_owned()),
            ("#/name".to_owned(), "forbidden_character".to_owned()),
        ]
    );
}

#[tokio::test]
async fn a_body_full_of_faults_is_answered_with_some() {
    let app = TestApp::start().await;
    let mut body = b"[\"\xe2\x80\x8b\"".to_vec();
    while body.len() < 5 * 1024 * 1024 - 8 {
        body.extend_from_slice(b",\"\xe2\x80\x8b\"");
    }
    body.push(b']');
    let call = app
        .admin()
        .call(reqwest::Method::POST, "/v1/surfaces/batch");
    let call = call.header("Content-Type", "application/json");
    let answer = call
        .header("Idempotency-Key", "k")
        .bytes(body)
        .answer()
        .await;
    answer.problem(422, "invalid_body");
    assert_eq!(answer.faults().len(), 1_000);
}

#[tokio::test]
async fn what_contradicts_itself_or_names_nothing_is_refused() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let souths = build::new_site(&app.admin_of(SOUTH)).await;
    let nobodys = "sit_0193e8a0-0000-7000-8000-00000000dead";
    for (change, place) in [
        (json!({"finish": "CONCRETE"}), "#/finish"),
        (json!({"material": null}), "#/finish"),
        (json!({"material": "marble_dust"}), "#/material"),
        (json!({"site_id": souths}), "#/site_id"),
        (json!({"site_id": nobodys}), "#/site_id"),
        (json!({"area_m2": 1_000_001}), "#/area_m2"),
        (json!({"area_m2": 0.009}), "#/area_m2"),
    ] {
        let refused = admin
            .post("/v1/surfaces", &with(build::surface(&site), change.clone()))
            .await;
        refused.problem(422, "invalid_body");
        assert!(
            refused.faults().iter().any(|(found, _)| found == place),
            "{change}: {}",
            refused.text()
        );
    }
}

#[tokio::test]
async fn a_change_is_merged_and_what_is_taken_away_is_gone() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let made = admin
        .post("/v1/surfaces", &build::surface(&site))
        .await
        .must(201);
    let place = made.header("Location").unwrap().to_owned();
    app.clock().advance(chrono::TimeDelta::hours(1));
    let patch = json!({"film": {"condition": "yellowed"}, "traffic": null, "area_m2": 241.5});
    let changed = admin
        .patch(&place, &made.etag(), &patch)
        .await
        .must(200)
        .json();
    assert_eq!(
        changed["film"],
        json!({"kind": "polish", "coats": 6, "condition": "yellowed", "seen_at": "2026-06-01T13:00:00.000Z"})
    );
    assert_eq!(changed.get("traffic"), None);
    assert_eq!(read::number(&changed, "/area_m2"), 241.5);
    assert_eq!(
        (
            read::text(&changed, "/created_at"),
            read::text(&changed, "/updated_at")
        ),
        ("2026-06-01T12:00:00.000Z", "2026-06-01T13:00:00.000Z")
    );
    for (patch, fault) in [
        (json!({"area_m2": null}), "#/area_m2"),
        (json!({"finish": "CONCRETE"}), "#/finish"),
        (
            json!({"site_id": "sit_0193e8a0-0000-7000-8000-00000000dead"}),
            "#/site_id",
        ),
        (json!({"film": {"coats": 1.5}}), "#/film/coats"),
    ] {
        let refused = admin.patch(&place, "*", &patch).await;
        refused.problem(422, "invalid_body");
        assert!(
            refused.faults().iter().any(|(found, _)| found == fault),
            "{patch}: {}",
            refused.text()
        );
    }
}

#[tokio::test]
async fn a_list_of_surfaces_holds_those_that_are_asked_for() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (one, other) = (build::new_site(&admin).await, build::new_site(&admin).await);
    for (site, name, storey, material) in [
        (&one, "A", "1", "vinyl_sheet"),
        (&one, "B", "2", "ceramic_tile"),
        (&one, "C", "2", "vinyl_sheet"),
        (&other, "D", "2", "safety_vinyl"),
    ] {
        let external = json!({"system": "register", "id": name});
        let change =
            json!({"name": name, "storey": storey, "material": material, "external": external});
        build::new_surface(&admin, &with(build::surface(site), change)).await;
    }
    assert_eq!(names(&admin, "").await, ["A", "B", "C", "D"]);
    assert_eq!(
        names(&admin, &format!("site_id={one}")).await,
        ["A", "B", "C"]
    );
    assert_eq!(
        names(&admin, &format!("site_id={one}&storey=2")).await,
        ["B", "C"]
    );
    assert_eq!(
        names(&admin, "material=ceramic_tile&material=safety_vinyl").await,
        ["B", "D"]
    );
    assert_eq!(
        names(&admin, "external_system=register&external_id=C").await,
        ["C"]
    );
    assert_eq!(
        names(&admin, "external_system=register&external_id=c").await,
        [""; 0]
    );
    assert_eq!(names(&app.admin_of(SOUTH), "").await, [""; 0]);
    admin
        .get("/v1/surfaces?storye=2")
        .await
        .problem(400, "unknown_parameter");
    admin
        .get("/v1/surfaces?site_id=7")
        .await
        .problem(400, "invalid_parameter");
}

#[tokio::test]
async fn a_route_with_one_representation_sends_it_whatever_is_accepted() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let path = format!("/v1/surfaces/{}", {
        let site = build::new_site(&admin).await;
        build::new_surface(&admin, &build::surface(&site)).await
    });
    for accept in [
        "application/json",
        "*/*",
        "text/csv",
        "application/json;q=0",
        "nonsense",
    ] {
        let call = admin.call(reqwest::Method::GET, &path);
        let answer = call.header("Accept", accept).answer().await.must(200);
        assert_eq!(
            answer.header("Content-Type"),
            Some("application/json"),
            "{accept}"
        );
    }
}

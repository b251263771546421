//! The knowledge base: what the planner knows, with the source and the grade of each row.

use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    app::{SOUTH, TestApp},
    build::{self, with},
    client::Caller,
    read,
};

#[tokio::test]
async fn every_row_says_where_it_comes_from_and_is_read_alone_as_in_its_list() {
    let app = TestApp::start().await;
    let reader = app.as_("north", &["knowledge:read"]);
    for (path, least) in [
        ("/v1/identification-tests", 9),
        ("/v1/materials", 33),
        ("/v1/processes", 35),
        ("/v1/product-classes", 20),
        ("/v1/products", 30),
        ("/v1/rules", 130),
    ] {
        let whole = if path == "/v1/rules" {
            "?limit=200"
        } else {
            ""
        };
        let page = reader.get(&format!("{path}{whole}")).await.must(200).json();
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
            let grades = ["published", "as_quoted", "common_practice", "from_memory"];
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
    let processes = app.admin().get("/v1/processes").await.must(200);
    assert_ne!(processes.etag(), norths.etag());
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

/// The ids of the rules that a search finds.
async fn found(reader: &Caller, search: &str) -> Vec<String> {
    let path = format!("/v1/rules?limit=200&{search}");
    let page = reader.get(&path).await.must(200).json();
    let rows = read::list(&page, "/items").iter();
    rows.map(|rule| read::text(rule, "/key").to_owned())
        .collect()
}

#[tokio::test]
async fn rules_are_found_by_what_they_could_fire_for_and_by_what_they_say() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let has = |rules: &[String], rule: &str| rules.iter().any(|found| found == rule);
    let marble = found(&admin, "material=marble").await;
    assert!(has(&marble, "acid-refused") && has(&marble, "polish-where-film-forbidden"));
    let vinyl = found(&admin, "material=vinyl_sheet").await;
    assert!(!has(&vinyl, "acid-refused") && has(&vinyl, "new-floor-wet"));
    let sanding = found(&admin, "process=sand_wood").await;
    assert!(has(&sanding, "detection-live") && !has(&sanding, "nothing-to-strip"));
    let both = found(&admin, "material=vinyl_sheet&process=sand_wood").await;
    assert!(has(&both, "screen-on-other-floor") && !has(&both, "wood-too-moist"));
    let bleach = found(&admin, "product=disinfectant_hypochlorite").await;
    assert!(has(&bleach, "bleach-meets-acid") && !has(&bleach, "isocyanate-trade"));
    let own = build::with(
        build::product(),
        json!({"key": "night_bleach", "class": "neutral_cleaner", "contains": ["hypochlorite"], "dose_ml_m2": 20,
            "coverage_first": null, "coverage_next": null, "water_share": null, "coat_wait_min": null,
            "foot_wait_min": null}),
    );
    let _registered = admin.post("/v1/products", &own).await.must(201);
    assert!(has(
        &found(&admin, "product=night_bleach").await,
        "bleach-meets-acid"
    ));
    let gas = found(&admin, "text=CHLORINE&severity=refuse").await;
    assert_eq!(gas, ["bleach-meets-acid"]);
    assert!(
        found(&admin, "text=chlorine&severity=warn")
            .await
            .is_empty()
    );
    let unknown = "/v1/rules?material=cheese&process=dance&product=night_bleach&severity=harsh";
    let refused = admin.get(unknown).await;
    refused.problem(422, "parameter_out_of_range");
    assert_eq!(refused.faults().len(), 3);
    // Another tenant does not have that product.
    let other = app
        .admin_of(SOUTH)
        .get("/v1/rules?product=night_bleach")
        .await;
    other.problem(422, "parameter_out_of_range");
}

#[tokio::test]
async fn rules_come_in_pages_that_add_up() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let whole = found(&admin, "severity=refuse").await;
    let (mut paged, mut next) = (Vec::new(), String::new());
    loop {
        let path = format!("/v1/rules?severity=refuse&limit=7{next}");
        let page = admin.get(&path).await.must(200).json();
        let rows = read::list(&page, "/items");
        assert!(rows.len() <= 7);
        paged.extend(rows.iter().map(|rule| read::text(rule, "/key").to_owned()));
        match page["next_cursor"].as_str() {
            Some(cursor) => next = format!("&cursor={cursor}"),
            None => break,
        }
    }
    assert_eq!(paged, whole);
    let strange = format!("/v1/rules?severity=warn{next}");
    admin.get(&strange).await.problem(400, "bad_cursor");
}

#[tokio::test]
async fn tools_say_what_they_are_held_against() {
    let app = TestApp::start().await;
    let tools = app.admin().get("/v1/tools").await.must(200).json();
    let red = read::find(&tools, "/pads", "/key", "red");
    assert_eq!(red["rank"], 2);
    let burnisher = read::find(&tools, "/machines", "/key", "burnisher_50");
    let fastest = burnisher["rpm"][1].as_f64().unwrap();
    assert!(fastest > read::number(red, "/max_rpm"));
    for list in ["/pads", "/machines", "/mops", "/consumables"] {
        assert!(read::list(&tools, list).len() >= 6, "{list}");
        for row in read::list(&tools, list) {
            assert!(!read::text(row, "/source").is_empty(), "{row}");
        }
    }
}

#[tokio::test]
async fn a_tool_or_a_strength_of_the_caller_is_worked_with_and_an_unknown_one_told_of() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let floor = build::new_surface(&admin, &build::surface(&site)).await;
    let plan =
        |limits: Value| json!({"surface_id": floor, "wish": {"goal": "restore", "limits": limits}});
    let limits = json!({"machine": "rotary_43_two_speed", "pad": "brown", "products": [
        {"class": "stripper", "product": "stripper_alkaline", "dilution": 9},
    ]});
    let made = build::new_plan(&admin, &plan(limits)).await.json();
    let step = |key: &str| read::find(read::at(&made, "/work"), "/steps", "/key", key);
    let scrub = step("scrub_off");
    assert_eq!(read::text(scrub, "/pad"), "brown");
    assert!(read::text(scrub, "/tool").contains("300 to 350 rpm"));
    assert_eq!(read::text(step("lay_stripper"), "/product/dilution"), "1:9");
    let stripper = read::find(
        read::at(&made, "/work"),
        "/products",
        "/product/key",
        "stripper_alkaline",
    );
    // 240 m² at 0.25 L are 60 L of solution, of which a tenth is concentrate.
    assert_eq!(read::number(stripper, "/need_l"), 6.0);

    let limits = json!({"machine": "hover_board", "pad": "plaid"});
    let refused = admin.post("/v1/plans", &plan(limits)).await;
    refused.problem(422, "invalid_body");
    let place = |member: &str| format!("#/wish/limits/{member}");
    let expected = [
        (place("machine"), "unknown_machine".to_owned()),
        (place("pad"), "unknown_pad".to_owned()),
    ];
    assert_eq!(refused.faults(), expected);
}

#[tokio::test]
async fn the_keys_that_requests_take_can_be_read() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let told = admin.get("/v1/activities").await.must(200).json();
    let activities = read::list(&told, "/items");
    assert!(activities.len() > 20);
    // A rate card may name each of them.
    let mut keys: Vec<&str> = activities
        .iter()
        .map(|row| read::text(row, "/key"))
        .collect();
    keys.sort_unstable();
    keys.dedup();
    let rates: Vec<_> = keys
        .iter()
        .map(|key| json!({"activity": key, "per_h": 100}))
        .collect();
    let card = with(build::golden_rate_card(), json!({"rates": rates}));
    let site = with(build::site(), json!({"rate_card": card}));
    let _made = admin.post("/v1/sites", &site).await.must(201);
    let told = admin.get("/v1/finishes").await.must(200).json();
    let site = build::new_site(&admin).await;
    let mut n_hard = 0;
    for row in read::list(&told, "/items") {
        let (word, means) = (read::text(row, "/word"), read::text(row, "/means"));
        let finish = json!({"material": null, "finish": word, "film": null});
        let made = admin
            .post("/v1/surfaces", &with(build::surface(&site), finish))
            .await;
        if ["soft", "mixed"].contains(&means) {
            made.problem(422, "invalid_body");
        } else {
            assert_eq!(made.must(201).json()["material"], means);
            n_hard += 1;
        }
    }
    assert!(n_hard > 20, "{n_hard}");
}

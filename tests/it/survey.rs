//! Survey facts beyond material and film: the maker's instruction, access windows, services, and floors that were
//! replaced.

use serde_json::{Value, json};
use tests::{
    app::{SOUTH, TestApp},
    build::{self, with},
    client::Caller,
    read,
};

/// All facts that this file is about.
fn facts() -> Value {
    json!({
        "profile": "embossed", "joints": "welded", "moisture_method": "surface_hood", "ramp_gradient_pct": 2.5,
        "underfloor_heating": true, "floor_boxes": true, "ventilation": "extract", "ignition_source": false,
        "room": {"air_changes_per_h": 4.5, "ceiling_height_m": 2.75, "volume_m3": 480.0},
        "residue_ph": 9.2,
        "smoke_detection": true, "route_bypass": true,
        "services": {
            "water": {"present": true, "distance_m": 12.5, "alkalinity_mg_l": 180.0}, "power": {"present": true, "distance_m": 3.0, "rcd": true},
            "drain": {"present": false}, "slurry_to": "collect",
        },
        "access_windows": [
            {"days": ["monday", "friday"], "from": "22:00", "to": "06:00"},
            {"days": ["sunday"], "from": "08:00", "to": "12:00"},
        ],
        "maker_instruction": {
            "reference": "Care guide, edition 4", "read_on": "2026-02-11", "forbidden_processes": ["burnish_polish"],
            "forbidden_product_classes": ["stripper"], "wettest": "wet", "ph_min": 5.0, "ph_max": 10.0,
            "pads": ["white", "red"], "products": ["cleaner_neutral"], "finish": "polish", "polish_coats": 3,
            "seal_coats": 0, "edge_gap_mm": 150, "waits": {"between_coats_min": 45},
        },
    })
}

async fn plan(caller: &Caller, surface: &str, wish: Value) -> Value {
    let body = json!({"surface_id": surface, "wish": wish});
    caller.post("/v1/plans", &body).await.must(201).json()
}

#[tokio::test]
async fn every_fact_of_a_survey_is_kept_by_register_patch_and_batch() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let named = json!({"external": {"system": "register", "id": "1"}});
    let body = with(with(build::surface(&site), facts()), named);
    let made = admin.post("/v1/surfaces", &body).await.must(201);
    let path = made.header("Location").unwrap().to_owned();
    let holds = |told: &Value| {
        for (member, value) in facts().as_object().unwrap() {
            assert_eq!(told[member], *value, "{member}");
        }
    };
    holds(&made.json());
    let change = json!({"maker_instruction": {"ph_max": null}, "services": null, "profile": null});
    let changed = admin.patch(&path, "*", &change).await.must(200).json();
    assert_eq!(changed["maker_instruction"]["ph_min"], 5.0);
    assert!(changed["maker_instruction"]["ph_max"].is_null() && changed["services"].is_null());
    let batch = json!({"items": [body]});
    let done = admin.record("/v1/surfaces/batch", &batch).await.must(200);
    assert_eq!(done.json()["items"][0]["outcome"], "updated");
    holds(&admin.get(&path).await.must(200).json());
}

#[tokio::test]
async fn what_an_instruction_names_must_exist_and_points_must_agree() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let wrong = json!({
        "maker_instruction": {
            "reference": "Care guide", "read_on": "2026-02-11", "forbidden_processes": ["wet_mop", "sing"],
            "forbidden_product_classes": ["soup"], "pads": ["tartan"], "products": ["elixir"],
        },
        "services": {"drain": {"present": false, "distance_m": 3}},
        "access_windows": [{"days": ["monday", "monday"], "from": "22:00", "to": "06:00"}],
    });
    let body = with(build::surface(&site), wrong);
    let refused = admin.post("/v1/surfaces", &body).await;
    refused.problem(422, "invalid_body");
    let expected = [
        ("#/access_windows/0/days", "duplicate"),
        (
            "#/maker_instruction/forbidden_processes/1",
            "unknown_process",
        ),
        (
            "#/maker_instruction/forbidden_product_classes/0",
            "unknown_class",
        ),
        ("#/maker_instruction/pads/0", "unknown_pad"),
        ("#/maker_instruction/products/0", "unknown_product"),
        ("#/services/drain/distance_m", "contradiction"),
    ];
    let expected = expected.map(|(at, code)| (at.to_owned(), code.to_owned()));
    assert_eq!(refused.faults(), expected);
    // The tenant's own products may be demanded.
    let _done = admin
        .post("/v1/products", &build::product())
        .await
        .must(201);
    let key = build::product()["key"].clone();
    let maker = json!({"reference": "Care guide", "read_on": "2026-02-11", "products": [key]});
    let body = with(build::surface(&site), json!({"maker_instruction": maker}));
    let _done = admin.post("/v1/surfaces", &body).await.must(201);
}

#[tokio::test]
async fn fact_k20_a_plan_against_the_makers_instruction_is_refused_and_names_it() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let maker = json!({
        "reference": "Care guide, edition 4", "read_on": "2026-02-11",
        "forbidden_processes": ["machine_strip_and_refinish"],
    });
    let body = with(build::surface(&site), json!({"maker_instruction": maker}));
    let surface = build::new_surface(&admin, &body).await;
    let wish = json!({"goal": "restore", "process": "machine_strip_and_refinish"});
    let plan = plan(&admin, &surface, wish).await;
    assert_eq!(plan["verdict"], "refused");
    let finding = read::find(&plan, "/findings", "/rule", "maker-forbids-process");
    let cited = "instruction of the floor's maker: Care guide, edition 4, read on 2026-02-11";
    assert_eq!(finding["source"], cited);
}

#[tokio::test]
async fn a_wish_without_a_window_takes_the_longest_of_the_floor() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let windows = json!({"access_windows": [
        {"days": ["saturday"], "from": "20:00", "to": "00:00"},
        {"days": ["sunday"], "from": "00:00", "to": "06:30"},
    ]});
    let body = with(build::surface(&site), windows);
    let surface = build::new_surface(&admin, &body).await;
    let own = plan(&admin, &surface, json!({"goal": "restore"})).await;
    assert_eq!(read::number(&own["work"], "/time_line/window_min"), 630.0);
    read::find(&own, "/findings", "/rule", "window-of-floor");
    let wish = json!({"goal": "restore", "limits": {"window_min": 480}});
    let wished = plan(&admin, &surface, wish).await;
    assert_eq!(
        read::number(&wished["work"], "/time_line/window_min"),
        480.0
    );
}

/// The path of a surface with this name, and its id.
async fn floor(caller: &Caller, site: &str, name: &str) -> (String, String) {
    let external = json!({"system": "register", "id": name});
    let body = with(
        build::surface(site),
        json!({"name": name, "external": external}),
    );
    let id = build::new_surface(caller, &body).await;
    (format!("/v1/surfaces/{id}"), id)
}

fn by(id: &str, on: &str) -> Value {
    json!({"replaced_by": {"surface_id": id, "on": on}})
}

#[tokio::test]
async fn nothing_is_planned_for_a_floor_after_it_was_replaced() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let (old, old_id) = floor(&admin, &site, "old").await;
    let (_, new_id) = floor(&admin, &site, "new").await;
    plan(&admin, &old_id, json!({"goal": "clean"})).await;
    let today = app.now().date_naive();
    let tomorrow = today.succ_opt().unwrap().to_string();
    let change = by(&new_id, &tomorrow);
    let told = admin.patch(&old, "*", &change).await.must(200).json();
    assert_eq!(told["replaced_by"], change["replaced_by"]);
    plan(&admin, &old_id, json!({"goal": "clean"})).await;

    let change = by(&new_id, &today.to_string());
    let _done = admin.patch(&old, "*", &change).await.must(200);
    let body = json!({"surface_id": old_id, "wish": {"goal": "clean"}});
    for path in ["/v1/plans", "/v1/plans/preview"] {
        let refused = admin.post(path, &body).await;
        let problem = refused.problem(422, "invalid_body");
        let fault = ("#/surface_id".to_owned(), "surface_replaced".to_owned());
        assert_eq!(refused.faults(), [fault]);
        assert!(problem.to_string().contains(&new_id), "{problem}");
    }
    let named =
        json!({"site_id": site, "surface_ids": [new_id, old_id], "wish": {"goal": "clean"}});
    let refused = admin.post("/v1/estimates", &named).await;
    let fault = ("#/surface_ids/1".to_owned(), "surface_replaced".to_owned());
    assert_eq!(refused.faults(), [fault]);
    let all = json!({"site_id": site, "wish": {"goal": "clean"}});
    let all = admin.post("/v1/estimates", &all).await.must(201).json();
    assert_eq!(read::list(&all, "/surfaces").len(), 1);
    // What was known and planned of it stays.
    let plans = admin.get(&format!("/v1/plans?surface_id={old_id}")).await;
    assert_eq!(read::list(&plans.must(200).json(), "/items").len(), 2);
    let _done = admin
        .patch(&old, "*", &json!({"replaced_by": null}))
        .await
        .must(200);
    plan(&admin, &old_id, json!({"goal": "clean"})).await;
}

#[tokio::test]
async fn a_successor_is_at_the_same_site_and_never_follows_itself() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let other_site = build::new_site(&admin).await;
    let (first, a) = floor(&admin, &site, "a").await;
    let (second, b) = floor(&admin, &site, "b").await;
    let (third, c) = floor(&admin, &site, "c").await;
    let (_, elsewhere) = floor(&admin, &other_site, "d").await;
    let south = app.admin_of(SOUTH);
    let (_, foreign) = floor(&south, &build::new_site(&south).await, "e").await;
    let day = "2026-11-01";
    let _done = admin.patch(&first, "*", &by(&b, day)).await.must(200);
    let _done = admin.patch(&second, "*", &by(&c, day)).await.must(200);
    let unknown = "srf_0193e8a0-0000-7000-8000-00000000dead";
    let cases = [
        (a.as_str(), "circle"),
        (b.as_str(), "circle"),
        (c.as_str(), "circle"),
        (elsewhere.as_str(), "other_site"),
        (foreign.as_str(), "reference_not_found"),
        (unknown, "reference_not_found"),
    ];
    let item = |name: &str, next: &str| {
        let named = json!({"name": name, "external": {"system": "register", "id": name}});
        with(with(build::surface(&site), named), by(next, day))
    };
    for (next, code) in cases {
        let refused = admin.patch(&third, "*", &by(next, day)).await;
        let place = "#/replaced_by/surface_id";
        assert_eq!(refused.faults(), [(place.to_owned(), code.to_owned())]);
        let batch = json!({"items": [item("c", next)]});
        let refused = admin.record("/v1/surfaces/batch", &batch).await;
        let place = "#/items/0/replaced_by/surface_id";
        assert_eq!(refused.faults(), [(place.to_owned(), code.to_owned())]);
    }
    // A batch sees what its own earlier items say: b no more leads to c, then c to a is no circle.
    let alone = with(item("b", &a), json!({"replaced_by": null}));
    let batch = json!({"items": [alone, item("c", &a)]});
    let _done = admin.record("/v1/surfaces/batch", &batch).await.must(200);
    let batch = json!({"items": [item("b", &c)]});
    let refused = admin.record("/v1/surfaces/batch", &batch).await;
    assert_eq!(refused.faults()[0].1, "circle");
}

#[tokio::test]
async fn nothing_is_planned_for_a_floor_that_was_retired() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let (path, id) = floor(&admin, &site, "gone").await;
    let (_, other) = floor(&admin, &site, "there").await;
    let today = app.now().date_naive();
    let tomorrow = json!({"retired_on": today.succ_opt().unwrap().to_string()});
    let _done = admin.patch(&path, "*", &tomorrow).await.must(200);
    plan(&admin, &id, json!({"goal": "clean"})).await;
    let change = json!({"retired_on": today.to_string()});
    let _done = admin.patch(&path, "*", &change).await.must(200);
    let body = json!({"surface_id": id, "wish": {"goal": "clean"}});
    let refused = admin.post("/v1/plans", &body).await;
    let fault = ("#/surface_id".to_owned(), "surface_retired".to_owned());
    assert_eq!(refused.faults(), [fault]);
    let all = json!({"site_id": site, "wish": {"goal": "clean"}});
    let all = admin.post("/v1/estimates", &all).await.must(201).json();
    let planned = read::list(&all, "/surfaces").iter();
    let planned: Vec<&str> = planned.map(|one| read::text(one, "/surface_id")).collect();
    assert_eq!(planned, [other.as_str()]);
    let _done = admin
        .patch(&path, "*", &json!({"retired_on": null}))
        .await
        .must(200);
    plan(&admin, &id, json!({"goal": "clean"})).await;
}

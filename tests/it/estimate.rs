//! Estimates: many surfaces, bought for together.

use serde_json::{Value, json};
use tests::{
    app::{SOUTH, TestApp},
    build::{self, with},
    client::Caller,
    read,
};

/// Three corridors of the worked example on two storeys, and a floor of which too little is known.
async fn estate(admin: &Caller) -> (String, Vec<String>) {
    let site = with(
        build::site(),
        json!({"rate_card": build::golden_rate_card()}),
    );
    let site = admin.post("/v1/sites", &site).await.must(201).id();
    let mut ids = Vec::new();
    for change in [
        json!({"storey": "1"}),
        json!({"storey": "2"}),
        json!({"storey": "2", "material": "vinyl_sheet"}),
        json!({"storey": "3", "built_year": null, "film": {"kind": "unknown"}}),
    ] {
        ids.push(build::new_surface(admin, &with(build::surface(&site), change)).await);
    }
    (site, ids)
}

async fn estimate(admin: &Caller, body: &Value) -> Value {
    admin.post("/v1/estimates", body).await.must(201).json()
}

#[tokio::test]
async fn an_estimate_pools_what_its_surfaces_need_and_is_read_back_byte_for_byte() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, ids) = estate(&admin).await;
    let made = admin
        .post("/v1/estimates", &build::estimate(&site))
        .await
        .must(201);
    assert_eq!(
        admin
            .get(made.header("Location").unwrap())
            .await
            .must(200)
            .body,
        made.body
    );
    let told = made.json();
    assert_eq!(
        (
            read::number(&told, "/n_surfaces"),
            read::number(&told, "/area_m2")
        ),
        (4.0, 960.0)
    );
    let of_site = format!("/v1/estimates?site_id={site}");
    let page = admin.get(&of_site).await.must(200).json();
    let brief = &read::list(&page, "/items")[0];
    for member in ["id", "created_at", "site_id", "knowledge_version"] {
        assert_eq!(brief[member], told[member], "{member}");
    }
    for member in ["n_surfaces", "area_m2"] {
        assert_eq!(brief[member], told[member], "{member}");
    }
    assert_eq!(&brief["net"], read::at(&told, "/cost/net"));
    assert_eq!(brief.as_object().unwrap().len(), 7);
    let answers = read::list(&told, "/surfaces");
    assert_eq!(
        answers
            .iter()
            .map(|a| read::text(a, "/surface_id"))
            .collect::<Vec<_>>(),
        ids
    );
    let open = read::find(&told, "/verdicts", "/verdict", "needs_information");
    assert_eq!(
        (
            read::number(open, "/n_surfaces"),
            read::number(open, "/area_m2")
        ),
        (1.0, 240.0)
    );
    assert!(read::texts(&answers[3], "/asks").contains(&"survey.built_year"));
    assert_eq!(answers[3].get("net"), None);
    let apart: i64 = answers
        .iter()
        .filter(|a| a.get("net").is_some())
        .map(|a| read::cents(a, "/net"))
        .sum();
    assert_eq!(read::cents(&told, "/apart_net"), apart);
    assert!(read::cents(&told, "/cost/net") <= apart);
}

#[tokio::test]
async fn the_litres_of_an_estimate_are_those_of_its_plans_and_its_packs_hold_them() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, ids) = estate(&admin).await;
    let told = estimate(&admin, &build::estimate(&site)).await;
    let mut need = std::collections::BTreeMap::<String, f64>::new();
    for id in &ids[..3] {
        let plan = build::new_plan(&admin, &build::plan(id)).await.json();
        for line in read::list(read::at(&plan, "/work"), "/products") {
            *need
                .entry(read::text(line, "/product/key").to_owned())
                .or_default() += read::number(line, "/need_l");
        }
    }
    let lines = read::list(&told, "/products");
    assert_eq!(lines.len(), need.len());
    for line in lines {
        let key = read::text(line, "/product/key");
        assert!(
            (read::number(line, "/need_l") - need[key]).abs() < 0.005,
            "{line} and not {}",
            need[key]
        );
        let held: f64 = read::list(line, "/packs")
            .iter()
            .map(|pack| read::number(pack, "/size_l") * read::number(pack, "/count"))
            .sum();
        assert_eq!(read::number(line, "/ordered_l"), held);
        assert!(held >= read::number(line, "/total_l"), "{line}");
    }
}

#[tokio::test]
async fn how_an_estimate_may_turn_out_is_less_than_its_plans_at_their_worst_and_says_why() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, ids) = estate(&admin).await;
    let told = estimate(&admin, &build::estimate(&site)).await;
    let mut apart = 0;
    for id in &ids[..3] {
        let plan = build::new_plan(&admin, &build::plan(id)).await.json();
        let work = read::at(&plan, "/work");
        apart += read::cents(work, "/outlook/net/p90");
        let (closed, in_half) = ("/time_line/elapsed_p50_h", "/outlook/elapsed_min/p50");
        let (closed, in_half) = (
            60.0 * read::number(work, closed),
            read::number(work, in_half),
        );
        assert!(
            in_half >= closed && in_half < 1.2 * closed,
            "{in_half} {closed}"
        );
    }
    let net = ["p50", "p80", "p90"].map(|p| read::cents(&told, &format!("/outlook/net/{p}")));
    assert!(
        net[0] < net[1] && net[1] < net[2] && net[2] < apart,
        "{net:?} {apart}"
    );
    assert!(net[0] > read::cents(&told, "/cost/net") * 97 / 100);
    let shifts = read::number(&told, "/outlook/n_shifts/p90");
    assert!(shifts >= read::number(&told, "/n_shifts"));
    let basis = read::list(&told, "/basis").iter();
    let reasons = basis.filter(|row| row["id"] == told["outlook"]["basis"]);
    assert_eq!(reasons.count(), 1);
}

#[tokio::test]
async fn an_estimate_is_narrowed_by_storey_material_or_name() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, ids) = estate(&admin).await;
    let n = async |change: Value| {
        let told = estimate(&admin, &with(build::estimate(&site), change)).await;
        read::number(&told, "/n_surfaces")
    };
    assert_eq!(n(json!({"storey": "2"})).await, 2.0);
    assert_eq!(n(json!({"materials": ["vinyl_sheet"]})).await, 1.0);
    assert_eq!(
        n(json!({"storey": "2", "materials": ["vinyl_composition_tile", "vinyl_sheet"]})).await,
        2.0
    );
    assert_eq!(n(json!({"surface_ids": [ids[2], ids[0]]})).await, 2.0);
}

#[tokio::test]
async fn each_material_may_have_a_wish_of_its_own() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, _) = estate(&admin).await;
    let wishes = json!({"wishes": [{"material": "vinyl_sheet", "wish": {"goal": "clean"}}]});
    let told = estimate(&admin, &with(build::estimate(&site), wishes)).await;
    let processes: Vec<&str> = read::list(&told, "/surfaces")
        .iter()
        .map(|a| read::text(a, "/process"))
        .collect();
    assert_eq!(
        processes[..3],
        [
            "machine_strip_and_refinish",
            "machine_strip_and_refinish",
            "damp_mop"
        ]
    );
}

#[tokio::test]
async fn every_fault_of_an_estimate_is_told_where_it_stands() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, ids) = estate(&admin).await;
    let souths = estate(&app.admin_of(SOUTH)).await;
    for (change, places) in [
        (json!({"site_id": souths.0}), vec!["#/site_id"]),
        (
            json!({"surface_ids": [ids[0], souths.1[0], ids[0]]}),
            vec!["#/surface_ids/1", "#/surface_ids/2"],
        ),
        (
            json!({"surface_ids": [ids[0]], "storey": "1"}),
            vec!["#/surface_ids"],
        ),
        (json!({"storey": "99"}), vec!["#/site_id"]),
        (
            json!({"wish": {"goal": "restore", "process": "no_such"}}),
            vec!["#/wish/process"],
        ),
        (
            json!({"wishes": [{"material": "marble_dust", "wish": {"goal": "clean"}}]}),
            vec!["#/wishes/0/material"],
        ),
        (json!({"surface_ids": []}), vec!["#/surface_ids"]),
    ] {
        let refused = admin
            .post(
                "/v1/estimates",
                &with(build::estimate(&site), change.clone()),
            )
            .await;
        refused.problem(422, "invalid_body");
        let found: Vec<String> = refused
            .faults()
            .into_iter()
            .map(|(place, _)| place)
            .collect();
        assert_eq!(found, places, "{change}: {}", refused.text());
    }
}

#[tokio::test]
async fn an_estimate_that_is_answered_at_once_covers_a_thousand_surfaces_and_tells_who_takes_more()
{
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, known) = estate(&admin).await;
    let body = |n: usize| {
        let unknown = "srf_01890a5d-ac96-774b-bcce-b302099a8057".to_owned();
        let mut ids = known.clone();
        ids.resize(n, unknown);
        with(build::estimate(&site), json!({"surface_ids": ids}))
    };
    let told = async |n: usize| {
        let refused = admin.post("/v1/estimates", &body(n)).await;
        refused.problem(422, "invalid_body")["errors"][0].clone()
    };
    let most = told(1_000).await;
    assert_eq!(most["code"], "reference_not_found", "{most:#}");
    let more = told(1_001).await;
    assert_eq!(more["code"], "too_many", "{more:#}");
    assert!(read::text(&more, "/detail").contains("/v1/estimate-jobs"));
}

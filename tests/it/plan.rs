//! Plans over HTTP: what is asked, what is answered, and the worked plans of the trade to the cent and the minute.

use serde_json::{Value, json};
use tests::{
    app::{SOUTH, TestApp},
    build::{self, with},
    client::Caller,
    read,
};

/// A site with the rates of the worked examples, and the corridor.
async fn golden_corridor(admin: &Caller) -> String {
    let site = with(
        build::site(),
        json!({"rate_card": build::golden_rate_card()}),
    );
    let site = admin.post("/v1/sites", &site).await.must(201).id();
    build::new_surface(admin, &build::surface(&site)).await
}

fn golden_wish(gap_mm: i64) -> Value {
    json!({
        "goal": "restore", "process": "machine_strip_and_refinish",
        "limits": {
            "polish_coats": 4, "edge_gap_mm": gap_mm, "window_min": 480,
            "waits": {"rinse_to_coat_min": 60, "between_coats_min": 40, "to_foot_min": 120, "mop_to_foot_min": 20},
        },
    })
}

async fn golden(gap_mm: i64, limits: Value) -> Value {
    let app = TestApp::start().await;
    let admin = app.admin();
    let surface = golden_corridor(&admin).await;
    let wish = with(golden_wish(gap_mm), json!({"limits": limits}));
    build::new_plan(&admin, &json!({"surface_id": surface, "wish": wish}))
        .await
        .json()
}

/// Hours of an activity.
fn hours(work: &Value, activity: &str) -> f64 {
    read::number(
        read::find(work, "/labour", "/activity/key", activity),
        "/hours",
    )
}

#[tokio::test]
async fn golden_13_1_a_corridor_stripped_and_coated_to_the_wall() {
    let plan = golden(0, json!({})).await;
    assert_eq!(read::text(&plan, "/verdict"), "allowed_with_warnings");
    let work = read::at(&plan, "/work");
    assert_eq!(hours(work, "dust_mop"), 0.2017);
    assert_eq!(hours(work, "strip_machine"), 9.4118);
    assert_eq!(hours(work, "edge_strip"), 3.04);
    assert_eq!(hours(work, "polish_coat"), 7.5294);
    let stripper = read::find(work, "/products", "/class", "stripper");
    for (member, litres) in [
        ("working_l", 60.0),
        ("need_l", 12.0),
        ("total_l", 13.2),
        ("ordered_l", 15.0),
    ] {
        assert_eq!(
            read::number(stripper, &format!("/{member}")),
            litres,
            "{member}"
        );
    }
    let polish = read::find(work, "/products", "/class", "polish");
    assert_eq!(read::number(polish, "/need_l"), 22.857);
    assert!((read::number(polish, "/total_l") - 25.14).abs() < 0.005);
    assert_eq!(read::number(polish, "/ordered_l"), 30.0);
    assert_eq!(read::number(polish, "/packs/0/count"), 6.0);
    assert_eq!(read::number(work, "/water/clean_l"), 192.0);
    assert_eq!(read::number(work, "/water/slurry_l"), 226.8);
    let lines = read::list(work, "/cost/lines");
    let sum = |kind: &str| -> i64 {
        lines
            .iter()
            .filter(|line| line["kind"] == kind)
            .map(|line| read::cents(line, "/amount"))
            .sum()
    };
    assert_eq!((sum("labour"), sum("allowance")), (34_952, 3_495));
    assert_eq!(
        (
            sum("product"),
            sum("consumable"),
            sum("machine"),
            sum("waste")
        ),
        (17_100, 600, 0, 0)
    );
    assert_eq!(read::cents(work, "/cost/direct"), 56_147);
    assert_eq!(read::cents(work, "/cost/net"), 69_872);
    // 16.65 h from closing to walking on it.
    assert_eq!(
        (read::number(work, "/time_line/elapsed_h") * 60.0).round(),
        999.0
    );
}

#[tokio::test]
async fn golden_13_1_takes_three_nights_of_eight_hours_or_two_with_a_third_operative() {
    let plan = golden(0, json!({})).await;
    let nights = read::list(read::at(&plan, "/work"), "/time_line/nights");
    assert_eq!(nights.len(), 3);
    assert_eq!(read::texts(&nights[0], "/work"), ["prepare"]);
    assert_eq!(read::number(&nights[0], "/work_min"), 451.0);
    // Three coats fit the second night, which is set up and cleaned down like the first; the fourth is one too many.
    assert_eq!(
        read::texts(&nights[1], "/work"),
        ["coat 1", "coat 2", "coat 3"]
    );
    assert_eq!(read::number(&nights[1], "/open_after_min"), 420.0);
    let three = golden(0, json!({"crew_size": 3})).await;
    assert_eq!(
        read::list(read::at(&three, "/work"), "/time_line/nights").len(),
        2
    );
}

#[tokio::test]
async fn golden_13_2_the_same_corridor_with_early_coats_ten_centimetres_short() {
    let plan = golden(100, json!({})).await;
    let work = read::at(&plan, "/work");
    let polish = read::find(work, "/products", "/class", "polish");
    assert_eq!(read::number(polish, "/need_l"), 22.305);
    assert!((read::number(polish, "/total_l") - 24.54).abs() < 0.005);
    assert_eq!(read::number(polish, "/ordered_l"), 25.0);
    assert_eq!(read::cents(work, "/cost/direct"), 54_047);
    assert_eq!(
        (read::number(work, "/time_line/elapsed_h") * 60.0).round(),
        999.0
    );
    let coats = read::list(work, "/steps")
        .iter()
        .filter_map(|step| step.get("coat"));
    let gaps: Vec<f64> = coats
        .map(|coat| read::number(coat, "/edge_gap_mm"))
        .collect();
    assert_eq!(gaps, [100.0, 100.0, 100.0, 0.0]);
}

#[tokio::test]
async fn a_plan_is_read_back_byte_for_byte_and_is_the_same_for_the_same_floor() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let surface = golden_corridor(&admin).await;
    let made = build::new_plan(&admin, &build::plan(&surface)).await;
    let found = admin.get(made.header("Location").unwrap()).await.must(200);
    assert_eq!(found.body, made.body);
    let again = build::new_plan(&admin, &build::plan(&surface)).await.json();
    let forget = |plan: Value| with(plan, json!({"id": null}));
    assert_eq!(forget(again), forget(made.json()));
    let page = admin
        .get(&format!("/v1/plans?surface_id={surface}"))
        .await
        .must(200)
        .json();
    assert_eq!(read::list(&page, "/items").len(), 2);
    let (brief, whole) = (&read::list(&page, "/items")[0], made.json());
    // A list tells a plan in short, in the words of the whole.
    for member in [
        "id",
        "version",
        "status",
        "created_at",
        "site_id",
        "surface_id",
    ] {
        assert_eq!(brief[member], whole[member], "{member}");
    }
    for member in ["surface_version", "knowledge_version", "verdict", "process"] {
        assert_eq!(brief[member], whole[member], "{member}");
    }
    assert_eq!(brief["rate_card_id"], whole["rate_card"]["id"]);
    assert_eq!(brief["goal"], whole["wish"]["goal"]);
    assert_eq!(brief["net"], whole["work"]["cost"]["net"]);
    assert_eq!(read::number(brief, "/area_m2"), 240.0);
    assert_eq!(read::number(brief, "/share_left"), 1.0);
    assert!(brief["planned_on"].is_string());
    assert_eq!(brief.as_object().unwrap().len(), 16);
}

#[tokio::test]
async fn every_total_of_a_plan_is_the_sum_of_its_lines_and_every_basis_is_there() {
    let plan = golden(100, json!({})).await;
    let work = read::at(&plan, "/work");
    let lines = read::list(work, "/cost/lines");
    let sum = |kinds: &[&str]| -> i64 {
        let of_kind = lines
            .iter()
            .filter(|line| kinds.contains(&read::text(line, "/kind")));
        of_kind.map(|line| read::cents(line, "/amount")).sum()
    };
    let direct = [
        "labour",
        "allowance",
        "product",
        "consumable",
        "machine",
        "waste",
    ];
    assert_eq!(read::cents(work, "/cost/direct"), sum(&direct));
    let net = [&direct[..], &["contingency", "overhead", "margin"]].concat();
    assert_eq!(read::cents(work, "/cost/net"), sum(&net));
    assert_eq!(read::cents(work, "/cost/gross"), sum(&net) + sum(&["tax"]));
    let known: Vec<&str> = read::list(work, "/basis")
        .iter()
        .map(|basis| read::text(basis, "/id"))
        .collect();
    for lines in ["/labour", "/products", "/pads"] {
        for line in read::list(work, lines) {
            assert!(known.contains(&read::text(line, "/basis")), "{line}");
        }
    }
    for basis in read::list(work, "/basis") {
        assert!(
            !read::text(basis, "/source").is_empty() && !read::text(basis, "/formula").is_empty(),
            "{basis}"
        );
    }
}

#[tokio::test]
async fn a_missing_fact_or_a_refusal_is_an_answer_with_what_to_do_meanwhile() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let unknown = with(
        build::surface(&site),
        json!({"built_year": null, "film": {"kind": "unknown"}}),
    );
    let surface = build::new_surface(&admin, &unknown).await;
    let asked = build::new_plan(&admin, &build::plan(&surface)).await.json();
    assert_eq!(read::text(&asked, "/verdict"), "needs_information");
    let facts: Vec<&str> = read::list(&asked, "/questions")
        .iter()
        .map(|q| read::text(q, "/fact"))
        .collect();
    assert!(facts.contains(&"survey.built_year"), "{facts:?}");
    assert!(!read::list(&asked, "/meanwhile").is_empty() && asked.get("work").is_none());
    let safety = with(
        build::surface(&site),
        json!({"material": "safety_vinyl", "film": {"kind": "bare"}}),
    );
    let surface = build::new_surface(&admin, &safety).await;
    let wish = json!({"surface_id": surface, "wish": {"goal": "protect", "process": "polish"}});
    let refused = build::new_plan(&admin, &wish).await.json();
    assert_eq!(read::text(&refused, "/verdict"), "refused");
    read::find(
        &refused,
        "/findings",
        "/rule",
        "polish-where-film-forbidden",
    );
    assert!(refused.get("work").is_none());
}

#[tokio::test]
async fn every_fault_of_a_plan_is_told_at_once() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let souths = app.admin_of(SOUTH);
    let bad = json!({"surface_id": "srf_x", "wish": {"goal": "shine", "limits": {"polish_coats": 13, "crew_size": 0}}});
    let refused = admin.post("/v1/plans", &bad).await;
    refused.problem(422, "invalid_body");
    let places: Vec<String> = refused
        .faults()
        .into_iter()
        .map(|(place, _)| place)
        .collect();
    let expected = [
        "#/surface_id",
        "#/wish/goal",
        "#/wish/limits/crew_size",
        "#/wish/limits/polish_coats",
    ];
    assert_eq!(places, expected, "{}", refused.text());
    let site = build::new_site(&souths).await;
    let foreign = build::new_surface(&souths, &build::surface(&site)).await;
    for surface in [foreign.as_str(), "srf_0193e8a0-0000-7000-8000-00000000dead"] {
        let body =
            json!({"surface_id": surface, "wish": {"goal": "clean", "process": "no_such_process"}});
        let refused = admin.post("/v1/plans", &body).await;
        refused.problem(422, "invalid_body");
        let expected = [
            ("#/surface_id", "reference_not_found"),
            ("#/wish/process", "unknown_process"),
        ];
        assert_eq!(
            refused.faults(),
            expected.map(|(place, code)| (place.to_owned(), code.to_owned()))
        );
    }
}

#[tokio::test]
async fn the_air_over_a_floor_changes_its_waits_and_an_impossible_one_is_refused() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let surface = golden_corridor(&admin).await;
    let plan = async |climate: Value| {
        admin
            .post(
                "/v1/plans",
                &with(build::plan(&surface), json!({"climate": climate})),
            )
            .await
    };
    let warm = plan(json!({"air_c": 24, "humidity_pct": 35, "air_speed_m_s": 0.5}))
        .await
        .must(201)
        .json();
    let damp = plan(json!({"air_c": 16, "humidity_pct": 75, "air_speed_m_s": 0.05}))
        .await
        .must(201)
        .json();
    let wait = |plan: &Value| read::number(read::at(plan, "/work"), "/time_line/elapsed_min");
    assert!(wait(&warm) < wait(&damp));
    let cold = plan(json!({"air_c": 8, "humidity_pct": 60}))
        .await
        .must(201)
        .json();
    assert_eq!(read::text(&cold, "/verdict"), "refused");
    plan(json!({"air_c": 200, "humidity_pct": 0}))
        .await
        .problem(422, "invalid_body");
}

#[tokio::test]
async fn a_wait_says_what_would_shorten_it_and_a_plan_what_its_chemistry_does() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let surface = golden_corridor(&admin).await;
    let damp =
        json!({"air_c": 18, "humidity_pct": 70, "outdoor": {"air_c": 2, "humidity_pct": 90}});
    let request = with(build::plan(&surface), json!({"climate": damp}));
    let plan = admin.post("/v1/plans", &request).await.must(201).json();
    let steps = read::list(&plan["work"], "/steps");
    let wait = steps
        .iter()
        .filter_map(|step| step.get("wait"))
        .find(|wait| wait.get("shorten").is_some())
        .unwrap();
    assert_eq!(read::text(wait, "/ruled_by"), "drying");
    let basis: Vec<&str> = read::list(&plan["work"], "/basis")
        .iter()
        .map(|row| read::text(row, "/id"))
        .collect();
    for one in read::list(wait, "/shorten") {
        let (then, saves) = (
            read::number(one, "/p80_min"),
            read::number(one, "/saves_min"),
        );
        assert!((then + saves - read::number(wait, "/p80_min")).abs() < 1e-9);
        assert!(basis.contains(&read::text(one, "/basis")));
    }
    let chemistry = read::at(&plan["work"], "/chemistry");
    assert!(read::number(chemistry, "/neutralising/rinses_needed") >= 1.0);
    assert_eq!(
        read::text(chemistry, "/corrosive/0/product"),
        "stripper_alkaline"
    );
    assert!(read::number(chemistry, "/slurry/ph") > 7.0);
    for place in ["/neutralising/basis", "/slurry/basis", "/vapour/basis"] {
        assert!(basis.contains(&read::text(chemistry, place)), "{place}");
    }
    let half = json!({"climate": {"air_c": 18, "humidity_pct": 70, "outdoor": {"air_c": 2}}});
    admin
        .post("/v1/plans", &with(build::plan(&surface), half))
        .await
        .problem(422, "invalid_body");
}

#[tokio::test]
async fn the_price_of_handing_over_is_not_told_as_that_of_another_trades_work() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let dull = json!({"material": "marble", "film": {"kind": "bare", "coats": null}, "gloss_loss_pct": 60});
    let surface = build::new_surface(&admin, &with(build::surface(&site), dull)).await;
    let request = json!({"surface_id": surface, "wish": {"goal": "restore"}});
    let plan = build::new_plan(&admin, &request).await.json();
    let of = |key: &str| read::find(&plan, "/candidates", "/process/key", key);
    for figure in ["labour_h", "elapsed_min", "net", "net_per_year"] {
        assert!(of("hone_stone").get(figure).is_none(), "{figure}");
        assert!(of("rinse_and_neutralise").get(figure).is_some(), "{figure}");
    }
}

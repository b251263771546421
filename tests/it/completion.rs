//! Completions: what was done, priced at the rates of its day and held against its plan.

mod refused;

use serde_json::{Value, json};
use tests::{
    app::TestApp,
    build::{self, pounds, with},
    client::{Answer, Caller},
    read,
};

/// The corridor at a site with the rates of the worked examples, and its plan.
struct Corridor {
    admin: Caller,
    site: String,
    surface: String,
    plan: Value,
}

impl Corridor {
    async fn new(app: &TestApp) -> Self {
        let admin = app.admin();
        let site = with(
            build::site(),
            json!({"rate_card": build::golden_rate_card()}),
        );
        let site = admin.post("/v1/sites", &site).await.must(201).id();
        let surface = build::new_surface(&admin, &build::surface(&site)).await;
        let plan = build::new_plan(&admin, &build::plan(&surface)).await.json();
        Self {
            admin,
            site,
            surface,
            plan,
        }
    }

    async fn report(&self, change: Value) -> Answer {
        self.admin
            .record(
                "/v1/completions",
                &with(build::completion(&self.surface), change),
            )
            .await
    }

    /// A report that cites the plan.
    async fn done(&self, change: Value) -> Value {
        let cited = with(
            build::completion(&self.surface),
            json!({"plan_id": self.plan["id"]}),
        );
        self.admin
            .record("/v1/completions", &with(cited, change))
            .await
            .must(201)
            .json()
    }

    async fn listed(&self, query: &str) -> Vec<String> {
        let page = self
            .admin
            .get(&format!("/v1/completions?{query}"))
            .await
            .must(200)
            .json();
        read::list(&page, "/items")
            .iter()
            .map(|item| read::text(item, "/id").to_owned())
            .collect()
    }
}

fn sum(completion: &Value, column: &str, is_tax: bool) -> i64 {
    let lines = read::list(completion, "/lines")
        .iter()
        .filter(|line| (line["kind"] == "tax") == is_tax);
    lines
        .map(|line| read::cents(line, &format!("/{column}")))
        .sum()
}

fn codes(completion: &Value) -> Vec<&str> {
    read::list(completion, "/deviations")
        .iter()
        .map(|found| read::text(found, "/code"))
        .collect()
}

#[tokio::test]
async fn work_without_a_plan_is_priced_by_hours_and_litres_and_listed_as_unplanned() {
    let app = TestApp::start().await;
    let corridor = Corridor::new(&app).await;
    let made = corridor.report(json!({})).await.must(201);
    let told = made.json();
    assert_eq!(
        corridor
            .admin
            .get(made.header("Location").unwrap())
            .await
            .must(200)
            .body,
        made.body
    );
    assert_eq!(
        (told["unplanned"].as_bool(), &told["money"]["planned_net"]),
        (Some(true), &Value::Null)
    );
    let amount = |kind: &str, stage: &str| {
        let lines = read::list(&told, "/lines").iter();
        lines
            .filter(|l| l["kind"] == kind && l["stage"] == stage)
            .map(|l| read::cents(l, "/actual"))
            .sum::<i64>()
    };
    // 14.25 h and 8.5 h at 16.50; 12.5 L at 3.00 and 23.2 L at 4.20.
    assert_eq!(
        (amount("labour", "prepare"), amount("labour", "protect")),
        (23_513, 14_025)
    );
    assert_eq!(
        (amount("product", "prepare"), amount("product", "protect")),
        (3_750, 9_744)
    );
    // 510.32, 12 % overhead, and a margin of a tenth of the price.
    assert_eq!(
        read::cents(&told, "/money/actual_net"),
        51_032 + 6_124 + 6_351
    );
    assert_eq!(
        read::cents(&told, "/money/actual_net"),
        sum(&told, "actual", false)
    );
    assert_eq!(read::text(&told, "/month"), "2026-05");
    assert_eq!(read::number(&told, "/area_m2"), 240.0);
}

#[tokio::test]
async fn work_that_cites_its_plan_has_the_plans_money_beside_it() {
    let app = TestApp::start().await;
    let corridor = Corridor::new(&app).await;
    let told = corridor.done(json!({"process": null})).await;
    assert_eq!(read::text(&told, "/process"), "machine_strip_and_refinish");
    assert_eq!(read::number(&told, "/planned_share"), 1.0);
    let net = read::cents(read::at(&corridor.plan, "/work"), "/cost/net");
    assert_eq!(read::cents(&told, "/money/planned_net"), net);
    assert_eq!(sum(&told, "planned", false), net);
    assert_eq!(
        sum(&told, "planned", true),
        read::cents(&told, "/money/planned_tax")
    );
    assert_eq!(codes(&told), [""; 0]);
}

#[tokio::test]
async fn parts_of_a_plan_share_its_money_and_never_more_than_all_of_it() {
    let app = TestApp::start().await;
    let corridor = Corridor::new(&app).await;
    let net = read::cents(read::at(&corridor.plan, "/work"), "/cost/net");
    let first = corridor.done(json!({"area_m2": 60})).await;
    assert_eq!(read::number(&first, "/planned_share"), 0.25);
    assert!((read::cents(&first, "/money/planned_net") - net / 4).abs() <= 10);
    let second = corridor.done(json!({"area_m2": 180})).await;
    assert_eq!(read::number(&second, "/planned_share"), 0.75);
    let third = corridor.done(json!({"area_m2": 60})).await;
    assert_eq!(read::number(&third, "/planned_share"), 0.0);
    assert_eq!(codes(&third), ["area_exceeds_plan"]);
    assert_eq!(read::cents(&third, "/money/planned_net"), 0);
}

#[tokio::test]
async fn work_that_contradicts_its_plan_is_recorded_and_flagged() {
    let app = TestApp::start().await;
    let corridor = Corridor::new(&app).await;
    let told = corridor
        .done(json!({
            "polish_coats": 2, "surface_ph": 9.4, "finished_at": "2026-05-11T20:30:00Z",
            "products": [{"product": "degreaser_alkaline", "volume_l": 3}],
        }))
        .await;
    let expected = [
        "fewer_polish_coats",
        "other_product",
        "ph_outside_limits",
        "too_fast_for_waits",
        // Of stripper and of polish: none of either was used.
        "far_too_few_litres",
        "far_too_few_litres",
    ];
    assert_eq!(codes(&told), expected);
    let without = corridor.done(json!({"surface_ph": null})).await;
    assert!(codes(&without).contains(&"no_ph_reading"));
}

#[tokio::test]
async fn what_was_charged_counts_and_what_was_computed_is_kept() {
    let app = TestApp::start().await;
    let corridor = Corridor::new(&app).await;
    let told = corridor.done(json!({"charged": pounds("700.00")})).await;
    assert_eq!(read::cents(&told, "/money/actual_net"), 70_000);
    // 510.32 of hours and litres as reported, a pad of 6.00 as planned, overhead and margin.
    assert_eq!(
        read::cents(&told, "/money/computed_net"),
        51_632 + 6_196 + 6_425
    );
    assert_eq!(
        (sum(&told, "actual", false), sum(&told, "computed", false)),
        (70_000, 64_253)
    );
    let only_charged = json!({"charged": pounds("0.01"), "labour": [], "products": []});
    let told = corridor.report(only_charged).await.must(201).json();
    assert_eq!(read::cents(&told, "/money/actual_net"), 1);
}

#[tokio::test]
async fn work_is_priced_at_the_rates_of_its_day_and_counts_in_the_month_of_its_site() {
    let app = TestApp::start().await;
    let corridor = Corridor::new(&app).await;
    let rates = json!({"rate_card": {"labour_per_h": pounds("33.00"), "valid_from": "2026-05-15"}});
    let _dearer = corridor
        .admin
        .patch(&format!("/v1/sites/{}", corridor.site), "*", &rates)
        .await
        .must(200);
    let hours = json!({"products": [], "labour": [{"stage": "prepare", "hours": 1}]});
    let price = async |from: &str, to: &str| {
        let change = with(
            hours.clone(),
            json!({"started_at": from, "finished_at": to}),
        );
        let told = corridor.report(change).await.must(201).json();
        let labour = read::cents(read::find(&told, "/lines", "/kind", "labour"), "/actual");
        (
            labour,
            told["rate_card"]["number"].as_i64().unwrap(),
            read::text(&told, "/month").to_owned(),
        )
    };
    // In summer the site is an hour ahead of UTC: its 15 May begins at 23:00 UTC the day before.
    let before = price("2026-05-14T22:59:59Z", "2026-05-15T06:00:00Z").await;
    assert_eq!(before, (1_650, 1, "2026-05".to_owned()));
    let after = price("2026-05-14T23:00:00Z", "2026-05-15T06:00:00Z").await;
    assert_eq!(after, (3_300, 2, "2026-05".to_owned()));
    let june = price("2026-05-31T23:00:00Z", "2026-06-01T03:00:00Z").await;
    assert_eq!(june.2, "2026-06");
}

#[tokio::test]
async fn a_correction_counts_in_the_place_of_what_it_corrects_which_stays_readable() {
    let app = TestApp::start().await;
    let corridor = Corridor::new(&app).await;
    let first = corridor.done(json!({})).await;
    let (first_id, path) = (
        read::text(&first, "/id"),
        format!("/v1/completions/{}", read::text(&first, "/id")),
    );
    let body = with(
        build::completion(&corridor.surface),
        json!({"plan_id": corridor.plan["id"], "polish_coats": 3}),
    );
    let supersede = format!("{path}/supersede");
    let second = corridor
        .admin
        .record(&supersede, &body)
        .await
        .must(201)
        .json();
    assert_eq!(read::text(&second, "/supersedes"), first_id);
    // The share of the plan goes over to it.
    assert_eq!(read::number(&second, "/planned_share"), 1.0);
    assert_eq!(codes(&second), ["fewer_polish_coats"]);
    let old = corridor.admin.get(&path).await.must(200);
    assert_eq!(old.etag(), "\"2.json\"");
    let told = old.json();
    assert_eq!(
        (told["status"].as_str(), &told["superseded_by"]),
        (Some("superseded"), &second["id"])
    );
    assert_eq!(told["lines"], first["lines"]);
    corridor
        .admin
        .record(&supersede, &body)
        .await
        .problem(409, "state_conflict");
    let second_id = read::text(&second, "/id").to_owned();
    assert_eq!(corridor.listed("").await, std::slice::from_ref(&second_id));
    assert_eq!(
        corridor.listed("include_superseded=true").await,
        [first_id.to_owned(), second_id]
    );
}

#[tokio::test]
async fn a_list_of_completions_holds_those_that_are_asked_for() {
    let app = TestApp::start().await;
    let corridor = Corridor::new(&app).await;
    let crew = build::new_contractor(&corridor.admin).await;
    let own = corridor
        .report(json!({"contractor_id": crew}))
        .await
        .must(201)
        .id();
    let planned = read::text(&corridor.done(json!({})).await, "/id").to_owned();
    let later =
        json!({"started_at": "2026-05-20T20:00:00Z", "finished_at": "2026-05-21T20:00:00Z"});
    let late = corridor.report(later).await.must(201).id();
    let all = [own.clone(), planned.clone(), late.clone()];
    assert_eq!(corridor.listed("").await, all);
    assert_eq!(
        corridor.listed(&format!("contractor_id={crew}")).await,
        std::slice::from_ref(&own)
    );
    assert_eq!(
        corridor
            .listed(&format!("plan_id={}", read::text(&corridor.plan, "/id")))
            .await,
        [planned]
    );
    assert_eq!(
        corridor.listed("started_from=2026-05-12T00:00:00Z").await,
        [late]
    );
    assert_eq!(
        corridor.listed("started_to=2026-05-11T20:00:00Z").await,
        [""; 0]
    );
    assert_eq!(
        corridor
            .listed(&format!("site_id={}&limit=1", corridor.site))
            .await,
        [own]
    );
    corridor
        .admin
        .get("/v1/completions?started_from=May")
        .await
        .problem(400, "invalid_parameter");
}

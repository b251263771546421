//! Rates that nobody has told, and the edition that counts on a day.

use serde_json::{Value, json};
use tests::{
    app::TestApp,
    build::{self, pounds, with},
    client::Caller,
    read,
};

async fn silent_site(admin: &Caller) -> Value {
    let silent = with(build::site(), json!({"rate_card": null}));
    admin.post("/v1/sites", &silent).await.must(201).json()
}

fn warned(plan: &Value) -> bool {
    let findings = read::list(plan, "/findings");
    findings
        .iter()
        .any(|f| f["rule"] == "rates-assumed" && f["severity"] == "note")
}

#[tokio::test]
async fn money_by_rates_that_nobody_has_told_is_flagged_wherever_it_is_shown() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = silent_site(&admin).await;
    let id = read::text(&site, "/id");
    assert_eq!(site["rate_card_assumed"], true);
    let cards = format!("/v1/sites/{id}/rate-cards");
    let listed = admin.get(&cards).await.must(200).json();
    assert_eq!(listed["items"][0]["assumed"], true);
    let surface = build::new_surface(&admin, &build::surface(id)).await;
    let plan = build::new_plan(&admin, &build::plan(&surface)).await.json();
    assert!(warned(&plan), "{}", plan["findings"]);
    assert_eq!(plan["rate_card"]["assumed"], true);
    assert_eq!(plan["verdict"], "allowed");
    let made = admin
        .post("/v1/estimates", &build::estimate(id))
        .await
        .must(201);
    assert_eq!(made.json()["rate_card"]["assumed"], true);
    let done = admin
        .record("/v1/completions", &build::completion(&surface))
        .await;
    let done = done.must(201).json();
    assert_eq!(done["rate_card"]["assumed"], true);
    // The card is valid from today on, 1 June; the work was done in May.
    assert_eq!(done["rate_card"]["before_valid_from"], true);
    // One rate among examples would look like a card that was told: the whole of it is asked for.
    let path = format!("/v1/sites/{id}");
    let one = json!({"rate_card": {"labour_per_h": pounds("18.00"), "valid_from": "2026-06-01"}});
    let refused = admin.patch(&path, "*", &one).await;
    refused.problem(422, "invalid_body");
    let places: Vec<String> = refused.faults().into_iter().map(|(at, _)| at).collect();
    assert!(
        places.contains(&"#/rate_card/tax_pct".to_owned()),
        "{places:?}"
    );
    let renamed = admin
        .patch(&path, "*", &json!({"name": "Quarry Lane"}))
        .await
        .must(200);
    assert_eq!(renamed.json()["rate_card_assumed"], true);
    assert_eq!(renamed.json()["rate_card_number"], 1);
    let _issued = admin
        .post(&cards, &build::golden_rate_card())
        .await
        .must(201);
    let told = admin.get(&path).await.must(200).json();
    assert_eq!(told["rate_card_assumed"], false);
    // The edition that was issued begins earlier, so today the assumed one still counts.
    let plan = build::new_plan(&admin, &build::plan(&surface)).await.json();
    assert_eq!(plan["rate_card"]["assumed"], true);
    let from_today = with(
        build::golden_rate_card(),
        json!({"valid_from": "2026-06-01"}),
    );
    let _issued = admin.post(&cards, &from_today).await.must(201);
    let plan = build::new_plan(&admin, &build::plan(&surface)).await.json();
    assert_eq!(
        (warned(&plan), &plan["rate_card"]["assumed"]),
        (false, &json!(false))
    );
}

#[tokio::test]
async fn work_of_a_day_to_come_is_priced_by_the_rates_of_that_day() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let cards = format!("/v1/sites/{site}/rate-cards");
    let next_year = json!({"valid_from": "2027-01-01", "labour_per_h": pounds("33.00")});
    let next_year = with(build::golden_rate_card(), next_year);
    let issued = admin.post(&cards, &next_year).await.must(201).json();
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let on = |day: &str| with(build::plan(&surface), json!({"planned_on": day}));
    let now = build::new_plan(&admin, &build::plan(&surface)).await.json();
    let before = build::new_plan(&admin, &on("2026-12-31")).await.json();
    let then = build::new_plan(&admin, &on("2027-01-01")).await.json();
    assert_eq!(now["rate_card"], before["rate_card"]);
    assert_eq!(then["rate_card"]["id"], issued["id"]);
    let asked = with(build::estimate(&site), json!({"planned_on": "2027-01-01"}));
    let estimate = admin.post("/v1/estimates", &asked).await.must(201).json();
    assert_eq!(estimate["rate_card"]["id"], issued["id"]);
    let job = build::new_estimate_job(&admin, &asked).await;
    let result = admin
        .get(&format!("/v1/estimate-jobs/{job}/result"))
        .await
        .must(200);
    let text = result.text();
    let total: Value = serde_json::from_str(text.lines().last().unwrap()).unwrap();
    assert_eq!(total["rate_card"]["id"], issued["id"]);
    // The editions of a day can be read without knowing all of them.
    for (day, id) in [
        ("2026-12-31", &now["rate_card"]["id"]),
        ("2027-01-01", &issued["id"]),
    ] {
        let found = admin
            .get(&format!("{cards}?on={day}"))
            .await
            .must(200)
            .json();
        let ids: Vec<&Value> = read::list(&found, "/items")
            .iter()
            .map(|one| &one["id"])
            .collect();
        assert_eq!(ids, [id], "{day}");
    }
    let bad = admin.get(&format!("{cards}?on=tomorrow")).await;
    bad.problem(400, "invalid_parameter");
}

#[tokio::test]
async fn a_patch_of_rates_says_from_which_day_they_count() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let path = format!("/v1/sites/{}", build::new_site(&admin).await);
    let change = json!({"rate_card": {"labour_per_h": pounds("18.00")}});
    let refused = admin.patch(&path, "*", &change).await;
    refused.problem(422, "invalid_body");
    let fault = ("#/rate_card/valid_from".to_owned(), "required".to_owned());
    assert_eq!(refused.faults(), [fault]);
    let change = with(change, json!({"rate_card": {"valid_from": "2026-07-01"}}));
    let told = admin.patch(&path, "*", &change).await.must(200).json();
    assert_eq!(told["rate_card"]["valid_from"], "2026-07-01");
    assert_eq!(told["rate_card_number"], 2);
}

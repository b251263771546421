//! Editions of rate cards: issuing, listing, reading, and which one prices a day.

use serde_json::{Value, json};
use tests::{
    app::{NORTH, TestApp},
    build::{self, pounds, with},
    client::Caller,
    read,
};

/// A site whose first edition is that of the worked examples, and where its editions are.
async fn editions(caller: &Caller) -> (String, String) {
    let site = with(
        build::site(),
        json!({"rate_card": build::golden_rate_card()}),
    );
    let site = caller.post("/v1/sites", &site).await.must(201).id();
    let path = format!("/v1/sites/{site}/rate-cards");
    (site, path)
}

fn card(valid_from: &str, labour_per_h: &str) -> Value {
    let change = json!({"valid_from": valid_from, "labour_per_h": pounds(labour_per_h)});
    with(build::golden_rate_card(), change)
}

#[tokio::test]
async fn an_edition_that_was_issued_is_read_back_and_is_what_the_site_shows() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, path) = editions(&admin).await;
    let made = admin
        .post(&path, &card("2026-07-01", "18.25"))
        .await
        .must(201);
    let told = made.json();
    assert_eq!(told["number"], 2);
    assert_eq!(told["site_id"], site.as_str());
    assert_eq!(told["rate_card"]["labour_per_h"], pounds("18.25"));
    assert_eq!(
        made.header("Location"),
        Some(&*format!("{path}/{}", made.id()))
    );
    let found = admin.get(&format!("{path}/{}", made.id())).await.must(200);
    assert_eq!((found.etag(), found.body), (made.etag(), made.body));
    let shown = admin.get(&format!("/v1/sites/{site}")).await.must(200);
    assert_eq!(shown.etag(), "\"2.json\"");
    assert_eq!(shown.json()["rate_card_id"], told["id"]);
    assert_eq!(shown.json()["rate_card_number"], 2);
    assert_eq!(shown.json()["rate_card"], told["rate_card"]);
    let tx = app.store().read(app.tenant(NORTH)).await.unwrap();
    let events = tx.outbox().list(100).await.unwrap();
    let kinds: Vec<&str> = events.iter().map(|event| event.kind.as_str()).collect();
    let expected = [
        "wearcourse.site.registered.v1",
        "wearcourse.rate_card.issued.v1",
        "wearcourse.site.changed.v1",
    ];
    assert_eq!(kinds, expected);
    assert_eq!(events[1].subject, read::text(&told, "/id"));
}

#[tokio::test]
async fn every_edition_is_kept_and_listed_newest_first() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, path) = editions(&admin).await;
    // The same words again are an edition of their own, and so are rates that a change of the site brings.
    let _same = admin
        .post(&path, &card("2026-01-01", "16.50"))
        .await
        .must(201);
    let change =
        json!({"rate_card": {"labour_per_h": pounds("17.00"), "valid_from": "2026-01-01"}});
    let site_path = format!("/v1/sites/{site}");
    let _changed = admin.patch(&site_path, "*", &change).await.must(200);
    let _past = admin
        .post(&path, &card("2020-01-01", "12.00"))
        .await
        .must(201);
    let mut seen = Vec::new();
    let mut next = format!("{path}?limit=3");
    loop {
        let page = admin.get(&next).await.must(200).json();
        for item in read::list(&page, "/items") {
            let rate = read::text(item, "/rate_card/labour_per_h/amount").to_owned();
            seen.push((item["number"].as_i64().unwrap(), rate));
        }
        match page["next_cursor"].as_str() {
            Some(cursor) => next = format!("{path}?limit=3&cursor={cursor}"),
            None => break,
        }
    }
    let seen: Vec<_> = seen.iter().map(|(n, rate)| (*n, rate.as_str())).collect();
    let expected = [(4, "12.00"), (3, "17.00"), (2, "16.50"), (1, "16.50")];
    assert_eq!(seen, expected);
}

#[tokio::test]
async fn work_is_priced_by_the_edition_of_its_day_and_keeps_its_price() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, path) = editions(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let hour = with(
        build::completion(&surface),
        json!({"products": [], "labour": [{"stage": "prepare", "hours": 1}]}),
    );
    let done = async |day: &str| {
        let times = json!({
            "started_at": format!("{day}T08:00:00Z"), "finished_at": format!("{day}T10:00:00Z"),
        });
        let body = with(hour.clone(), times);
        admin.record("/v1/completions", &body).await.must(201)
    };
    let price = |told: &Value| {
        let line = read::find(told, "/lines", "/kind", "labour");
        let number = told["rate_card"]["number"].as_i64().unwrap();
        (number, read::cents(line, "/actual"))
    };
    let before = done("2026-05-12").await;
    assert_eq!(price(&before.json()), (1, 1_650));
    let _july = admin
        .post(&path, &card("2026-05-20", "20.00"))
        .await
        .must(201);
    let _again = admin
        .post(&path, &card("2026-05-20", "21.00"))
        .await
        .must(201);
    let _past = admin
        .post(&path, &card("2026-05-10", "18.00"))
        .await
        .must(201);
    assert_eq!(price(&done("2026-05-09").await.json()), (1, 1_650));
    assert_eq!(price(&done("2026-05-12").await.json()), (4, 1_800));
    assert_eq!(price(&done("2026-05-19").await.json()), (4, 1_800));
    // Of two from one day the higher number counts, though a later number began earlier.
    assert_eq!(price(&done("2026-05-20").await.json()), (3, 2_100));
    let kept = format!("/v1/completions/{}", before.id());
    assert_eq!(admin.get(&kept).await.must(200).body, before.body);
}

#[tokio::test]
async fn every_fault_of_an_edition_is_told_at_once() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, path) = editions(&admin).await;
    let euros = json!({"amount": "16.50", "currency": "EUR"});
    let bad = with(
        build::golden_rate_card(),
        json!({
            "labour_per_h": euros,
            "packs": [{"product": "no_such", "size_l": 5, "price": pounds("1")}],
            "machines": [{"machine": "rotary_99", "per_h": pounds("1.00")}],
            "rates": [{"activity": "no_such", "per_h": 1}],
        }),
    );
    let refused = admin.post(&path, &bad).await;
    refused.problem(422, "invalid_body");
    let faults = refused.faults();
    for place in [
        "#/labour_per_h/currency",
        "#/packs/0/product",
        "#/machines/0/machine",
        "#/rates/0/activity",
    ] {
        let told = faults.iter().any(|(found, _)| found == place);
        assert!(told, "{place}: {faults:?}");
    }
    let bad = json!({"valid_from": "1999-01-01", "crew_size": 0, "margin_pct": 91});
    let refused = admin
        .post(&path, &with(build::golden_rate_card(), bad))
        .await;
    let places: Vec<_> = refused
        .faults()
        .into_iter()
        .map(|(place, _)| place)
        .collect();
    assert_eq!(places, ["#/crew_size", "#/margin_pct", "#/valid_from"]);
    let shown = admin.get(&format!("/v1/sites/{site}")).await.must(200);
    assert_eq!(shown.etag(), "\"1.json\"");
}

#[tokio::test]
async fn an_edition_is_found_at_its_own_site_only() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (_, path) = editions(&admin).await;
    let (_, other) = editions(&admin).await;
    let made = admin
        .post(&path, &card("2026-07-01", "18.25"))
        .await
        .must(201);
    let misplaced = format!("{other}/{}", made.id());
    admin.get(&misplaced).await.problem(404, "not_found");
    let page = admin.get(&format!("{path}?limit=1")).await.must(200).json();
    let cursor = read::text(&page, "/next_cursor");
    let elsewhere = admin.get(&format!("{other}?cursor={cursor}")).await;
    elsewhere.problem(400, "bad_cursor");
}

#[tokio::test]
async fn a_site_that_was_read_before_an_edition_was_issued_is_stale() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (site, path) = editions(&admin).await;
    let _issued = admin
        .post(&path, &card("2026-07-01", "18.25"))
        .await
        .must(201);
    let site = format!("/v1/sites/{site}");
    let late = admin
        .patch(&site, "\"1.json\"", &json!({"name": "x"}))
        .await;
    late.problem(412, "stale_version");
}

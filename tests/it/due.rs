//! What is due on which floor and when, and what it will cost: the list, its pages, what moves a date, the forecast and its
//! budget. Days are counted on the calendar; intervals are those that the knowledge base tells (`GET /v1/processes/{key}`).

mod expected;

use chrono::TimeDelta;
use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    app::{SOUTH, TestApp},
    build::{self, with},
    client::Caller,
    read,
};

use self::expected::expected;

/// What is told of each item: floor, process, day, why, from what it is counted.
fn told(page: &Value) -> Vec<[&str; 4]> {
    let items = read::list(page, "/items").iter();
    items
        .map(|item| {
            [
                read::text(item, "/process/key"),
                read::text(item, "/due_on"),
                read::text(item, "/why"),
                read::text(item, "/basis/counted_from"),
            ]
        })
        .collect()
}

async fn list(caller: &Caller, query: &str) -> Value {
    caller
        .get(&format!("/v1/due{query}"))
        .await
        .must(200)
        .json()
}

/// A corridor whose film was seen on 4 May 2026.
fn seen(site: &str, condition: &str) -> Value {
    let film = json!({"kind": "polish", "coats": 6, "condition": condition, "seen_at": "2026-05-04T09:00:00Z"});
    with(build::surface(site), json!({"film": film}))
}

#[tokio::test]
async fn a_date_follows_from_the_survey_and_from_what_was_done_corrected_and_seen() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &seen(&site, "worn")).await;
    // Worn polish asks to be stripped; buffing every 14 days and new coats every 90 are counted from the survey.
    let untouched = [
        [
            "machine_strip_and_refinish",
            "2026-05-04",
            "film",
            "film_told",
        ],
        ["spray_buff", "2026-05-18", "never_done", "first_survey"],
        [
            "scrub_and_recoat",
            "2026-08-02",
            "never_done",
            "first_survey",
        ],
    ];
    let page = list(&admin, "").await;
    assert_eq!(told(&page), untouched);
    let first = &page["items"][0];
    assert_eq!(
        (&first["overdue_days"], &first["surface_id"]),
        (&json!(28), &json!(surface))
    );
    assert!(first.get("last_done_on").is_none() && first.get("plan_id").is_none());
    let strip = admin.get("/v1/processes/machine_strip_and_refinish").await;
    let strip = strip.must(200).json();
    assert_eq!(
        first["basis"]["interval_days"],
        strip["interval_days"]["heavy"]
    );
    // Done on 12 May: again in a year; four new coats begin what keeps them anew.
    let done = admin
        .record("/v1/completions", &build::completion(&surface))
        .await;
    let done = done.must(201).id();
    let stripped = [
        ["spray_buff", "2026-05-26", "interval", "last_coat"],
        ["scrub_and_recoat", "2026-08-10", "interval", "last_coat"],
        [
            "machine_strip_and_refinish",
            "2027-05-12",
            "interval",
            "last_done",
        ],
    ];
    let page = list(&admin, "").await;
    assert_eq!(told(&page), stripped);
    assert_eq!(page["items"][2]["last_done_on"], "2026-05-12");
    assert_eq!(page["items"][2]["overdue_days"], 0);
    // Reported for the wrong floor: everything is as it was.
    let void = format!("/v1/completions/{done}/void");
    let _voided = admin
        .record(&void, &json!({"reason": "Another floor."}))
        .await
        .must(200);
    assert_eq!(told(&list(&admin, "").await), untouched);
    // Somebody looked again.
    let path = format!("/v1/surfaces/{surface}");
    let film = json!({"film": {"kind": "polish", "coats": 6, "condition": "scuffed", "seen_at": "2026-05-30T09:00:00Z"}});
    let _seen = admin.patch(&path, "*", &film).await.must(200);
    let page = list(&admin, "").await;
    assert_eq!(
        told(&page)[0],
        ["spray_buff", "2026-05-30", "film", "film_told"]
    );
    // A floor that is taken up in July needs no coats in August.
    let _retired = admin
        .patch(&path, "*", &json!({"retired_on": "2026-07-01"}))
        .await
        .must(200);
    assert_eq!(told(&list(&admin, "").await).len(), 1);
    app.clock().advance(TimeDelta::days(31));
    // The token of June has run out.
    assert!(told(&list(&app.admin(), "").await).is_empty());
}

#[tokio::test]
async fn pages_go_through_all_dates_in_their_order_and_filters_narrow_them() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    for condition in ["worn", "sound", "soiled"] {
        build::new_surface(&admin, &seen(&site, condition)).await;
    }
    let other = build::new_site(&admin).await;
    build::new_surface(&admin, &seen(&other, "sound")).await;
    let whole = list(&admin, "?limit=200").await;
    let n = read::list(&whole, "/items").len();
    assert!(n >= 9, "{whole:#}");
    let mut pages = Vec::new();
    let mut query = "?limit=2".to_owned();
    loop {
        let page = list(&admin, &query).await;
        pages.extend(read::list(&page, "/items").to_vec());
        let Some(cursor) = page["next_cursor"].as_str() else {
            break;
        };
        query = format!("?limit=2&cursor={cursor}");
    }
    assert_eq!(pages, read::list(&whole, "/items"));
    let key = |item: &Value| {
        ["/due_on", "/surface_id", "/process/key"].map(|at| read::text(item, at).to_owned())
    };
    assert!(pages.is_sorted_by_key(key));
    let of_other = list(&admin, &format!("?site_id={other}")).await;
    let of_other = read::list(&of_other, "/items");
    assert!(of_other.iter().all(|item| item["site_id"] == json!(other)));
    let by = list(&admin, "?by=2026-05-04").await;
    let expected = pages
        .iter()
        .filter(|item| read::text(item, "/due_on") <= "2026-05-04");
    assert_eq!(read::list(&by, "/items").len(), expected.count());
    // Routine cleaning that nobody reports is told only where it is asked for.
    let routine = |page: &Value| {
        let items = read::list(page, "/items").iter();
        items.filter(|item| item["routine"] == json!(true)).count()
    };
    assert_eq!(routine(&whole), 0);
    assert_eq!(routine(&list(&admin, "?routine=true").await), 4);
    assert_eq!(routine(&list(&admin, "?process=damp_mop").await), 4);
    assert!(told(&list(&app.as_(SOUTH, &["plans:read"]), "").await).is_empty());
    let bad = admin.get("/v1/due?by=1999-01-01&limit=0&process=").await;
    bad.problem(422, "parameter_out_of_range");
    assert_eq!(bad.faults().len(), 3);
}

#[tokio::test]
async fn an_accepted_plan_covers_what_is_due() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &seen(&site, "worn")).await;
    let plan = build::new_plan(&admin, &build::plan(&surface)).await;
    let covering = |page: &Value| page["items"][0].get("plan_id").cloned();
    assert_eq!(covering(&list(&admin, "").await), None);
    let path = format!("/v1/plans/{}/accept", plan.id());
    let accept = admin.call(Method::POST, &path).header("If-Match", "*");
    let _accepted = accept.answer().await.must(200);
    assert_eq!(covering(&list(&admin, "").await), Some(json!(plan.id())));
}

fn amount(value: &Value, pointer: &str) -> f64 {
    read::text(value, pointer).parse().unwrap()
}

#[tokio::test]
async fn a_forecast_prices_what_is_due_as_a_plan_does_and_sets_it_beside_the_budget() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &seen(&site, "worn")).await;
    let wish = json!({"goal": "restore", "process": "machine_strip_and_refinish"});
    let preview = json!({"surface_id": surface, "wish": wish});
    let plan = admin
        .post("/v1/plans/preview", &preview)
        .await
        .must(200)
        .json();
    let query = format!("/v1/forecast?site_id={site}&months=19&process=machine_strip_and_refinish");
    let made = admin.get(&query).await.must(200).json();
    // Overdue since May: today, 1 June 2026, and again after 365 days.
    let months = read::list(&made, "/months").iter();
    let due: Vec<(&str, f64)> = months
        .filter(|month| month["cost"]["n_jobs"] != json!(0))
        .map(|month| {
            (
                read::text(month, "/month"),
                amount(month, "/cost/expected/amount"),
            )
        })
        .collect();
    let one = expected(&plan);
    assert_eq!(
        due.iter().map(|(month, _)| *month).collect::<Vec<_>>(),
        ["2026-06", "2027-06"]
    );
    assert!(
        due.iter().all(|(_, told)| (told - one).abs() < 0.02),
        "{due:?}, {one}"
    );
    assert_eq!(read::list(&made, "/months").len(), 19);
    // No percentile is a sum of percentiles: two jobs vary less than one.
    let month = &made["months"][0]["cost"];
    let total = &made["totals"][0]["cost"];
    assert_eq!(
        (&total["n_jobs"], &made["totals"][0]["currency"]),
        (&json!(2), &json!("GBP"))
    );
    let (p80, both) = (amount(month, "/p80/amount"), amount(total, "/p80/amount"));
    assert!(amount(month, "/p50/amount") < p80 && p80 < amount(month, "/p90/amount"));
    assert!(both < 2.0 * p80 && both > amount(total, "/p50/amount"));
    // Without a budget nothing is said of it.
    assert_eq!(read::list(&made, "/years").len(), 2);
    assert!(made["years"][0].get("chance_within").is_none());
    let budgets = format!("/v1/sites/{site}/budgets");
    let ample = json!({"year": 2026, "net": build::pounds("100000.00")});
    let set = admin.post(&budgets, &ample).await.must(201);
    admin
        .post(&budgets, &ample)
        .await
        .problem(409, "already_exists");
    let chance = |made: &Value| read::number(made, "/years/0/chance_within");
    let made = admin.get(&query).await.must(200).json();
    assert!(chance(&made) > 0.999 && made["years"][1].get("chance_within").is_none());
    // Half of all cases lie below P50.
    let p50 = read::text(&made, "/years/0/cost/p50/amount").to_owned();
    let path = format!("/v1/budgets/{}", set.id());
    let tight = json!({"net": build::pounds(&p50)});
    let _tighter = admin.patch(&path, &set.etag(), &tight).await.must(200);
    let stale = admin.patch(&path, &set.etag(), &tight).await;
    stale.problem(412, "stale_version");
    let made = admin.get(&query).await.must(200).json();
    assert!((chance(&made) - 0.5).abs() < 0.001);
    // What was spent in May is gone.
    let _done = admin
        .record("/v1/completions", &build::completion(&surface))
        .await
        .must(201);
    let made = admin
        .get(&format!("/v1/forecast?site_id={site}"))
        .await
        .must(200)
        .json();
    assert!(amount(&made, "/years/0/spent/amount") > 0.0);
}

#[tokio::test]
async fn a_forecast_is_a_table_and_a_chart_and_never_adds_two_currencies() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let north = build::new_site(&admin).await;
    build::new_surface(&admin, &seen(&north, "worn")).await;
    let abroad = json!({"name": "=1+1", "currency": "EUR", "country": "IE", "time_zone": "Europe/Dublin", "rate_card": null});
    let abroad = admin
        .post("/v1/sites", &with(build::site(), abroad))
        .await
        .must(201)
        .id();
    build::new_surface(&admin, &seen(&abroad, "sound")).await;
    let made = admin.get("/v1/forecast?months=3").await.must(200).json();
    let totals: Vec<&str> = read::list(&made, "/totals")
        .iter()
        .map(|total| read::text(total, "/currency"))
        .collect();
    assert_eq!(totals, ["EUR", "GBP"]);
    let table = admin
        .get("/v1/forecast?months=3&format=csv")
        .await
        .must(200);
    assert!(
        table
            .header("Content-Type")
            .unwrap()
            .starts_with("text/csv")
    );
    let table = table.text();
    let lines: Vec<&str> = table.lines().collect();
    assert_eq!(lines.len(), 1 + 2 * 3);
    assert!(lines[4].contains(",'=1+1,2026-06,EUR,"), "{}", lines[4]);
    let chart = admin
        .get("/v1/forecast?months=3&format=svg")
        .await
        .must(200);
    assert_eq!(chart.header("Content-Type"), Some("image/svg+xml"));
    let chart = chart.text();
    assert!(chart.starts_with("<svg ") && chart.contains("In EUR.") && chart.contains("In GBP."));
    let bad = admin.get("/v1/forecast?from=2026-05&months=37").await;
    bad.problem(422, "parameter_out_of_range");
    assert_eq!(bad.faults().len(), 2);
    let parquet = admin.call(Method::GET, "/v1/forecast");
    let parquet = parquet
        .header("Accept", "application/vnd.apache.parquet")
        .answer()
        .await;
    parquet.problem(406, "not_acceptable");
}

#[tokio::test]
async fn a_token_that_is_bound_to_a_contractor_sees_neither_budgets_nor_forecasts() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let budgets = format!("/v1/sites/{site}/budgets");
    let budget = admin
        .post(&budgets, &build::budget(2026))
        .await
        .must(201)
        .id();
    let contractor = build::new_contractor(&admin).await;
    let bound = app.bound_to(&contractor, &["reports:read", "plans:read"]);
    let one = format!("/v1/budgets/{budget}");
    for path in ["/v1/forecast", budgets.as_str(), one.as_str()] {
        let refused = bound.get(path).await;
        refused.problem(403, "insufficient_scope");
    }
}

#[tokio::test]
async fn the_calendar_shows_on_each_day_as_much_as_the_list_and_says_what_is_overdue() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    for condition in ["worn", "sound"] {
        build::new_surface(&admin, &seen(&site, condition)).await;
    }
    let items = list(&admin, &format!("?site_id={site}&limit=200")).await;
    let days: Vec<&str> = read::list(&items, "/items")
        .iter()
        .map(|item| read::text(item, "/due_on"))
        .collect();
    let today = app.now().date_naive().to_string();
    let n_overdue = days.iter().filter(|day| **day < today.as_str()).count();
    let path = format!("/v1/due/chart?site_id={site}&from=2026-05");
    let chart = admin.get(&path).await.must(200);
    assert_eq!(chart.header("Content-Type"), Some("image/svg+xml"));
    let svg = chart.text();
    for month in ["2026-05", "2026-08", "2027-04"] {
        let of_month = days.iter().filter(|day| day.starts_with(month)).count();
        assert!(
            svg.contains(&format!("{month}: {of_month}")),
            "{month} {of_month}\n{svg}"
        );
    }
    let overdue = format!("{n_overdue} overdue before today");
    assert!(n_overdue > 0 && svg.contains(&overdue), "{overdue}");
    let others = app.admin_of(SOUTH).get(&path).await.must(200).text();
    assert!(others.contains("No site of yours") && others.contains("2026-05: 0"));
    admin
        .get("/v1/due/chart?from=1990-01")
        .await
        .problem(422, "parameter_out_of_range");
}

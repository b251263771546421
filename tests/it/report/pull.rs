//! Pulls that come again: what changed since the last one, and links that open a report without a token.

use chrono::TimeDelta;
use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    app::{SOUTH, TestApp},
    build,
    client::{Answer, Caller},
    read,
};

use super::{site, work};

const PATH: &str = "/v1/reports/costs?from=2026-01&to=2026-07&group_by=site,surface,contractor";

async fn pull(admin: &Caller, path: &str, known: &str) -> Answer {
    let call = admin.call(Method::GET, path).header("If-None-Match", known);
    call.answer().await
}

#[tokio::test]
async fn a_pull_that_would_bring_nothing_new_says_so() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = site(&admin, json!({})).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let first = work(&admin, &surface, "2026-05-10", json!({})).await;
    let told = admin.get(PATH).await.must(200);
    let mut tag = told.header("ETag").unwrap().to_owned();
    assert!(tag.starts_with("W/\""), "{tag}");
    let same = pull(&admin, PATH, &tag).await.must(304);
    assert_eq!(
        (same.body.len(), same.header("ETag")),
        (0, Some(tag.as_str()))
    );
    let table = format!("{PATH}&format=csv");
    assert_ne!(
        pull(&admin, &table, &tag).await.must(200).header("ETag"),
        Some(tag.as_str())
    );
    // What is recorded in other months changes nothing here.
    work(&admin, &surface, "2025-11-10", json!({})).await;
    let _done = pull(&admin, PATH, &tag).await.must(304);
    let id = read::text(&first, "/id").to_owned();
    let rename = json!({"name": "South clinic"});
    let plan = build::new_plan(&admin, &build::plan(&surface)).await.id();
    for change in [
        "void",
        "rename the site",
        "accept a plan",
        "widen the surface",
    ] {
        match change {
            "void" => {
                let path = format!("/v1/completions/{id}/void");
                let reason = json!({"reason": "Reported for the wrong night."});
                let _done = admin.record(&path, &reason).await.must(200);
            }
            "rename the site" => {
                let _done = admin
                    .patch(&format!("/v1/sites/{site}"), "*", &rename)
                    .await
                    .must(200);
            }
            "widen the surface" => {
                let wider = json!({"area_m2": 250});
                let _done = admin
                    .patch(&format!("/v1/surfaces/{surface}"), "*", &wider)
                    .await
                    .must(200);
            }
            _ => {
                let accept = admin.call(Method::POST, &format!("/v1/plans/{plan}/accept"));
                let _done = accept.header("If-Match", "*").answer().await.must(200);
            }
        }
        let wide = PATH.replace("2026-07", "2026-12");
        let path = if change == "accept a plan" {
            &wide
        } else {
            PATH
        };
        let new = pull(&admin, path, &tag).await.must(200);
        let new = new.header("ETag").unwrap().to_owned();
        assert_ne!(new, tag, "{change}");
        let _done = pull(&admin, path, &new).await.must(304);
        if path == PATH {
            tag = new;
        }
    }
}

#[tokio::test]
async fn a_report_is_parquet_where_it_is_asked_for() {
    let app = TestApp::start().await;
    let admin = app.admin();
    for answer in [
        admin.get(&format!("{PATH}&format=parquet")).await,
        admin
            .call(Method::GET, PATH)
            .header("Accept", "application/vnd.apache.parquet")
            .answer()
            .await,
    ] {
        let answer = answer.must(200);
        assert_eq!(
            answer.header("Content-Type"),
            Some("application/vnd.apache.parquet")
        );
        let name = answer.header("Content-Disposition").unwrap();
        assert_eq!(
            name,
            "attachment; filename=\"costs-2026-01-to-2026-07.parquet\""
        );
        // A file of nothing is a file, with its columns.
        assert!(answer.body.starts_with(b"PAR1") && answer.body.ends_with(b"PAR1"));
    }
}

#[tokio::test]
async fn a_chart_shows_the_numbers_of_the_report_and_says_them() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = site(&admin, json!({"name": "Ward <b>\"3\"</b> & hall"})).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let plan = build::new_plan(&admin, &build::plan(&surface)).await.id();
    work(&admin, &surface, "2026-04-10", json!({"plan_id": plan})).await;
    let report = |by: &str, rest: &str| {
        format!("/v1/reports/costs?from=2026-01&to=2026-07&group_by={by}{rest}")
    };
    let months = admin.get(&report("month", "")).await.must(200).json();
    let april = read::find(&months, "/rows", "/month", "2026-04");
    let chart = admin.get(&report("month", "&format=svg")).await.must(200);
    assert_eq!(chart.header("Content-Type"), Some("image/svg+xml"));
    let told = format!(
        "2026-04: planned {}, actual {}",
        read::text(april, "/planned/net/amount"),
        read::text(april, "/actual/net/amount")
    );
    assert!(chart.text().contains(&told), "{told}");
    assert!(
        chart
            .text()
            .contains("<title>Cost of floor care by month: planned beside actual</title>")
    );
    let chart = admin
        .get(&report("site", "&format=svg"))
        .await
        .must(200)
        .text();
    assert!(
        chart.contains("Ward &lt;b&gt;&quot;3&quot;&lt;/b&gt; &amp; hall")
            && !chart.contains("<b>")
    );
    let sites = admin.get(&report("site", "")).await.must(200).json();
    assert!(chart.contains(read::text(&sites["rows"][0], "/actual_per_m2/amount")));
    admin
        .get(&report("site,month", "&format=svg"))
        .await
        .problem(422, "parameter_out_of_range");
    let nothing = "/v1/reports/costs?from=2020-01&to=2020-02&format=svg";
    assert!(
        admin
            .get(nothing)
            .await
            .must(200)
            .text()
            .contains("Nothing was done")
    );
}

/// A link, and the path of its address.
async fn link(admin: &Caller, change: Value) -> (Value, String) {
    let body = json!({"name": "Board", "query": "last_months=12&group_by=site&format=csv"});
    let made = admin
        .post("/v1/report-links", &build::with(body, change))
        .await
        .must(201)
        .json();
    let address = read::text(&made, "/address");
    let path = address[address.find("/v1/").unwrap()..].to_owned();
    (made, path)
}

#[tokio::test]
async fn a_link_opens_its_report_without_a_token_until_it_is_revoked() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = site(&admin, json!({})).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let month = app.now().format("%Y-%m-01").to_string();
    work(&admin, &surface, &month, json!({})).await;
    let (made, path) = link(&admin, json!({})).await;
    let stranger = app.stranger();
    let shared = stranger.get(&path).await.must(200);
    let own = "/v1/reports/costs?last_months=12&group_by=site&format=csv";
    assert_eq!(shared.body, admin.get(own).await.must(200).body);
    assert!(shared.text().contains(&site));
    assert_eq!(shared.header("Referrer-Policy"), Some("no-referrer"));
    let tag = shared.header("ETag").unwrap().to_owned();
    let _done = pull(&stranger, &path, &tag).await.must(304);
    // It opens this report and no other.
    stranger
        .get(&format!("{path}?group_by=surface"))
        .await
        .problem(400, "unknown_parameter");
    let id = read::text(&made, "/id");
    let told = admin.get(&format!("/v1/report-links/{id}")).await.must(200);
    assert_eq!(told.json().get("address"), None);
    let listed = admin.get("/v1/report-links").await.must(200).json();
    assert_eq!(read::list(&listed, "/items"), [told.json()]);
    app.admin_of(SOUTH)
        .get(&format!("/v1/report-links/{id}"))
        .await
        .problem(404, "not_found");
    let reader = app.as_(tests::app::NORTH, &["reports:read"]);
    let body = json!({"name": "Board", "query": "last_months=1"});
    reader
        .post("/v1/report-links", &body)
        .await
        .problem(403, "insufficient_scope");

    let revoke = admin.call(Method::POST, &format!("/v1/report-links/{id}/revoke"));
    let revoked = revoke
        .header("If-Match", &told.etag())
        .answer()
        .await
        .must(200)
        .json();
    assert_eq!(read::text(&revoked, "/status"), "revoked");
    stranger.get(&path).await.problem(404, "not_found");
    let again = admin.call(Method::POST, &format!("/v1/report-links/{id}/revoke"));
    again
        .header("If-Match", "*")
        .answer()
        .await
        .problem(409, "state_conflict");
}

#[tokio::test]
async fn an_address_that_expired_or_was_guessed_opens_nothing() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let (_, path) = link(&admin, json!({"days": 1})).await;
    let (_, other) = link(&admin, json!({})).await;
    let stranger = app.stranger();
    let _done = stranger.get(&path).await.must(200);
    // The last 43 characters hold the secret; the two addresses share no byte of it.
    let cut = path.len() - 43;
    let swapped = format!("{}{}", &path[..cut], &other[cut..]);
    for guessed in [
        &swapped,
        &path[..path.len() - 1],
        "/v1/shared-reports/x",
        "/v1/shared-reports/%00",
    ] {
        stranger.get(guessed).await.problem(404, "not_found");
    }
    app.clock().advance(TimeDelta::hours(25));
    stranger.get(&path).await.problem(404, "not_found");
    let _done = stranger.get(&other).await.must(200);
}

#[tokio::test]
async fn a_link_to_what_is_no_report_is_refused_with_every_reason() {
    let app = TestApp::start().await;
    let admin = app.admin();
    for (query, n) in [
        ("group_by=weekday&last_months=500", 2),
        ("last_months=1&grup_by=site", 1),
        ("format=pdf&from=2026-01", 2),
    ] {
        let refused = admin
            .post(
                "/v1/report-links",
                &json!({"name": "Board", "query": query}),
            )
            .await;
        refused.problem(422, "invalid_body");
        let faults = refused.faults();
        assert_eq!(faults.len(), n, "{query}: {faults:?}");
        for fault in faults {
            assert_eq!(fault, ("#/query".to_owned(), "invalid_query".to_owned()));
        }
    }
    let eternal = json!({"name": "Board", "query": "last_months=1", "days": 4000});
    admin
        .post("/v1/report-links", &eternal)
        .await
        .problem(422, "invalid_body");
}

#[tokio::test]
async fn the_waterfall_goes_from_planned_to_actual_by_the_parts_of_the_variance() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = site(&admin, json!({})).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let plan = build::new_plan(&admin, &build::plan(&surface)).await.id();
    work(&admin, &surface, "2026-04-10", json!({"plan_id": plan})).await;
    work(&admin, &surface, "2026-05-10", json!({})).await;
    let report = "/v1/reports/costs?from=2026-01&to=2026-07";
    let total = admin.get(report).await.must(200).json()["totals"][0].clone();
    let parts = [
        "price",
        "quantity",
        "productivity",
        "overheads",
        "unplanned",
    ];
    let cents = |part: &&str| read::cents(&total, &format!("/variance_parts/{part}"));
    let sum: i64 = parts.iter().map(cents).sum();
    assert_eq!(
        read::cents(&total, "/planned/net") + sum,
        read::cents(&total, "/actual/net")
    );
    let chart = "/v1/reports/costs/waterfall?from=2026-01&to=2026-07";
    let chart = admin.get(chart).await.must(200);
    assert_eq!(chart.header("Content-Type"), Some("image/svg+xml"));
    let svg = chart.text();
    let shown = parts.map(|part| {
        let amount = read::text(&total, &format!("/variance_parts/{part}/amount"));
        format!("{part} {amount}")
    });
    let told = format!(
        "planned {}, {}, actual {}",
        read::text(&total, "/planned/net/amount"),
        shown.join(", "),
        read::text(&total, "/actual/net/amount")
    );
    assert!(svg.contains(&told), "{told}\n{svg}");
    let nothing = "/v1/reports/costs/waterfall?from=2020-01&to=2020-02";
    let nothing = admin.get(nothing).await.must(200).text();
    assert!(nothing.contains("Nothing was done in these months."));
}

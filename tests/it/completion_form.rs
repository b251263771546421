//! The completion form: a crew without a system of its own reports through an address, once, and nothing else is opened by it.

mod door;
mod units;

use std::fmt::Write as _;

use base64::{Engine, engine::general_purpose::STANDARD};
use chrono::{Datelike, TimeDelta};
use reqwest::Method;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use tests::{
    app::TestApp,
    build::{self, with},
    client::{Answer, Caller},
    read,
};

/// A plan of stripping and coating 240 m², made at the site of the zone `Europe/London`.
async fn planned(admin: &Caller, change: Value) -> String {
    let site = build::new_site(admin).await;
    let surface = build::new_surface(admin, &with(build::surface(&site), change)).await;
    build::new_plan(admin, &build::plan(&surface)).await.id()
}

/// A link to the form of a plan, and the path of its address.
async fn link(admin: &Caller, plan: &str, change: Value) -> (Value, String) {
    let path = format!("/v1/plans/{plan}/completion-links");
    let made = admin.post(&path, &change).await.must(201).json();
    let address = read::text(&made, "/address");
    let path = address[address.find("/c/").unwrap()..].to_owned();
    (made, path)
}

/// The key that a form came with.
fn key_of(page: &Answer) -> String {
    let text = page.text();
    let (_, rest) = text.split_once("name=\"key\" value=\"").unwrap();
    rest[..rest.find('"').unwrap()].to_owned()
}

/// Fields as a form sends them: every byte but letters and digits is written as three.
fn encoded(fields: &[(&str, &str)]) -> String {
    let mut body = String::new();
    for (name, value) in fields {
        if !body.is_empty() {
            body.push('&');
        }
        body.push_str(name);
        body.push('=');
        for byte in value.bytes() {
            if byte.is_ascii_alphanumeric() {
                body.push(byte.into());
            } else {
                write!(body, "%{byte:02X}").unwrap();
            }
        }
    }
    body
}

async fn submit(app: &TestApp, path: &str, fields: &[(&str, &str)]) -> Answer {
    let call = app.stranger().call(Method::POST, path);
    let call = call.header("Content-Type", "application/x-www-form-urlencoded");
    call.bytes(encoded(fields)).answer().await
}

/// A clock time of the site, so many hours from now: London is one hour ahead of UTC from April to September.
fn clock(app: &TestApp, hours: i64) -> String {
    assert!((4..10).contains(&app.now().month()));
    let there = app.now() + TimeDelta::hours(hours + 1);
    there.format("%Y-%m-%dT%H:%M").to_string()
}

/// What is recorded for a plan.
async fn recorded(admin: &Caller, plan: &str) -> Vec<Value> {
    let path = format!("/v1/completions?plan_id={plan}");
    let listed = admin.get(&path).await.must(200).json();
    read::list(&listed, "/items").to_vec()
}

#[tokio::test]
async fn a_crew_reports_the_work_of_its_sheet_by_phone_and_sees_what_is_recorded() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let plan = planned(&admin, json!({"name": "Corridor 1"})).await;
    let contractor = build::new_contractor(&admin).await;
    let (made, path) = link(&admin, &plan, json!({"contractor_id": contractor})).await;
    let page = app.stranger().get(&path).await.must(200);
    assert_eq!(
        page.header("Content-Type"),
        Some("text/html; charset=utf-8")
    );
    assert_eq!(page.header("Cache-Control"), Some("no-store"));
    assert_eq!(page.header("Referrer-Policy"), Some("no-referrer"));
    let text = page.text();
    assert!(text.contains("Corridor 1") && text.contains("name=\"litres_0\""));
    let (began, ended) = (clock(&app, 1), clock(&app, 21));
    let key = key_of(&page);
    let fields = [
        ("key", key.as_str()),
        ("started_at", &began),
        ("finished_at", &ended),
        ("hours_prepare", "16,5"),
        ("hours_protect", "8"),
        ("litres_0", "13.2"),
        ("batch_0", "L-4711"),
        ("litres_1", "24"),
        ("polish_coats", "3"),
        ("surface_ph", "7.8"),
        ("dried_rinse_to_coat", "75"),
        ("operative_ref", "crew-7"),
        ("note", "Two chairs\r\nstuck."),
    ];
    let done = submit(&app, &path, &fields).await.must(201);
    let shown = done.text();
    for told in [
        "Recorded. Thank you.",
        "Differs from the plan",
        "3 ",
        "L-4711",
        "16.5 h",
        "crew-7",
    ] {
        assert!(shown.contains(told), "{told}");
    }
    let all = recorded(&app.admin(), &plan).await;
    let [record] = all.as_slice() else {
        panic!("{} records", all.len())
    };
    let id = read::text(record, "/id");
    assert!(shown.contains(id));
    assert_eq!(read::text(record, "/contractor_id"), contractor);
    assert_eq!(read::text(record, "/products/0/batch"), "L-4711");
    assert_eq!(read::number(record, "/labour/0/hours"), 16.5);
    assert_eq!(read::number(record, "/polish_coats"), 3.0);
    assert_eq!(read::number(record, "/dried/0/after_min"), 75.0);
    assert_eq!(read::text(record, "/note"), "Two chairs\nstuck.");
    assert_eq!(read::text(record, "/external/system"), "completion-form");
    assert_eq!(
        read::text(record, "/deviations/0/code"),
        "fewer_polish_coats"
    );
    // The clock times are those of the site.
    let start = app.now() + TimeDelta::hours(1);
    let start = start.format("%Y-%m-%dT%H:%M").to_string();
    assert!(read::text(record, "/started_at").starts_with(&start));
    // The trail says that it came through the link, and for whom.
    let trail = admin.get("/v1/audit?limit=200").await.must(200).json();
    let deed = read::find(&trail, "/items", "/operation", "submitCompletionForm");
    assert_eq!(read::text(deed, "/client"), read::text(&made, "/id"));
    assert_eq!(read::text(deed, "/subject"), contractor);
    assert_eq!(
        read::text(deed, "/resource"),
        format!("/v1/completions/{id}")
    );
    let told = format!("/v1/completion-links/{}", read::text(&made, "/id"));
    let told = admin.get(&told).await.must(200).json();
    assert_eq!(read::number(&told, "/reported"), 1.0);
    assert_eq!(told.get("address"), None);
}

#[tokio::test]
async fn a_form_that_is_sent_again_counts_once_also_when_it_was_changed_or_its_key_is_forgotten() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let plan = planned(&admin, json!({})).await;
    let (made, path) = link(&admin, &plan, json!({"reports": 2})).await;
    let key = key_of(&app.stranger().get(&path).await.must(200));
    let (began, ended) = (clock(&app, 1), clock(&app, 21));
    let fields = |hours| {
        [
            ("key", key.as_str()),
            ("started_at", began.as_str()),
            ("finished_at", ended.as_str()),
            ("hours_prepare", hours),
        ]
    };
    let same = fields("16");
    let (first, twin) = tokio::join!(submit(&app, &path, &same), submit(&app, &path, &same));
    let replayed = [&first, &twin].map(|answer| {
        assert_eq!(answer.status, 201, "{}", answer.text());
        answer.header("Idempotent-Replayed") == Some("true")
    });
    assert_eq!(replayed.iter().filter(|again| **again).count(), 1);
    let changed = submit(&app, &path, &fields("17")).await.must(409).text();
    assert!(changed.contains("was not recorded") && changed.contains("16 h"));
    // Keys are kept for two days; the report's name is kept with it.
    app.clock().advance(TimeDelta::days(3));
    let late = submit(&app, &path, &fields("16")).await.must(201);
    assert_eq!(late.header("Idempotent-Replayed"), Some("true"));
    assert_eq!(recorded(&app.admin(), &plan).await.len(), 1);
    // Another form of the same link is another report, up to the number that was allowed.
    for (status, n) in [(201, 2), (409, 2)] {
        let page = app.stranger().get(&path).await;
        let key = if page.status == 200 {
            key_of(&page)
        } else {
            assert_eq!(page.status, 409);
            "0190-another".to_owned()
        };
        let mut fields = fields("4");
        fields[0].1 = &key;
        let _done = submit(&app, &path, &fields).await.must(status);
        assert_eq!(recorded(&app.admin(), &plan).await.len(), n);
    }
    // What was reported through it is still told to who sends it again.
    let _again = submit(&app, &path, &fields("16")).await.must(201);
    let told = format!("/v1/completion-links/{}", read::text(&made, "/id"));
    assert_eq!(
        read::number(&app.admin().get(&told).await.json(), "/reported"),
        2.0
    );
}

/// The element with this id, up to its end.
fn element<'a>(page: &'a str, id: &str) -> &'a str {
    let from = page.find(&format!("id=\"{id}\"")).unwrap();
    &page[from..from + page[from..].find('>').unwrap()]
}

#[tokio::test]
async fn every_fault_stands_beside_its_field_and_what_was_typed_is_still_there() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let plan = planned(&admin, json!({})).await;
    let (_, path) = link(&admin, &plan, json!({})).await;
    let key = key_of(&app.stranger().get(&path).await.must(200));
    let began = clock(&app, 1);
    let form = [
        ("key", key.as_str()),
        ("started_at", &began),
        ("finished_at", "tonight"),
        ("hours_prepare", "six"),
        ("hours_protect", "2000"),
        ("batch_1", "L-4711"),
        ("surface_ph", "15"),
        ("dried_rinse_to_coat", "0"),
        ("note", "\"><script>alert(1)</script>"),
    ];
    let page = submit(&app, &path, &form).await.must(422).text();
    for field in [
        "finished_at",
        "hours_prepare",
        "hours_protect",
        "litres_1",
        "surface_ph",
        "dried_rinse_to_coat",
    ] {
        assert!(page.contains(&format!("href=\"#{field}\"")), "{field}");
        assert!(page.contains(&format!("id=\"{field}-wrong\"")), "{field}");
        let input = element(&page, field);
        assert!(
            input.contains("aria-invalid=\"true\"") && input.contains(&format!("{field}-wrong")),
            "{input}"
        );
    }
    assert_eq!(
        page.matches("aria-invalid").count(),
        6 + page.matches("[aria-invalid").count()
    );
    for typed in [
        "value=\"tonight\"",
        "value=\"six\"",
        "value=\"L-4711\"",
        key.as_str(),
    ] {
        assert!(page.contains(typed), "{typed}");
    }
    assert!(
        page.contains("&lt;script&gt;alert(1)&lt;/script&gt;") && !page.contains("<script>alert")
    );
    // What only the record can tell, after the form: beside its field too.
    let soon = clock(&app, 0);
    let form = [
        ("key", key.as_str()),
        ("started_at", &began),
        ("finished_at", &soon),
        ("area_m2", "9999"),
    ];
    let page = submit(&app, &path, &form).await.must(422).text();
    for field in ["finished_at", "area_m2", "hours_prepare"] {
        assert!(page.contains(&format!("id=\"{field}-wrong\"")), "{field}");
    }
    assert!(recorded(&app.admin(), &plan).await.is_empty());
    // The same form, mended, is recorded under its key.
    let ended = clock(&app, 20);
    let form = [
        ("key", key.as_str()),
        ("started_at", &began),
        ("finished_at", &ended),
        ("litres_0", "13"),
    ];
    let _done = submit(&app, &path, &form).await.must(201);
}

#[tokio::test]
async fn a_plan_that_counts_no_more_is_told_and_nothing_is_recorded() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let plan = planned(&admin, json!({})).await;
    let (_, path) = link(&admin, &plan, json!({})).await;
    let key = key_of(&app.stranger().get(&path).await.must(200));
    let withdraw = admin.call(Method::POST, &format!("/v1/plans/{plan}/withdraw"));
    let _done = withdraw.header("If-Match", "*").answer().await.must(200);
    let closed = app.stranger().get(&path).await.must(409).text();
    assert!(closed.contains("does not count any more"));
    let (began, ended) = (clock(&app, 1), clock(&app, 9));
    let fields = [
        ("key", key.as_str()),
        ("started_at", &began),
        ("finished_at", &ended),
        ("hours_prepare", "8"),
    ];
    let refused = submit(&app, &path, &fields).await.must(409).text();
    assert!(refused.contains("does not count any more"));
    assert!(recorded(&app.admin(), &plan).await.is_empty());
    let path = format!("/v1/plans/{plan}/completion-links");
    admin
        .post(&path, &json!({}))
        .await
        .problem(409, "state_conflict");
}

/// Names come from many hands; the page may run its one script and no other, and send to itself.
#[tokio::test]
async fn nothing_that_a_name_brings_runs_and_the_page_speaks_the_language_of_its_link() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let plan = planned(&admin, json!({"name": "<script>alert(1)</script>\"'&"})).await;
    let (_, path) = link(&admin, &plan, json!({"language": "de"})).await;
    let page = app.stranger().get(&path).await.must(200);
    let text = page.text();
    assert!(
        text.contains("&lt;script&gt;alert(1)&lt;/script&gt;") && !text.contains("<script>alert")
    );
    assert!(text.contains("<html lang=\"de\">") && text.contains("Arbeit melden"));
    assert!(
        text.contains("name=\"viewport\"") && !text.contains(" style=\"") && !text.contains("src=")
    );
    let within = |open: &str, close: &str| {
        let (_, rest) = text.split_once(open).unwrap();
        STANDARD.encode(Sha256::digest(rest.split_once(close).unwrap().0))
    };
    let (style, script) = (
        within("<style>", "</style>"),
        within("<script>", "</script>"),
    );
    let policy = page.header("Content-Security-Policy").unwrap();
    assert_eq!(
        policy,
        format!(
            "default-src 'none'; style-src 'sha256-{style}'; script-src 'sha256-{script}'; base-uri 'none'; \
             form-action 'self'; frame-ancestors 'none'"
        )
    );
    // Numbers are read as they are written there, and what differs is told in German.
    let key = key_of(&page);
    let (began, ended) = (clock(&app, 1), clock(&app, 21));
    let fields = [
        ("key", key.as_str()),
        ("started_at", &began),
        ("finished_at", &ended),
        ("hours_prepare", "6,25"),
        ("polish_coats", "1"),
    ];
    let done = submit(&app, &path, &fields).await.must(201).text();
    assert!(done.contains("6,25 h") && done.contains("Weniger Aufträge Pflegefilm als geplant."));
}

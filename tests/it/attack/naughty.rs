//! Text that breaks programs elsewhere. The collection is our own: a published one would be kept under its licence, and
//! each of these stands for a kind of trouble.

use reqwest::Method;
use serde_json::{Value, json};
use tests::{
    app::TestApp,
    build::{self, with},
    client::Answer,
    raw::speak,
};

/// Texts, one a line: names that are words elsewhere, scripts that join or turn, what shells, spreadsheets, templates and
/// markup would take for more than text, and long ones.
const TEXTS: &str = include_str!("../../fixtures/naughty.txt");

/// Bodies, one a line, that are not the JSON of RFC 8259, or not an object: each is refused.
const BROKEN: &str = include_str!("../../fixtures/broken-json.txt");

/// Bodies, one a line, that are JSON, however it looks: each is read, and then refused or taken for what it means.
const ODD: &str = include_str!("../../fixtures/odd-json.txt");

fn lines(text: &str) -> impl Iterator<Item = &str> {
    text.lines().filter(|line| !line.is_empty())
}

/// No server error, and of a success that which was sent.
#[track_caller]
fn is_kept_or_refused(answer: &Answer, text: &str) -> bool {
    if answer.status == 201 {
        assert_eq!(answer.json()["name"], json!(text));
        return true;
    }
    assert!(
        [400, 422].contains(&answer.status),
        "{text:?}: {} {}",
        answer.status,
        answer.text()
    );
    false
}

#[tokio::test]
async fn s_119_naughty_text_comes_back_as_it_went_in_or_is_refused() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let mut n_kept = 0;
    let mut texts: Vec<String> = lines(TEXTS).map(str::to_owned).collect();
    texts.extend([200, 201, 5_000].map(|n| "ß".repeat(n)));
    texts.extend(
        [
            "\u{feff}mark",
            "a\u{0}b",
            "a\u{7f}b",
            "\u{202e}abc",
            "a\u{200b}b",
            "",
            " ",
            "\u{d7ff}",
            "\u{10ffff}",
        ]
        .map(str::to_owned),
    );
    for text in &texts {
        let made = admin
            .post("/v1/contractors", &json!({ "name": text }))
            .await;
        if is_kept_or_refused(&made, text) {
            n_kept += 1;
            let read = admin.get(&format!("/v1/contractors/{}", made.id())).await;
            assert_eq!(read.must(200).json()["name"], json!(text));
        }
        let change = json!({"name": text, "storey": text});
        let surface = with(build::surface(&site), change);
        let made = admin.post("/v1/surfaces", &surface).await;
        if is_kept_or_refused(&made, text) {
            let work = build::completion(&made.id());
            let _done = admin.record("/v1/completions", &work).await.must(201);
        }
    }
    // The control: most of it is text like any other.
    assert!(n_kept * 2 > texts.len(), "{n_kept} of {}", texts.len());
    for query in [
        "group_by=storey",
        "group_by=storey&format=csv",
        "group_by=surface&format=svg",
        "group_by=surface&format=parquet",
    ] {
        let path = format!("/v1/reports/costs?from=2026-05&to=2026-06&top=30&{query}");
        let _told = admin.get(&path).await.must(200);
    }
    let path = "/v1/reports/costs?from=2026-05&to=2026-06&group_by=storey";
    let told = admin.get(path).await.must(200).json();
    for row in told["rows"].as_array().unwrap() {
        let storey = row["storey"].as_str().unwrap().to_owned();
        assert!(texts.contains(&storey), "{storey:?} was never sent");
    }
}

#[tokio::test]
async fn s_119_broken_json_is_refused_and_odd_json_is_read_for_what_it_means() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let send = async |body: &str| {
        let call = admin.call(Method::POST, "/v1/contractors");
        let call = call.header("Content-Type", "application/json");
        call.bytes(body).answer().await
    };
    for body in lines(BROKEN) {
        let refused = send(body).await;
        assert!(
            [400, 422].contains(&refused.status),
            "{body}: {}",
            refused.text()
        );
        assert_eq!(
            refused.header("Content-Type"),
            Some("application/problem+json")
        );
    }
    for body in lines(ODD) {
        let answer = send(body).await;
        // Read by a parser that is not ours.
        let meant: Value = serde_json::from_str(body).unwrap();
        if answer.status == 201 {
            assert_eq!(answer.json()["name"], meant["name"], "{body}");
        } else {
            assert_eq!(answer.status, 422, "{body}: {}", answer.text());
        }
    }
    let deep = format!("{}{}", "[".repeat(20_000), "]".repeat(20_000));
    assert!([400, 422].contains(&send(&deep).await.status));
    let _well = admin
        .post("/v1/contractors", &json!({"name": "Crew"}))
        .await
        .must(201);
}

#[tokio::test]
async fn s_106_text_of_callers_ends_no_header_and_begins_none() {
    let app = TestApp::start().await;
    let admin = app.admin();
    for n in 0..3 {
        let crew = json!({"name": "Crew", "external": {"system": "a\"b>c", "id": n.to_string()}});
        let _made = admin.post("/v1/contractors", &crew).await.must(201);
    }
    let usual = admin.get("/v1/contractors?limit=1").await.must(200);
    let names = |answer: &Answer| {
        let mut names: Vec<String> = answer.headers.keys().map(ToString::to_string).collect();
        names.sort();
        names
    };
    // Filters come back in `Link`.
    for hostile in [
        "%0D%0ASet-Cookie:%20a=b",
        "a%22b%3Ec",
        "%E2%80%AE%F0%9F%A7%B9",
        "a;b,c",
        "%00",
        "%3Cscript%3E",
    ] {
        for path in [
            format!("/v1/contractors?limit=1&external_system={hostile}&external_id=1"),
            format!("/v1/sites?limit=1&external_system={hostile}&external_id={hostile}"),
            format!("/v1/contractors/{hostile}"),
            format!("/problems/{hostile}"),
        ] {
            let answer = admin.get(&path).await;
            assert!(answer.status < 500, "{path}: {}", answer.text());
            assert!(answer.header("Set-Cookie").is_none(), "{path}");
            for (name, value) in &answer.headers {
                assert!(value.to_str().is_ok(), "{path}: {name} is not plain text");
            }
            if answer.status == 200 {
                let extra = names(&answer)
                    .into_iter()
                    .filter(|name| !names(&usual).contains(name));
                assert_eq!(extra.count(), 0, "{path}");
            }
        }
    }
    // So does the id of a request, if it is sane.
    for (sent, is_kept) in [
        ("job-7", true),
        ("a b", false),
        ("a\"b", false),
        ("é", false),
        ("a\tb", false),
    ] {
        let request = format!(
            "GET /livez HTTP/1.1\r\nHost: a\r\nConnection: close\r\nX-Request-Id: {sent}\r\n\r\n"
        );
        let heard = speak(&app, &request, None).await.to_lowercase();
        let id = heard
            .lines()
            .find_map(|line| line.strip_prefix("x-request-id: "));
        assert_eq!(id.is_some_and(|id| id == sent), is_kept, "{heard}");
    }
}

/// The sums of the largest charges that are taken, beside whole numbers of another width.
#[tokio::test]
async fn s_116_the_largest_sums_are_those_of_whole_numbers() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let largest = json!({"area_m2": 1_000_000, "perimeter_m": 4_000});
    let surface = build::new_surface(&admin, &with(build::surface(&site), largest)).await;
    let (mut sum, mut area) = (0_i128, 0_i128);
    for n in 1..=40_i128 {
        let charged = 9_999_999_999_i128 - n;
        let work = json!({
            "charged": build::pounds(&format!("{charged}.99")), "labour": [{"stage": "prepare", "hours": 0.01}], "products": null,
        });
        let work = with(build::completion(&surface), work);
        let done = admin.record("/v1/completions", &work).await;
        let _done = done.must(201);
        sum += charged * 100 + 99;
        area += 1_000_000;
    }
    let path = "/v1/reports/costs?from=2026-01&to=2026-07";
    for query in [
        "",
        "&group_by=month",
        "&group_by=surface,process",
        "&group_by=stage",
    ] {
        let told = admin.get(&format!("{path}{query}")).await.must(200).json();
        let total = &told["totals"][0];
        let net = total["actual"]["net"]["amount"]
            .as_str()
            .unwrap()
            .replace('.', "");
        assert_eq!(net.parse::<i128>().unwrap(), sum, "{query}");
        assert_eq!(
            total["area_m2"].to_string().parse::<f64>().unwrap(),
            area.to_string().parse::<f64>().unwrap(),
            "{query}"
        );
    }
    // What the ledger cannot hold is refused, not wrapped.
    let beyond = json!({"charged": build::pounds("99999999999999999999")});
    let refused = admin
        .record(
            "/v1/completions",
            &with(build::completion(&surface), beyond),
        )
        .await;
    refused.problem(422, "invalid_body");
    let told = admin.get(path).await.must(200).json();
    let net = told["totals"][0]["actual"]["net"]["amount"]
        .as_str()
        .unwrap()
        .replace('.', "");
    assert_eq!(net.parse::<i128>().unwrap(), sum);
}

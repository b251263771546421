//! Job sheets: what a plan says stands on the page, in the language and units that were asked for, and nothing on it can run.

use base64::{Engine, engine::general_purpose::STANDARD};
use serde_json::json;
use sha2::{Digest, Sha256};
use tests::{
    app::TestApp,
    build::{self, with},
    client::{Answer, Caller},
    read,
};

/// A room of 12 m by 10 m with a door, and its plan of stripping and coating.
pub(crate) async fn planned(admin: &Caller, name: &str) -> Answer {
    let site = build::new_site(admin).await;
    let change = json!({
        "name": name, "area_m2": null, "perimeter_m": null,
        "outline": [[[0, 0], [12, 0], [12, 10], [0, 10]]], "doors": [{"at": [0, 5]}],
    });
    let surface = build::new_surface(admin, &with(build::surface(&site), change)).await;
    build::new_plan(admin, &build::plan(&surface)).await
}

async fn sheet(admin: &Caller, plan: &Answer, query: &str) -> Answer {
    admin
        .get(&format!("/v1/plans/{}/sheet{query}", plan.id()))
        .await
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
}

#[tokio::test]
async fn everything_that_the_crew_needs_of_a_plan_stands_on_its_sheet() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let plan = planned(&admin, "Hall").await;
    let page = sheet(&admin, &plan, "").await.must(200);
    assert_eq!(
        page.header("Content-Type"),
        Some("text/html; charset=utf-8")
    );
    let page = page.text();
    let plan = plan.json();
    let work = read::at(&plan, "/work");
    let mut told = vec![read::text(&plan, "/summary").to_owned()];
    for caution in read::list(&plan, "/cautions") {
        told.push(read::text(caution, "/text").to_owned());
    }
    let steps = read::list(work, "/steps");
    assert!(steps.len() > 8);
    for step in steps {
        told.push(read::text(step, "/action").to_owned());
        for place in [
            "/product/name",
            "/dwell/note",
            "/hold/statement",
            "/hold/if_fails",
            "/wait/name",
            "/if_fails",
        ] {
            told.extend(
                step.pointer(place)
                    .map(|text| text.as_str().unwrap().to_owned()),
            );
        }
    }
    for (list, place) in [
        ("/time_line/events", "/what"),
        ("/acceptance/checks", "/statement"),
        ("/acceptance/defects", "/remedy"),
    ] {
        for row in read::list(work, list) {
            told.push(read::text(row, place).to_owned());
        }
    }
    for text in told {
        assert!(page.contains(&escaped(&text)), "{text}");
    }
    // Each drawn bay has its number in a picture; the first coats stop short of the skirting and the last one does not.
    let drawn = read::list(work, "/layouts")
        .iter()
        .flat_map(|layout| read::list(layout, "/bays"));
    let n_drawn = drawn.filter(|bay| bay.get("drawn").is_some()).count();
    assert!(n_drawn > 1);
    assert_eq!(page.matches("font-weight=\"700\"").count(), n_drawn);
    assert!(
        page.contains("stop short of the skirting by 100 mm")
            && page.contains("right up to the skirting")
    );
    // The strength of the stripper as parts, and as what goes into the bucket in hand.
    assert!(
        page.contains("1:4 (parts of product to parts of water)")
            && page.contains("2500 mL + 10 L")
    );
    assert!(page.contains("This plan is not accepted."));
}

/// Work that starts at 20:00 in summer time is over at a clock time of the site, in its own zone.
#[tokio::test]
async fn times_are_those_of_the_site_and_words_and_units_those_that_were_asked_for() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let plan = planned(&admin, "Hall").await;
    let page = sheet(
        &admin,
        &plan,
        "?closed_at=2026-07-01T19:00:00Z&language=de&units=us",
    )
    .await
    .must(200)
    .text();
    let site = admin
        .get(&format!(
            "/v1/sites/{}",
            read::text(&plan.json(), "/site_id")
        ))
        .await
        .json();
    assert_eq!(read::text(&site, "/time_zone"), "Europe/London");
    assert!(page.contains("<html lang=\"de\">") && page.contains("Uhrzeit (Europe/London)"));
    assert!(
        page.contains("01.07.2026 20:00"),
        "closed at eight in British summer time"
    );
    // 120 m² are 1,291.67 ft² (NIST Handbook 44, appendix C).
    assert!(page.contains("1292 ft²"));
    for (query, status) in [
        ("?language=fr", 422),
        ("?units=si", 422),
        ("?closed_at=today", 400),
        ("?page=2", 400),
    ] {
        let refused = sheet(&admin, &plan, query).await;
        assert_eq!(refused.status, status, "{query}");
    }
}

#[tokio::test]
async fn names_cannot_bring_anything_to_run_onto_a_sheet() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let plan = planned(&admin, "<script>alert(1)</script>\"'&").await;
    let page = sheet(&admin, &plan, "").await.must(200);
    assert!(
        page.text()
            .contains("&lt;script&gt;alert(1)&lt;/script&gt;")
    );
    assert!(!page.text().contains("<script"));
    // The policy allows the one style of the page, by its hash, and nothing else.
    let text = page.text();
    let (_, style) = text.split_once("<style>").unwrap();
    let (style, _) = style.split_once("</style>").unwrap();
    let hash = STANDARD.encode(Sha256::digest(style));
    let policy = page.header("Content-Security-Policy").unwrap();
    assert!(
        policy.starts_with(&format!("default-src 'none'; style-src 'sha256-{hash}';")),
        "{policy}"
    );
    assert!(!policy.contains("unsafe") && !text.contains(" style=\""));
}

#[tokio::test]
async fn a_plan_without_work_says_why_and_what_may_be_done_instead() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &build::surface(&site)).await;
    let wish = json!({"wish": {"goal": "restore", "process": "sand_wood"}});
    let plan = build::new_plan(&admin, &with(build::plan(&surface), wish)).await;
    assert_eq!(read::text(&plan.json(), "/verdict"), "refused");
    let page = sheet(&admin, &plan, "").await.must(200).text();
    assert!(page.contains("No work is planned on this floor."));
    let refusal = read::list(&plan.json(), "/findings").to_vec();
    let refusal = refusal
        .iter()
        .find(|finding| finding["severity"] == "refuse")
        .unwrap();
    assert!(page.contains(&escaped(read::text(refusal, "/statement"))));
    assert!(page.contains("What may be done instead"));
}

/// The page leads to the form of its own plan, and of no other; a link that opens nothing is not printed.
#[tokio::test]
async fn a_sheet_shows_the_code_of_its_own_form_and_of_no_other() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let plan = planned(&admin, "Hall").await;
    let other = planned(&admin, "Ward").await;
    let link = async |plan: &Answer| {
        let path = format!("/v1/plans/{}/completion-links", plan.id());
        admin.post(&path, &json!({})).await.must(201).json()
    };
    let (own, others) = (link(&plan).await, link(&other).await);
    let last = |link: &serde_json::Value| {
        let address = read::text(link, "/address");
        address[address.find("/c/").unwrap()..].to_owned()
    };
    let whole = format!("https://floors.example{}", last(&own));
    let query = format!("?form={whole}");
    let page = sheet(&admin, &plan, &query).await.must(200).text();
    assert!(page.contains(&whole) && page.contains("svg class=\"code\""));
    let without = sheet(&admin, &plan, "").await.must(200).text();
    assert!(!without.contains("svg class=\"code\""));
    let elsewhere = format!("https://floors.example{}", last(&others));
    let wrong = [
        elsewhere.as_str(),
        // The host is missing, and the service was not told its own.
        &last(&own),
        "https://floors.example/c/x",
        "nothing",
    ];
    for address in wrong {
        let refused = sheet(&admin, &plan, &format!("?form={address}")).await;
        refused.problem(422, "parameter_out_of_range");
        assert_eq!(refused.faults()[0].0, "form");
    }
    let revoke = format!("/v1/completion-links/{}/revoke", read::text(&own, "/id"));
    let revoke = admin.call(reqwest::Method::POST, &revoke);
    let _done = revoke.header("If-Match", "*").answer().await.must(200);
    let refused = sheet(&admin, &plan, &format!("?form={whole}")).await;
    refused.problem(422, "parameter_out_of_range");
}

/// The bar ends when people may walk, and the walls and the border are drawn where the floor has an outline.
#[tokio::test]
async fn a_sheet_draws_the_time_the_walls_and_the_border() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let plan = planned(&admin, "Hall").await;
    let page = sheet(&admin, &plan, "").await.must(200).text();
    let plan = plan.json();
    let events = read::list(&plan["work"], "/time_line/events");
    let walk = events.iter().find(|event| event["key"] == "walk").unwrap();
    let opened = walk["used_min"].as_i64().unwrap();
    let told = match (opened / 60, opened % 60) {
        (hours, 0) => format!("open after {hours} h\""),
        (hours, minutes) => format!("open after {hours} h {minutes} min\""),
    };
    assert!(page.contains(&told), "{told}");
    // The first coats leave 100 mm out, the last one nothing: not every drawing has a border.
    let n_drawn = page.matches("<figure>").count();
    assert_eq!(page.matches("stroke-width=\"3\"").count(), n_drawn);
    let n_bordered = page.matches("<clipPath").count();
    assert!(
        0 < n_bordered && n_bordered < n_drawn,
        "{n_bordered} of {n_drawn}"
    );
    assert_eq!(page.matches("<figcaption>").count(), n_bordered);
}

//! Programmes over years, over HTTP: what is compared adds up, grip is never bought off, and whatever is wrong is told at once.

#![expect(clippy::expect_used, reason = "a test that cannot be set up must stop")]

use serde_json::{Value, json};
use tests::{
    app::{SOUTH, TestApp},
    build::{self, with},
    client::Caller,
    read,
};

const PATH: &str = "/v1/programmes/preview";

/// A corridor under medium traffic, its film sound.
fn corridor(site: &str) -> Value {
    let film = json!({"kind": "polish", "coats": 4, "condition": "sound", "seen_at": "2026-05-04T09:00:00Z"});
    with(
        build::surface(site),
        json!({"traffic": "medium", "film": film}),
    )
}

/// Records a reading of 30 May 2026.
async fn record(caller: &Caller, surface: &str, kind: &str, value: f64) {
    let reading =
        json!({"surface_id": surface, "kind": kind, "value": value, "at": "2026-05-30T09:00:00Z"});
    let _kept = caller.post("/v1/readings", &reading).await.must(201);
}

fn amount(of: &Value) -> f64 {
    read::text(of, "/amount").parse().expect("a number")
}

/// The programme of a kind on the first floor.
fn programme<'a>(answer: &'a Value, kind: &str) -> &'a Value {
    let all = read::list(answer, "/surfaces/0/programmes").iter();
    all.into_iter()
        .find(|programme| programme["kind"] == kind)
        .expect("a programme of this kind")
}

fn finding<'a>(answer: &'a Value, code: &str) -> Option<&'a Value> {
    let mut all = read::list(answer, "/surfaces/0/findings").iter();
    all.find(|finding| finding["code"] == code)
}

#[tokio::test]
async fn programmes_stand_side_by_side_and_their_numbers_add_up() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let first = build::new_surface(&admin, &corridor(&site)).await;
    let second = build::new_surface(&admin, &corridor(&site)).await;
    for surface in [&first, &second] {
        record(&admin, surface, "ptv_wet", 48.0).await;
        record(&admin, surface, "gloss_gu", 62.0).await;
    }
    let asked = with(
        build::programme(&site, &[&first, &second]),
        json!({"crew_hours_per_month": 4}),
    );
    let answer = admin.post(PATH, &asked).await.must(200).json();
    let best = programme(&answer, "best");
    for kind in ["fixed_intervals", "longer_intervals", "leave"] {
        let other = programme(&answer, kind);
        assert!(
            amount(&best["weighed_cost"]) <= amount(&other["weighed_cost"]) + 0.01,
            "{kind}: {answer:#}"
        );
    }
    let below = best["below_share"].as_f64().expect("a share");
    assert!(below <= 0.1, "{best:#}");
    assert_eq!(
        amount(&programme(&answer, "leave")["months"][0]["cost"]),
        0.0
    );
    // 24 months at 3.5 %: an even sum at the end of two years is worth 1 / 1.035 + 1 / 1.035² = 1.899694 times as much.
    let present = amount(&best["present_cost"]);
    assert!((amount(&best["cost_per_year"]) * 1.899_694 - present).abs() < 0.02);
    // At 0 % money to come is worth what it is; a higher rate makes it less.
    let at_rates: Vec<f64> = read::list(best, "/at_rates")
        .iter()
        .map(|row| amount(&row["present_cost"]))
        .collect();
    assert_eq!(at_rates[1], present);
    assert!(at_rates[0] > at_rates[1] && at_rates[1] > at_rates[2]);
    // A month of the site is the sum of its floors' months as they are shown.
    for (index, month) in read::list(&answer, "/year_plan").iter().enumerate() {
        let of_floors = read::list(&answer, "/surfaces").iter();
        let shown: Vec<&Value> = of_floors
            .map(|floor| &floor["programmes"][0]["months"][index])
            .collect();
        let cents = |value: &Value| (amount(value) * 100.0).round();
        let sum: f64 = shown.iter().map(|month| cents(&month["cost"])).sum();
        assert_eq!(cents(&month["cost"]), sum, "{index}");
        let hours: f64 = shown
            .iter()
            .filter_map(|month| month["hours"].as_f64())
            .sum();
        let told = month["hours"].as_f64().unwrap();
        assert!((told - hours).abs() < 0.011);
        assert_eq!(month["over_capacity"], json!(told > 4.0));
    }
    // An action costs what a plan of its process costs on the same film.
    let buff = &answer["surfaces"][0]["actions"][1];
    let wish = json!({"goal": "maintain", "process": buff["process"]["key"]});
    let film = json!({"film": {"kind": "polish", "coats": 4, "condition": "sound"}});
    let path = format!("/v1/surfaces/{first}");
    let _seen = admin.patch(&path, "*", &film).await.must(200);
    let plan = json!({"surface_id": first, "wish": wish});
    let plan = admin
        .post("/v1/plans/preview", &plan)
        .await
        .must(200)
        .json();
    assert_eq!(buff["cost"], plan["work"]["cost"]["net"], "{plan:#}");
    // Every basis says where it comes from; what is told of waiting has an amount.
    for basis in read::list(&answer, "/surfaces/0/basis") {
        assert!(!read::text(basis, "/source").is_empty());
    }
    assert_eq!(answer["surfaces"][0]["explain"][0]["what"], "wait");
    assert!(finding(&answer, "first_work").is_some() && finding(&answer, "this_month").is_some());
    assert!(finding(&answer, "grip_not_read").is_none());
}

#[tokio::test]
async fn grip_is_never_bought_off() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &corridor(&site)).await;
    // Looks do not matter here, so leaving the floor alone would be cheapest.
    let asked = with(
        build::programme(&site, &[&surface]),
        json!({"months": 36, "below_share_pct": 100}),
    );
    let unread = admin.post(PATH, &asked).await.must(200).json();
    let ask = finding(&unread, "grip_not_read").expect("a question");
    assert_eq!(ask["severity"], "ask");
    assert_eq!(programme(&unread, "leave")["allowed"], true);
    // 37: worn through, it would show 34.
    record(&admin, &surface, "ptv_wet", 37.0).await;
    let tight = admin.post(PATH, &asked).await.must(200).json();
    let leave = programme(&tight, "leave");
    assert_eq!(leave["allowed"], false);
    assert!(leave["grip_lost_from"].is_string(), "{leave:#}");
    assert!(finding(&tight, "leave_not_allowed").is_some());
    // Longer intervals lose the grip: nothing is said of what they would save.
    let longer = programme(&tight, "longer_intervals");
    assert_eq!(longer["allowed"], false, "{longer:#}");
    assert!(finding(&tight, "longer_not_allowed").is_some());
    assert!(finding(&tight, "longer_intervals").is_none());
    let told = &tight["surfaces"][0]["explain"][1];
    assert_eq!(told, &json!({"what": "longer_intervals", "allowed": false}));
    let best = programme(&tight, "best");
    assert_eq!(best["allowed"], true);
    assert!(amount(&best["present_cost"]) > amount(&leave["present_cost"]));
    // Two more, far below: nothing is offered, however cheap.
    for _ in 0..2 {
        record(&admin, &surface, "ptv_wet", 28.0).await;
    }
    let lost = admin.post(PATH, &asked).await.must(200).json();
    assert_eq!(lost["surfaces"][0]["outcome"], "refused");
    let all = read::list(&lost, "/surfaces/0/programmes").iter();
    assert!(all.into_iter().all(|one| one["kind"] != "best"), "{lost:#}");
    let refused = finding(&lost, "grip_lost").expect("a refusal");
    assert_eq!(refused["severity"], "refuse");
    assert_eq!(read::list(&lost, "/year_plan")[0]["hours"], 0.0);
}

#[tokio::test]
async fn readings_of_gloss_and_footfall_say_where_a_programme_begins() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &corridor(&site)).await;
    let asked = build::programme(&site, &[&surface]);
    let before = admin.post(PATH, &asked).await.must(200).json();
    assert!(finding(&before, "gloss_not_read").is_some());
    for value in [41.0, 39.0, 40.0] {
        record(&admin, &surface, "gloss_gu", value).await;
    }
    record(&admin, &surface, "footfall", 1800.0).await;
    let after = admin.post(PATH, &asked).await.must(200).json();
    let start = &after["surfaces"][0]["start"];
    assert_eq!(start["n_gloss_readings"], 3);
    let [low, mid, high] =
        ["gloss_low_gu", "gloss_gu", "gloss_high_gu"].map(|name| start[name].as_f64().unwrap());
    assert!(
        low < mid && mid < high && (mid - 40.0).abs() < 4.0,
        "{start:#}"
    );
    let below = |answer: &Value| programme(answer, "leave")["months"][0]["below_chance"].as_f64();
    assert!(below(&after) > below(&before));
    let passes = &after["surfaces"][0]["basis"][0]["inputs"][0];
    assert_eq!(
        (&passes["name"], &passes["value"]),
        (&json!("passes_per_day"), &json!(1800.0))
    );
    assert!(finding(&after, "gloss_not_read").is_none());
}

#[tokio::test]
async fn whatever_is_wrong_is_told_at_once_and_other_tenants_floors_are_not_there() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &corridor(&site)).await;
    let other = app.admin_of(SOUTH);
    let theirs = build::new_site(&other).await;
    let hidden = build::new_surface(&other, &corridor(&theirs)).await;
    let asked = with(
        build::programme(&site, &[&surface, &surface, &hidden]),
        json!({"target_gloss_gu": 80}),
    );
    let refused = admin.post(PATH, &asked).await;
    refused.problem(422, "invalid_body");
    let told = |place: &str, code: &str| (place.to_owned(), code.to_owned());
    assert_eq!(
        refused.faults(),
        [
            told("#/surfaces/1/surface_id", "reference_not_found"),
            told("#/surfaces/2/surface_id", "reference_not_found"),
            told("#/target_gloss_gu", "out_of_range"),
        ]
    );
    let strange = json!({"site_id": site, "surfaces": [], "months": 3, "discount_rate_pct": -1, "colour": "red"});
    let refused = admin.post(PATH, &strange).await;
    refused.problem(422, "invalid_body");
    assert!(refused.faults().len() >= 4, "{:?}", refused.faults());
    // A site of another tenant is not there either.
    let refused = admin
        .post(PATH, &build::programme(&theirs, &[&hidden]))
        .await;
    assert_eq!(refused.faults(), [told("#/site_id", "reference_not_found")]);
    // What has no film is told apart, costs nothing and says what to do instead.
    let bare = with(corridor(&site), json!({"film": null, "name": "Store"}));
    let bare = with(bare, json!({"film": {"kind": "bare"}}));
    let bare = build::new_surface(&admin, &bare).await;
    let answer = admin.post(PATH, &build::programme(&site, &[&bare])).await;
    let answer = answer.must(200).json();
    assert_eq!(answer["surfaces"][0]["outcome"], "bare");
    assert!(read::list(&answer, "/surfaces/0/first_passage").is_empty());
    let instead = finding(&answer, "bare").expect("a reason");
    assert!(read::text(instead, "/clears").contains("/v1/due"));
}

#[tokio::test]
async fn a_floor_that_is_left_alone_has_dates_or_says_why_it_has_none() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &corridor(&site)).await;
    let asked = build::programme(&site, &[&surface]);
    let answer = admin.post(PATH, &asked).await.must(200).json();
    let all = read::list(&answer, "/surfaces/0/first_passage");
    let of = |what: &str| all.iter().find(|one| one["what"] == what).expect("told");
    // Nobody read gloss or grip; coats were counted.
    assert_eq!(of("gloss")["why_none"], "no_reading");
    assert_eq!(of("grip")["why_none"], "no_reading");
    assert!(of("gloss").get("basis").is_none());
    let coats = of("last_coat");
    assert!(coats.get("why_none").is_none());
    let dates = read::list(coats, "/dates");
    assert_eq!(dates.len(), 3);
    for date in dates {
        assert!(date.get("on").is_some() != date.get("why_none").is_some());
    }
    let days: Vec<&str> = dates
        .iter()
        .filter_map(|date| date["on"].as_str())
        .collect();
    assert!(!days.is_empty() && days.is_sorted(), "{days:?}");
    record(&admin, &surface, "gloss_gu", 68.0).await;
    record(&admin, &surface, "ptv_wet", 60.0).await;
    let read = admin.post(PATH, &asked).await.must(200).json();
    let all = read::list(&read, "/surfaces/0/first_passage");
    let of = |what: &str| all.iter().find(|one| one["what"] == what).expect("told");
    assert_eq!(of("gloss")["limit"], 60.0);
    let basis = &of("gloss")["basis"];
    assert!(read::text(basis, "/source").starts_with("1 reading(s) of gloss"));
    assert_eq!(basis["grade"], "from_memory");
    // 60 would be kept where the lane is worn through.
    assert_eq!(of("grip")["dates"][2]["why_none"], "not_by_wear");
    // Same input, same bytes.
    let again = admin.post(PATH, &asked).await.must(200).json();
    assert_eq!(again["surfaces"], read["surfaces"]);
}

#[tokio::test]
async fn a_seal_has_programmes_that_never_wear_it_through() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let film = json!({"kind": "seal", "condition": "sound", "seen_at": "2026-05-30T09:00:00Z"});
    let floor = with(
        build::surface(&site),
        json!({"material": "concrete_sealed", "traffic": "medium", "film": null}),
    );
    let surface = build::new_surface(&admin, &with(floor, json!({"film": film}))).await;
    let asked = build::programme(&site, &[&surface]);
    let answer = admin.post(PATH, &asked).await.must(200).json();
    let told = &answer["surfaces"][0];
    assert_eq!(told["outcome"], "compared", "{told}");
    assert_eq!(told["start"]["film"], "seal");
    assert!(told["start"].get("gloss_gu").is_none() && told.get("below_month_worth").is_none());
    let best = programme(&answer, "best");
    assert_eq!(best["allowed"], true);
    assert!(amount(&best["present_cost"]) > 0.0);
    let leave = programme(&answer, "leave");
    assert_eq!(leave["allowed"], false);
    assert!(leave.get("film_lost_from").is_some() && leave.get("grip_lost_from").is_none());
    for code in [
        "look_not_followed",
        "leave_wears_through",
        "coats_not_counted",
    ] {
        assert!(finding(&answer, code).is_some(), "{code}: {told}");
    }
    let all = read::list(&answer, "/surfaces/0/first_passage");
    assert!(all.iter().all(|one| one["what"] != "gloss"));
}

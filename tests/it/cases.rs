//! The verdicts that a floor-care lead expects, by the numbers of the trade's own list: what must be refused, warned of,
//! asked about and allowed, each read from a plan that came over HTTP, with the rule that decides and its reason.
//!
//! The requests stand in `tests/fixtures/cases.toml`; each of the 80 numbers is there, and a failure names its number.

use serde_json::{Map, Value, json};
use tests::{
    app::TestApp,
    build::{self, with},
    client::Caller,
    read,
};

/// Members that a row of the table may have.
const MEMBERS: [&str; 24] = [
    "number",
    "what",
    "material",
    "film",
    "floor",
    "goal",
    "process",
    "limits",
    "arrangements",
    "climate",
    "country",
    "own_product",
    "rates",
    "done",
    "verdict",
    "rule",
    "reason",
    "instead",
    "asks",
    "meanwhile",
    "hold",
    "if_fails",
    "trade",
    "uses",
];

fn cases() -> Vec<Value> {
    let table: toml::Table = include_str!("../fixtures/cases.toml").parse().unwrap();
    let table = serde_json::to_value(table).unwrap();
    table["case"].as_array().unwrap().clone()
}

/// 240 m² of an ordinary, aired corridor that nobody is in.
fn floor(material: &str, film: &Value) -> Value {
    json!({
        "material": material, "built_year": 2012, "traffic": "medium", "occupied": false, "moisture_rh_pct": 60,
        "film": with(json!({"coats": null, "condition": null}), film.clone()),
    })
}

fn bare(material: &str) -> Value {
    floor(material, &json!({"kind": "bare"}))
}

fn polished(material: &str, coats: i64, condition: &str) -> Value {
    let film = json!({"kind": "polish", "coats": coats, "condition": condition});
    floor(material, &film)
}

fn named(process: &str) -> Value {
    json!({"goal": "restore", "process": process})
}

const STRIP: &str = "machine_strip_and_refinish";

async fn registered(admin: &Caller, floor: &Value) -> String {
    let site = build::new_site(admin).await;
    let surface = with(build::surface(&site), floor.clone());
    build::new_surface(admin, &surface).await
}

async fn plan(floor: &Value, wish: &Value) -> Value {
    let app = TestApp::start().await;
    let admin = app.admin();
    let surface = registered(&admin, floor).await;
    let request = json!({"surface_id": surface, "wish": wish});
    build::new_plan(&admin, &request).await.json()
}

/// A table that can say nothing writes the word.
fn nulls(value: &Value) -> Value {
    match value {
        Value::Object(members) => {
            let members = members.iter();
            Value::Object(
                members
                    .map(|(name, value)| (name.clone(), nulls(value)))
                    .collect(),
            )
        }
        Value::String(word) if word == "null" => Value::Null,
        other => other.clone(),
    }
}

/// `kind:coats:condition`, with `-` for what nobody knows.
fn film(text: &str) -> Value {
    let mut parts = text.split(':');
    let kind = parts.next().unwrap();
    let mut film = json!({"kind": kind});
    if let Some(Ok(coats)) = parts.next().map(str::parse::<i64>) {
        film["coats"] = json!(coats);
    }
    if let Some(condition) = parts.next() {
        film["condition"] = json!(condition);
    }
    film
}

/// The site of a row: British and with the usual rates, unless the row says otherwise.
fn site(case: &Value) -> Value {
    let mut site = build::site();
    if let Some(country) = case.get("country") {
        site["country"] = country.clone();
    }
    if let Some(rates) = case.get("rates") {
        site["rate_card"] = with(build::golden_rate_card(), json!({"rates": rates}));
    }
    site
}

/// Registers what a row tells of and has its plan made.
async fn planned(admin: &Caller, case: &Value) -> Value {
    if let Some(product) = case.get("own_product") {
        let _registered = admin.post("/v1/products", product).await.must(201);
    }
    let site = admin.post("/v1/sites", &site(case)).await.must(201).id();
    let material = read::text(case, "/material");
    let lies = case
        .get("film")
        .map_or("bare", |film| film.as_str().unwrap());
    let aired = json!({});
    let mut surface = with(
        build::surface(&site),
        with(floor(material, &film(lies)), aired),
    );
    if let Some(more) = case.get("floor") {
        surface = with(surface, nulls(more));
    }
    let surface = build::new_surface(admin, &surface).await;
    for work in case
        .get("done")
        .and_then(Value::as_array)
        .into_iter()
        .flatten()
    {
        let day = work["at"].as_str().unwrap().split('T').next().unwrap();
        let done = json!({
            "process": work["process"], "started_at": format!("{day}T06:00:00Z"), "finished_at": work["at"],
            "products": [{"product": work["product"], "volume_l": 2}], "labour": null,
            "polish_coats": null, "surface_ph": work.get("surface_ph"),
        });
        let done = with(build::completion(&surface), done);
        let _recorded = admin.record("/v1/completions", &done).await.must(201);
    }
    let mut wish = json!({"goal": case.get("goal").unwrap_or(&json!("restore"))});
    for member in ["process", "limits", "arrangements"] {
        if let Some(value) = case.get(member) {
            wish[member] = value.clone();
        }
    }
    let mut request = json!({"surface_id": surface, "wish": wish});
    if let Some(climate) = case.get("climate") {
        request["climate"] = climate.clone();
    }
    build::new_plan(admin, &request).await.json()
}

/// What of a row's answer is otherwise than it must be.
fn faults(case: &Value, plan: &Value) -> Vec<String> {
    let mut faults = Vec::new();
    let mut must = |holds: bool, what: String| {
        if !holds {
            faults.push(what);
        }
    };
    let asked = |name: &str| case.get(name).and_then(Value::as_str);
    let verdict = read::text(plan, "/verdict");
    let findings = read::list(plan, "/findings");
    let wanted = asked("verdict").unwrap();
    must(verdict == wanted, format!("is {verdict}: {findings:#?}"));
    let works = wanted.starts_with("allowed");
    must(plan.get("work").is_some() == works, "work".to_owned());
    if let Some(rule) = asked("rule") {
        let severity = match wanted {
            "refused" => "refuse",
            "needs_information" => "ask",
            _ => "warn",
        };
        let fired = findings.iter().find(|finding| finding["rule"] == rule);
        let said = fired.map(|finding| (finding["severity"].as_str(), finding.to_string()));
        let reason = asked("reason").unwrap();
        let right = said
            .as_ref()
            .is_some_and(|(of, text)| *of == Some(severity) && text.contains(reason));
        must(
            right,
            format!("{rule} does not {severity} because of `{reason}`: {findings:#?}"),
        );
    }
    let listed = |place: &str, key: &str| {
        let rows = read::list(plan, place);
        rows.iter().any(|row| row == key || row["fact"] == key)
    };
    for (member, place) in [
        ("instead", "/instead"),
        ("meanwhile", "/meanwhile"),
        ("asks", "/questions"),
    ] {
        if let Some(key) = asked(member) {
            must(
                listed(place, key),
                format!("{key} is not in {place}: {}", plan[member]),
            );
        }
    }
    if let Some(trade) = asked("trade") {
        let handed_over = plan["referral"]["hand_over"].as_array();
        let right =
            plan["referral"]["trade"] == trade && handed_over.is_some_and(|list| list.len() > 1);
        must(
            right,
            format!("{trade} does not take over: {}", plan["referral"]),
        );
    }
    let steps = plan["work"]["steps"].as_array();
    let steps = || steps.into_iter().flatten();
    if let Some(key) = asked("hold") {
        let hold = steps()
            .map(|step| &step["hold"])
            .find(|hold| hold["key"] == key);
        let says = hold.and_then(|hold| hold["if_fails"].as_str());
        let wanted = asked("if_fails").unwrap();
        must(
            says.is_some_and(|says| says.contains(wanted)),
            format!("no hold {key}: {says:?}"),
        );
    }
    if let Some(uses) = case.get("uses") {
        let used = || {
            let products = steps().map(|step| &step["product"]);
            products.filter(|row| row["key"] == uses["product"])
        };
        let found = used().next().is_some();
        let right = used().all(|row| row["dilution"] == uses["dilution"]);
        must(right && found, format!("does not use {uses}"));
    }
    faults
}

/// Tries the rows of the numbers from `first` to `last`; a row with a product of its own gets a service of its own.
async fn try_cases(first: i64, last: i64) {
    let shared = TestApp::start().await;
    let mut wrong = Vec::new();
    let mut n_tried = 0;
    for case in cases() {
        let number = case["number"].as_i64().unwrap();
        if number < first || number > last {
            continue;
        }
        n_tried += 1;
        let plan = if case.get("own_product").is_some() {
            planned(&TestApp::start().await.admin(), &case).await
        } else {
            planned(&shared.admin(), &case).await
        };
        for fault in faults(&case, &plan) {
            wrong.push(format!("case {number}, {}: {fault}", case["what"]));
        }
    }
    assert!(n_tried > last - first, "{n_tried} rows");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

macro_rules! cases {
    ($($name:ident $first:literal $last:literal;)+) => {$(
        #[tokio::test]
        async fn $name() {
            try_cases($first, $last).await;
        }
    )+};
}

cases! {
    case_01_to_10_are_answered_as_the_trade_answers_them 1 10;
    case_11_to_20_are_answered_as_the_trade_answers_them 11 20;
    case_21_to_30_are_answered_as_the_trade_answers_them 21 30;
    case_31_to_40_are_answered_as_the_trade_answers_them 31 40;
    case_41_to_50_are_answered_as_the_trade_answers_them 41 50;
    case_51_to_60_are_answered_as_the_trade_answers_them 51 60;
    case_61_to_70_are_answered_as_the_trade_answers_them 61 70;
    case_71_to_80_are_answered_as_the_trade_answers_them 71 80;
}

#[test]
fn every_number_has_a_row_and_no_row_a_member_that_nobody_reads() {
    let cases = cases();
    let has = |number: i64| cases.iter().any(|case| case["number"] == number);
    let missing: Vec<i64> = (1..=80).filter(|number| !has(*number)).collect();
    assert!(missing.is_empty(), "{missing:?}");
    for case in &cases {
        let members: &Map<String, Value> = case.as_object().unwrap();
        for name in members.keys() {
            assert!(MEMBERS.contains(&name.as_str()), "{name} in {case}");
        }
        // What is not allowed as it stands says why.
        let allowed = case["verdict"] == "allowed";
        assert_eq!(case.get("rule").is_none(), allowed, "{case}");
        assert_eq!(
            case.get("rule").is_some(),
            case.get("reason").is_some(),
            "{case}"
        );
    }
}

#[tokio::test]
async fn an_answer_that_is_otherwise_is_seen() {
    let app = TestApp::start().await;
    let case = cases()
        .into_iter()
        .find(|case| case["number"] == 13)
        .unwrap();
    let plan = planned(&app.admin(), &case).await;
    assert_eq!(faults(&case, &plan), Vec::<String>::new());
    for (member, other) in [
        ("verdict", "allowed"),
        ("rule", "hot-water"),
        ("reason", "because"),
        ("instead", "polish"),
        ("asks", "survey.soil"),
        ("hold", "ptv_wet"),
        ("trade", "baker"),
    ] {
        let changed = with(case.clone(), json!({member: other, "if_fails": "x"}));
        assert!(!faults(&changed, &plan).is_empty(), "{member}");
    }
}

#[tokio::test]
async fn a_film_in_air_that_nobody_has_told_is_warned_of() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let silent = with(build::site(), json!({"climate": null}));
    let site = admin.post("/v1/sites", &silent).await.must(201).json();
    assert_eq!(site["climate_assumed"], true);
    let floor = with(
        build::surface(read::text(&site, "/id")),
        bare("vinyl_sheet"),
    );
    let surface = build::new_surface(&admin, &floor).await;
    let request = json!({"surface_id": surface, "wish": named("polish")});
    let made = build::new_plan(&admin, &request).await.json();
    let expected = |verdict, rule| Expected {
        verdict,
        rule,
        ..Expected::default()
    };
    check(
        &made,
        &expected("allowed_with_warnings", Some("climate-assumed")),
    );
    let told = with(
        request,
        json!({"climate": {"air_c": 20, "humidity_pct": 50}}),
    );
    let made = build::new_plan(&admin, &told).await.json();
    check(&made, &expected("allowed", None));
}

#[tokio::test]
async fn case_26_no_polish_goes_onto_a_floor_of_ph_10() {
    let made = plan(&bare("vinyl_sheet"), &named("polish")).await;
    let steps = read::list(read::at(&made, "/work"), "/steps");
    let place = |found: &dyn Fn(&Value) -> bool| steps.iter().position(found).unwrap();
    let reading = place(&|step| step["hold"]["key"] == "surface_ph");
    let coat = place(&|step| step.get("coat").is_some());
    assert!(reading < coat);
    let hold = read::at(&steps[reading], "/hold");
    assert_eq!(read::number(hold, "/most"), 8.5);
    assert!(read::text(hold, "/if_fails").contains("lay no coat"));
}

#[tokio::test]
async fn case_13_and_15_a_trade_takes_over_what_this_crew_must_not_do() {
    for (floor, wish, trade) in [
        (
            with(
                polished("vinyl_composition_tile", 6, "worn"),
                json!({"built_year": 1975, "asbestos": "confirmed"}),
            ),
            named(STRIP),
            "licensed asbestos contractor",
        ),
        (
            known(bare("marble"), json!({"gloss_loss_pct": 60})),
            json!({"goal": "restore"}),
            "stone restoration contractor",
        ),
        (
            floor("hardwood", &json!({"kind": "seal", "condition": "peeling"})),
            json!({"goal": "restore", "process": "seal_wood", "limits": {"products": [
                {"class": "seal", "product": "lacquer_two_pack_pu"},
            ]}}),
            "coating contractor trained in diisocyanates",
        ),
    ] {
        let made = plan(&floor, &wish).await;
        assert_eq!(read::text(&made, "/verdict"), "refused");
        assert_eq!(read::text(&made, "/referral/trade"), trade);
        assert!(!read::list(&made, "/referral/hand_over").is_empty());
    }
}

#[tokio::test]
async fn a_product_that_does_not_exist_or_not_for_its_class_is_told_of() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let surface = registered(&admin, &bare("hardwood")).await;
    let products = json!([
        {"class": "seal", "product": "varnish_of_the_moon"},
        {"class": "seal", "product": "polish_emulsion"},
        {"class": "polish", "product": "polish_emulsion"},
        {"class": "polish", "product": "polish_emulsion"},
    ]);
    let request = json!({"surface_id": surface, "wish": {"goal": "protect", "process": "seal_wood", "limits": {"products": products}}});
    let refused = admin.post("/v1/plans", &request).await;
    refused.problem(422, "invalid_body");
    let place = |index: usize, member: &str| format!("#/wish/limits/products/{index}/{member}");
    let expected = [
        (place(0, "product"), "unknown_product".to_owned()),
        (place(1, "product"), "unknown_product".to_owned()),
        (place(3, "class"), "duplicate".to_owned()),
    ];
    assert_eq!(refused.faults(), expected);
}

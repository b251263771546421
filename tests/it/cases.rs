//! The verdicts that a floor-care lead expects, by the numbers of the trade's own list: what must be refused, warned of,
//! asked about and allowed, each read from a plan that came over HTTP, with the rule that decides and its reason.
//!
//! The requests stand in `tests/fixtures/cases.toml`; each of the 80 numbers is there, and a failure names its number.

mod single;

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

/// 240 m² of an ordinary corridor that nobody is in.
fn floor(material: &str, film: &Value) -> Value {
    json!({
        "material": material, "built_year": 2012, "traffic": "medium", "occupied": false, "moisture_rh_pct": 60,
        "film": with(json!({"coats": null, "condition": null}), film.clone()),
    })
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
    let mut surface = with(build::surface(&site), floor(material, &film(lies)));
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
    assert_eq!(missing, Vec::<i64>::new());
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

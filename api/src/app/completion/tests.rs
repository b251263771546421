//! What can be recorded, and what it comes to: no store here.

mod account;

use chrono::{DateTime, Utc};
use domain::{
    id::{ContractorId, PlanId, SiteId, SurfaceId},
    knowledge::KnowledgeBase,
    money::{Currency, Money},
    plan::Stage,
    quantity::Area,
    record::WHOLE_PPM,
};
use infra::row::{PlanLineRow, PlanRow, PlanStatus, SiteRow, SurfaceRow};
use serde_json::{Value, json};
use uuid::Uuid;

use super::check::{CitedPlan, Found, check};
use crate::wire::completion::CompletionRequest;

const SURFACE: SurfaceId = SurfaceId::from_uuid(Uuid::from_u128(2));
const PLAN: PlanId = PlanId::from_uuid(Uuid::from_u128(3));
const PROCESS: &str = "machine_strip_and_refinish";

fn base() -> &'static KnowledgeBase {
    KnowledgeBase::builtin().unwrap()
}

fn moment(text: &str) -> DateTime<Utc> {
    DateTime::parse_from_rfc3339(text).unwrap().to_utc()
}

fn now() -> DateTime<Utc> {
    moment("2026-06-01T12:00:00Z")
}

fn gbp() -> Currency {
    "GBP".parse().unwrap()
}

fn pounds(text: &str) -> i64 {
    Money::parse(text, gbp()).unwrap().amount
}

fn site() -> SiteRow {
    SiteRow {
        id: SiteId::from_uuid(Uuid::from_u128(1)),
        version: 1,
        name: "North".to_owned(),
        time_zone: "Europe/London".to_owned(),
        currency: gbp(),
        country: "GB".to_owned(),
        external: None,
        document: "{}".to_owned(),
        created_at: now(),
        updated_at: now(),
    }
}

fn surface() -> SurfaceRow {
    SurfaceRow {
        id: SURFACE,
        site_id: site().id,
        version: 1,
        name: "Ward 3".to_owned(),
        storey: "1".to_owned(),
        material: "vinyl_sheet".to_owned(),
        area: Area::from_mm2(240_000_000),
        perimeter: None,
        external: None,
        document: "{}".to_owned(),
        created_at: now(),
        updated_at: now(),
    }
}

fn plan() -> CitedPlan {
    let line =
        |line_no, kind: &str, stage: Option<&str>, class: Option<&str>, amount| PlanLineRow {
            plan_id: PLAN,
            line_no,
            kind: kind.to_owned(),
            stage: stage.map(str::to_owned),
            product_class: class.map(str::to_owned),
            seconds: if kind == "labour" { 36_000 } else { 0 },
            ml: if kind == "product" { 25_000 } else { 0 },
            amount: pounds(amount),
        };
    let row = PlanRow {
        id: PLAN,
        site_id: site().id,
        surface_id: SURFACE,
        surface_version: 1,
        version: 1,
        status: PlanStatus::Proposed,
        goal: "restore".to_owned(),
        verdict: "allowed".to_owned(),
        process: Some(PROCESS.to_owned()),
        knowledge_version: "1".to_owned(),
        rate_card_id: None,
        planned_on: now().date_naive(),
        area: Area::from_mm2(240_000_000),
        net_amount: None,
        currency: gbp(),
        request_document: "{}".to_owned(),
        document: "{}".to_owned(),
        created_at: now(),
        changed_at: now(),
    };
    let lines = vec![
        line(1, "labour", Some("prepare"), None, "200"),
        line(2, "product", Some("maintain"), Some("polish"), "105"),
        line(3, "tax", None, None, "61"),
    ];
    CitedPlan { row, lines }
}

fn found() -> Found {
    Found {
        surface: Some(surface()),
        site: Some(site()),
        plan: Some(plan()),
        contractor: Some(ContractorId::from_uuid(Uuid::from_u128(4))),
        names_contractor: true,
    }
}

fn request(changes: &Value) -> CompletionRequest {
    let mut body = json!({
        "surface_id": SURFACE.to_string(),
        "plan_id": PLAN.to_string(),
        "started_at": "2026-05-31T20:00:00Z",
        "finished_at": "2026-06-01T04:00:00Z",
        "labour": [{"stage": "prepare", "hours": 4.5}],
    });
    for (name, value) in changes.as_object().unwrap() {
        if value.is_null() {
            body.as_object_mut().unwrap().remove(name);
        } else {
            body[name] = value.clone();
        }
    }
    serde_json::from_value(body).unwrap()
}

/// Where a report is refused, and why.
fn refused(changes: &Value, found: &Found) -> Vec<String> {
    let request = request(changes);
    let told = match check(base().into(), &request, found, None, now()) {
        Ok(_) => Vec::new(),
        Err(problem) => problem.faults().to_vec(),
    };
    told.into_iter()
        .map(|fault| format!("{} {}", fault.pointer.unwrap(), fault.code))
        .collect()
}

#[test]
fn a_report_that_names_nothing_that_exists_is_told_so_everywhere_at_once() {
    let changes = json!({
        "process": "polish_with_butter",
        "contractor_id": ContractorId::from_uuid(Uuid::nil()).to_string(),
        "finished_at": "2026-05-31T20:00:00Z",
        "products": [{"product": "polish_emulsion", "volume_l": 1}, {"product": "butter", "volume_l": 1}],
    });
    let expected = [
        "#/surface_id reference_not_found",
        "#/contractor_id reference_not_found",
        "#/plan_id reference_not_found",
        "#/process reference_not_found",
        "#/finished_at not_after_start",
        "#/products/1/product reference_not_found",
    ];
    let nothing = Found {
        names_contractor: true,
        ..Found::default()
    };
    assert_eq!(refused(&changes, &nothing), expected);
}

#[test]
fn a_plan_is_cited_for_its_own_surface_while_it_is_open_and_holds_work() {
    let told = |change: fn(&mut PlanRow)| {
        let mut found = found();
        change(&mut found.plan.as_mut().unwrap().row);
        refused(&json!({}), &found)
    };
    assert!(told(|_| ()).is_empty());
    assert!(told(|plan| plan.status = PlanStatus::Accepted).is_empty());
    let elsewhere = told(|plan| plan.surface_id = SurfaceId::from_uuid(Uuid::nil()));
    assert!(elsewhere.is_empty(), "recorded, and flagged: {elsewhere:?}");
    for verdict in ["refused", "needs_information"] {
        let mut found = found();
        verdict.clone_into(&mut found.plan.as_mut().unwrap().row.verdict);
        assert_eq!(refused(&json!({}), &found), ["#/plan_id plan_without_work"]);
    }
    let withdrawn = told(|plan| plan.status = PlanStatus::Withdrawn);
    assert_eq!(withdrawn, ["#/plan_id plan_not_open"]);
}

#[test]
fn a_correction_may_cite_the_plan_that_was_cited_before() {
    let (mut found, request) = (found(), request(&json!({})));
    found.plan.as_mut().unwrap().row.status = PlanStatus::Superseded;
    let (old, _) = account::recorded(&json!({}), WHOLE_PPM);
    assert!(check(base().into(), &request, &found, Some(&old), now()).is_ok());
    assert!(check(base().into(), &request, &found, None, now()).is_err());
}

#[test]
fn the_process_is_that_of_the_plan_or_the_one_that_is_named() {
    let found = found();
    assert!(refused(&json!({"process": PROCESS}), &found).is_empty());
    let other = base()
        .processes
        .iter()
        .find(|process| process.key != PROCESS)
        .unwrap();
    let differs = refused(&json!({"process": other.key}), &found);
    assert_eq!(differs, ["#/process process_of_plan_differs"]);
    let mut lost = plan();
    lost.row.process = Some("of_an_older_edition".to_owned());
    let older = Found {
        plan: Some(lost),
        ..self::found()
    };
    assert!(refused(&json!({}), &older).is_empty());
    assert!(refused(&json!({"process": "of_an_older_edition"}), &older).is_empty());
    let unplanned = Found {
        plan: None,
        ..found
    };
    assert_eq!(
        refused(&json!({"plan_id": null}), &unplanned),
        ["#/process required"]
    );
    assert!(refused(&json!({"plan_id": null, "process": PROCESS}), &unplanned).is_empty());
}

#[test]
fn work_takes_at_most_a_fortnight_and_is_neither_ancient_nor_to_come() {
    let told = |started: &str, finished: &str| {
        refused(
            &json!({"started_at": started, "finished_at": finished}),
            &found(),
        )
    };
    assert!(told("2026-05-18T12:00:00Z", "2026-06-01T12:00:00Z").is_empty());
    assert!(told("2026-06-01T12:00:00Z", "2026-06-02T12:00:00Z").is_empty());
    assert!(told("2000-01-01T01:00:00+01:00", "2000-01-01T02:00:00Z").is_empty());
    for (started, finished, expected) in [
        (
            "2026-05-18T11:59:59.999Z",
            "2026-06-01T12:00:00Z",
            vec!["#/finished_at too_long"],
        ),
        (
            "2026-06-01T12:00:00Z",
            "2026-06-02T12:00:00.001Z",
            vec!["#/finished_at in_future"],
        ),
        (
            "2026-06-01T12:00:00Z",
            "2026-06-01T12:00:00.0001Z",
            vec!["#/finished_at not_after_start"],
        ),
        (
            "1999-12-31T23:59:59Z",
            "2000-01-01T02:00:00Z",
            vec!["#/started_at too_early"],
        ),
        (
            "9999-12-30T00:00:00Z",
            "9999-12-31T23:59:59Z",
            vec!["#/started_at in_future", "#/finished_at in_future"],
        ),
    ] {
        assert_eq!(told(started, finished), expected, "{started}");
    }
}

#[test]
fn the_area_is_at_most_the_surface_and_what_rounding_adds() {
    let told = |area: f64| refused(&json!({"area_m2": area}), &found());
    assert!(told(240.24).is_empty());
    assert_eq!(told(240.241), ["#/area_m2 exceeds_surface"]);
    assert_eq!(told(1e-9), ["#/area_m2 minimum"]);
    let request = request(&json!({}));
    let found = found();
    let whole = check(base().into(), &request, &found, None, now()).unwrap();
    assert_eq!(whole.area, surface().area);
}

#[test]
fn a_report_says_something_and_a_charge_is_in_the_currency_of_the_site() {
    let found = found();
    assert_eq!(
        refused(&json!({"labour": null}), &found),
        ["#/labour required"]
    );
    let told = |amount: &str, currency: &str| {
        let charged = json!({"amount": amount, "currency": currency});
        refused(&json!({"labour": null, "charged": charged}), &found)
    };
    assert!(told("180.00", "GBP").is_empty());
    assert_eq!(
        told("180.00", "EUR"),
        ["#/charged/currency currency_mismatch"]
    );
    assert_eq!(told("180.005", "GBP"), ["#/charged/amount too_many_digits"]);
    assert_eq!(
        told("10000000001", "GBP"),
        ["#/charged/amount amount_out_of_range"]
    );
}

#[test]
fn a_product_belongs_to_the_part_that_plan_or_process_uses_it_in() {
    let products = json!([
        {"product": "polish_emulsion", "volume_l": 1.0004},
        {"product": "polish_emulsion", "volume_l": 1, "stage": "prepare"},
        {"product": "stripper_alkaline", "volume_l": 1},
    ]);
    let request = request(&json!({"products": products}));
    let planned = found();
    let work = check(base().into(), &request, &planned, None, now()).unwrap();
    let stages: Vec<_> = work
        .reported
        .products
        .iter()
        .map(|used| used.stage)
        .collect();
    assert_eq!(stages, [Stage::Maintain, Stage::Prepare, Stage::Prepare]);
    assert_eq!(work.reported.products[0].volume.ul(), 1_000_000);
}

//! What a report comes to beside its plan.

use domain::{
    card::{RateCard, Share},
    id::{CompletionId, RateCardId},
    money::Money,
    quantity::Labour,
    record::{Promised, WHOLE_PPM},
};
use infra::row::{CompletionRow, CompletionStatus, RateCardRow};
use serde_json::{Value, json};
use uuid::Uuid;

use super::{PROCESS, base, found, gbp, now, pounds, request, site};
use crate::{
    app::completion::{
        Origin,
        account::{Names, Terms, account},
        check::check,
        version,
    },
    wire::completion::as_it_stands,
};

/// The row and the document of a report on the plan above.
pub(super) fn recorded(changes: &Value, left_ppm: i64) -> (CompletionRow, Value) {
    let (request, mut found) = (request(changes), found());
    if request.plan_id.is_none() {
        found.plan = None;
    }
    let work = check(base().into(), &request, &found, None, now()).unwrap();
    let mut card = RateCard::defaults(base(), gbp()).unwrap();
    card.labour_per_h = Money {
        amount: pounds("20"),
        currency: gbp(),
    };
    (card.overhead, card.margin) = (Share::default(), Share::default());
    card.tax = Share::from_pct(20.0).unwrap();
    let card_row = RateCardRow {
        id: RateCardId::from_uuid(Uuid::from_u128(5)),
        site_id: site().id,
        number: 7,
        valid_from: now().date_naive(),
        document: "{}".to_owned(),
        created_at: now(),
    };
    let terms = Terms {
        day: now().date_naive(),
        month: "2026-05".to_owned(),
        promised: Promised {
            least_wait: Labour::from_minutes(600),
            ..Promised::default()
        },
        left_ppm,
        origin: Origin::Caller(None),
        card_row: &card_row,
        card: &card,
    };
    let names = Names {
        id: CompletionId::from_uuid(Uuid::from_u128(6)),
        supersedes: None,
        now: now(),
    };
    let (row, lines) = account(base().into(), (&request, &work), &terms, &names).unwrap();
    assert!(
        lines
            .iter()
            .zip(1..)
            .all(|(line, number)| line.line_no == number)
    );
    assert!(
        lines
            .iter()
            .all(|line| line.month == "2026-05" && line.storey == "1")
    );
    let document = serde_json::from_str(&row.document).unwrap();
    (row, document)
}

#[test]
fn half_a_floor_is_set_against_half_of_its_plan() {
    let (row, view) = recorded(&json!({"area_m2": 120}), WHOLE_PPM);
    assert_eq!(row.planned_share_ppm, 500_000);
    assert_eq!(view["planned_share"], 0.5);
    let money = |text: &str| json!({"amount": text, "currency": "GBP"});
    let expected = json!({
        "planned_net": money("152.50"),
        "computed_net": money("90.00"),
        "actual_net": money("90.00"),
        "planned_tax": money("30.50"),
        "actual_tax": money("18.00"),
    });
    assert_eq!(view["money"], expected);
    let labour = &view["lines"][0];
    assert_eq!(labour["kind"], "labour");
    assert_eq!(
        (&labour["planned_hours"], &labour["actual_hours"]),
        (&json!(5.0), &json!(4.5))
    );
    assert_eq!(view["lines"][1]["planned_l"], 12.5);
    assert_eq!(view["rate_card"]["number"], 7);
    assert_eq!(view["deviations"][0]["code"], "too_fast_for_waits");
    assert_eq!(view["unplanned"], false);
}

#[test]
fn a_plan_that_is_used_up_gives_no_share_and_that_is_flagged() {
    let (row, view) = recorded(&json!({}), 0);
    assert_eq!(row.planned_share_ppm, 0);
    assert_eq!(view["money"]["planned_net"]["amount"], "0.00");
    let codes: Vec<_> = view["deviations"]
        .as_array()
        .unwrap()
        .iter()
        .map(|d| &d["code"])
        .collect();
    assert_eq!(codes, ["too_fast_for_waits", "area_exceeds_plan"]);
}

#[test]
fn unplanned_work_has_no_planned_numbers_and_no_deviations() {
    let (row, view) = recorded(&json!({"plan_id": null, "process": PROCESS}), 0);
    assert_eq!((row.plan_id, row.planned_share_ppm), (None, 0));
    assert_eq!(view["unplanned"], true);
    assert!(view["plan_id"].is_null() && view["money"]["planned_net"].is_null());
    assert!(view["lines"][0]["planned"].is_null() && view["lines"][0]["planned_hours"].is_null());
    assert_eq!(view["deviations"], json!([]));
}

#[test]
fn a_charge_counts_and_what_the_card_gives_is_shown_beside_it() {
    let charged = json!({"amount": "75.50", "currency": "GBP"});
    let (_, view) = recorded(&json!({"charged": charged}), WHOLE_PPM);
    assert_eq!(view["money"]["computed_net"]["amount"], "90.00");
    assert_eq!(view["money"]["actual_net"]["amount"], "75.50");
    assert_eq!(view["money"]["actual_tax"]["amount"], "15.10");
    let lines = view["lines"].as_array().unwrap();
    assert!(lines.iter().any(|line| line["kind"] == "charged"));
}

#[test]
fn what_was_corrected_says_so_and_is_otherwise_as_it_was() {
    let (row, mut expected) = recorded(&json!({"note": "two\nlines"}), WHOLE_PPM);
    assert_eq!(as_it_stands(row.clone()).unwrap(), row.document);
    let by = CompletionId::from_uuid(Uuid::from_u128(9));
    let corrected = CompletionRow {
        status: CompletionStatus::Superseded,
        superseded_by: Some(by),
        ..row
    };
    assert_eq!(version(&corrected).unwrap(), 2);
    expected["status"] = json!("superseded");
    expected["superseded_by"] = json!(by.to_string());
    let shown: Value = serde_json::from_str(&as_it_stands(corrected).unwrap()).unwrap();
    assert_eq!(shown, expected);
}

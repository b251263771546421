//! Reports: what is shown of sums, and the same numbers in both forms.

use domain::{id::SiteId, money::Currency, quantity::Area};
use infra::store::{CostRow, Dim};
use serde_json::json;
use uuid::Uuid;

use super::{CostReportView, CostRowView, RowNames, csv};

fn row() -> CostRow {
    let currency: Currency = "GBP".parse().unwrap();
    CostRow {
        site_id: Some(SiteId::from_uuid(Uuid::nil())),
        storey: Some("=2".to_owned()),
        material: None,
        process: None,
        month: None,
        surface_id: None,
        stage: None,
        product_class: None,
        contractor_id: None,
        currency,
        n_completions: 2,
        n_unplanned: 1,
        area: Area::from_mm2(240_000_000),
        planned_seconds: 36_000,
        actual_seconds: 32_400,
        planned_ml: 20_000,
        actual_ml: 22_305,
        planned_net: 3_844_700,
        computed_net: 3_000_000,
        actual_net: 3_600_000,
        planned_tax: 768_900,
        actual_tax: 720_000,
        committed_net: 1_000_000,
        committed_tax: 200_000,
    }
}

fn named(row: &CostRow) -> CostRowView {
    let names = RowNames {
        site: Some("North, \"old\" wing".to_owned()),
        ..RowNames::default()
    };
    CostRowView::new(row, &[], names)
}

fn gbp(amount: &str) -> serde_json::Value {
    json!({"amount": amount, "currency": "GBP"})
}

#[test]
fn a_group_is_shown_with_the_digits_of_its_currency() {
    let shown = serde_json::to_value(named(&row())).unwrap();
    let expected = json!({
        "site_id": "sit_00000000-0000-0000-0000-000000000000",
        "site_name": "North, \"old\" wing",
        "storey": "=2",
        "currency": "GBP",
        "n_completions": 2,
        "n_unplanned": 1,
        "area_m2": 240.0,
        "planned": {"net": gbp("384.47"), "tax": gbp("76.89")},
        "committed": {"net": gbp("100.00"), "tax": gbp("20.00")},
        "actual": {"net": gbp("360.00"), "tax": gbp("72.00")},
        "variance_net": gbp("-24.47"),
        "planned_hours": 10.0,
        "actual_hours": 9.0,
        "planned_l": 20.0,
        "actual_l": 22.305,
        "actual_per_m2": gbp("1.50"),
    });
    assert_eq!(shown, expected);
}

#[test]
fn what_was_not_planned_is_null_and_not_zero() {
    let unplanned = CostRow {
        n_unplanned: 2,
        planned_net: 0,
        area: Area::ZERO,
        ..row()
    };
    let shown = serde_json::to_value(named(&unplanned)).unwrap();
    for member in [
        "planned",
        "variance_net",
        "planned_hours",
        "planned_l",
        "actual_per_m2",
    ] {
        assert!(
            shown[member].is_null() && shown.get(member).is_some(),
            "{member}"
        );
    }
    let table = String::from_utf8(csv(&[], &[named(&unplanned)]).unwrap()).unwrap();
    let line = table.lines().nth(1).unwrap();
    assert_eq!(line, "GBP,2,2,0,,,100.00,20.00,360.00,72.00,,,9,,22.305,");
}

#[test]
fn s_112_the_table_has_the_numbers_of_the_json_and_safe_text() {
    let table = String::from_utf8(csv(&[Dim::Storey, Dim::Site], &[named(&row())]).unwrap());
    let expected = "site_id,site_name,storey,currency,n_completions,n_unplanned,area_m2,planned_net,planned_tax,\
        committed_net,committed_tax,actual_net,actual_tax,variance_net,planned_hours,actual_hours,planned_l,actual_l,actual_per_m2\r\n\
        sit_00000000-0000-0000-0000-000000000000,\"North, \"\"old\"\" wing\",'=2,GBP,2,1,240,384.47,76.89,100.00,20.00,360.00,72.00,\
        -24.47,10,9,20,22.305,1.50\r\n";
    assert_eq!(table.unwrap(), expected);
}

#[test]
fn a_report_of_nothing_has_no_rows_and_no_totals() {
    let months = ("2026-01".parse().unwrap(), "2026-07".parse().unwrap());
    let view = CostReportView::new(months, &[Dim::Site, Dim::Month], Vec::new(), &[]);
    assert_eq!(
        serde_json::to_string(&view).unwrap(),
        r#"{"from":"2026-01","to":"2026-07","group_by":["site","month"],"rows":[],"totals":[]}"#
    );
}

#[test]
fn what_belongs_to_no_stage_is_null_where_stages_are_asked_for() {
    let dims = [Dim::Stage, Dim::Contractor];
    let view = CostRowView::new(&row(), &dims, RowNames::default());
    let shown = serde_json::to_value(&view).unwrap();
    assert_eq!(
        (&shown["stage"], &shown["contractor_id"]),
        (&json!(null), &json!(null))
    );
    assert!(shown.get("stage").is_some() && shown.get("product_class").is_none());
    let table = String::from_utf8(csv(&dims, &[view]).unwrap()).unwrap();
    assert!(
        table.starts_with("stage,contractor_id,contractor_name,currency,"),
        "{table}"
    );
}

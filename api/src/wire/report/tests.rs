//! Reports: what is shown of sums, and the same numbers in both forms.

use ::parquet::{
    file::reader::{FileReader, SerializedFileReader},
    record::Field,
};
use domain::{id::SiteId, money::Currency};
use infra::store::{CostKey, CostRow, CostSums, Dim};
use serde_json::json;
use uuid::Uuid;

use super::{CostReportView, CostRowView, Layout, RowNames, Shown, csv, parquet};

fn row() -> CostRow {
    let currency: Currency = "GBP".parse().unwrap();
    CostRow {
        key: CostKey {
            site_id: Some(SiteId::from_uuid(Uuid::nil())),
            storey: Some("=2".to_owned()),
            ..CostKey::default()
        },
        currency,
        sums: CostSums {
            n_completions: 2,
            n_unplanned: 1,
            area_mm2: 240_000_000,
            planned_seconds: 36_000,
            actual_seconds: 32_400,
            planned_ml: 20_000,
            actual_ml: 22_305,
            water_ml: 89_220,
            voc_mg: 1_500,
            voc_unknown_ml: 305,
            planned_net: 3_844_700,
            computed_net: 3_000_000,
            actual_net: 3_600_000,
            planned_tax: 768_900,
            actual_tax: 720_000,
            quantity_net: 115_300,
            productivity_net: -600_000,
            overheads_net: -60_000,
            unplanned_net: 200_000,
        },
        floor_mm2: 120_000_000,
        rework_mm2: 0,
        committed_net: 1_000_000,
        committed_tax: 200_000,
    }
}

const fn by(dims: &[Dim]) -> Shown<'_> {
    Shown {
        dims,
        months: 6,
        is_other: None,
        has_rework: false,
    }
}

const fn with(group_by: &[Dim]) -> Layout<'_> {
    Layout {
        group_by,
        is_top: false,
        has_rework: false,
    }
}

fn named(row: &CostRow) -> CostRowView {
    let names = RowNames {
        site: Some("North, \"old\" wing".to_owned()),
        ..RowNames::default()
    };
    CostRowView::new(row, by(&[]), names)
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
        "variance_parts": {
            "price": gbp("10.00"), "quantity": gbp("11.53"), "productivity": gbp("-60.00"),
            "overheads": gbp("-6.00"), "unplanned": gbp("20.00"),
        },
        "planned_hours": 10.0,
        "actual_hours": 9.0,
        "planned_l": 20.0,
        "actual_l": 22.305,
        "water_l": 89.22,
        "voc_g": 1.5,
        "voc_unknown_l": 0.305,
        "actual_per_m2": gbp("1.50"),
        "floor_m2": 120.0,
        "actual_per_m2_year": gbp("6.00"),
    });
    assert_eq!(shown, expected);
}

#[test]
fn what_was_not_planned_is_null_and_not_zero() {
    let sums = CostSums {
        n_unplanned: 2,
        planned_net: 0,
        area_mm2: 0,
        ..row().sums
    };
    let unplanned = CostRow {
        sums,
        floor_mm2: 0,
        ..row()
    };
    let shown = serde_json::to_value(named(&unplanned)).unwrap();
    for member in [
        "planned",
        "variance_net",
        "variance_parts",
        "planned_hours",
        "planned_l",
        "actual_per_m2",
        "actual_per_m2_year",
    ] {
        assert!(
            shown[member].is_null() && shown.get(member).is_some(),
            "{member}"
        );
    }
    let table = String::from_utf8(csv(Layout::default(), &[named(&unplanned)]).unwrap()).unwrap();
    let line = table.lines().nth(1).unwrap();
    assert_eq!(
        line,
        "GBP,2,2,0,,,100.00,20.00,360.00,72.00,,,,,,,,9,,22.305,89.22,1.5,0.305,,0,"
    );
}

#[test]
fn s_112_the_table_has_the_numbers_of_the_json_and_safe_text() {
    let table = String::from_utf8(csv(with(&[Dim::Storey, Dim::Site]), &[named(&row())]).unwrap());
    let expected = "site_id,site_name,storey,currency,n_completions,n_unplanned,area_m2,planned_net,planned_tax,\
        committed_net,committed_tax,actual_net,actual_tax,variance_net,variance_price,variance_quantity,variance_productivity,\
        variance_overheads,variance_unplanned,planned_hours,actual_hours,planned_l,actual_l,water_l,voc_g,voc_unknown_l,\
        actual_per_m2,floor_m2,actual_per_m2_year\r\n\
        sit_00000000-0000-0000-0000-000000000000,\"North, \"\"old\"\" wing\",'=2,GBP,2,1,240,384.47,76.89,100.00,20.00,360.00,72.00,\
        -24.47,10.00,11.53,-60.00,-6.00,20.00,10,9,20,22.305,89.22,1.5,0.305,1.50,120,6.00\r\n";
    assert_eq!(table.unwrap(), expected);
}

#[test]
fn a_report_of_nothing_has_no_rows_and_no_totals() {
    let months = ("2026-01".parse().unwrap(), "2026-07".parse().unwrap());
    let view = CostReportView::new(months, &[Dim::Site, Dim::Month], Vec::new(), Vec::new());
    assert_eq!(
        serde_json::to_string(&view).unwrap(),
        r#"{"from":"2026-01","to":"2026-07","group_by":["site","month"],"rows":[],"totals":[]}"#
    );
}

#[test]
fn what_belongs_to_no_stage_is_null_where_stages_are_asked_for() {
    let dims = [Dim::Stage, Dim::Contractor];
    let view = CostRowView::new(&row(), by(&dims), RowNames::default());
    let shown = serde_json::to_value(&view).unwrap();
    assert_eq!(
        (&shown["stage"], &shown["contractor_id"]),
        (&json!(null), &json!(null))
    );
    assert!(shown.get("stage").is_some() && shown.get("product_class").is_none());
    let table = String::from_utf8(csv(with(&dims), &[view]).unwrap()).unwrap();
    assert!(
        table.starts_with("stage,contractor_id,contractor_name,currency,"),
        "{table}"
    );
}

#[test]
fn parquet_holds_money_as_decimals_and_nothing_as_nothing() {
    let rows = [
        named(&row()),
        CostRowView::new(
            &row(),
            Shown {
                is_other: Some(true),
                ..by(&[])
            },
            RowNames::default(),
        ),
    ];
    let about = [("from_month", "2026-01".to_owned())];
    let file = parquet(
        Layout {
            is_top: true,
            ..with(&[Dim::Storey])
        },
        &rows,
        &about,
    )
    .unwrap();
    assert_eq!(
        (&file[..4], &file[file.len() - 4..]),
        (&b"PAR1"[..], &b"PAR1"[..])
    );
    let reader = SerializedFileReader::new(bytes(file)).unwrap();
    let metadata = reader.metadata().file_metadata();
    let kept = metadata.key_value_metadata().unwrap();
    assert_eq!(
        (kept[0].key.as_str(), kept[0].value.as_deref()),
        ("from_month", Some("2026-01"))
    );
    let read: Vec<_> = reader
        .get_row_iter(None)
        .unwrap()
        .map(Result::unwrap)
        .collect();
    assert_eq!(read.len(), 2);
    let cells: std::collections::BTreeMap<_, _> = read[0]
        .get_column_iter()
        .map(|(name, cell)| (name.clone(), cell.to_string()))
        .collect();
    for (name, cell) in [
        ("actual_net", "360.0000"),
        ("variance_net", "-24.4700"),
        ("area_m2", "240.0"),
        ("n_completions", "2"),
    ] {
        assert_eq!(cells[name], cell, "{name}");
    }
    assert_eq!(
        cells["storey"], "\"=2\"",
        "text is not made safe for spreadsheets here"
    );
    let other = |name: &str| {
        read[1]
            .get_column_iter()
            .find(|(own, _)| *own == name)
            .unwrap()
            .1
            .clone()
    };
    assert_eq!(
        (other("is_other"), other("floor_m2")),
        (Field::Bool(true), Field::Null)
    );
}

fn bytes(file: Vec<u8>) -> actix_web::web::Bytes {
    file.into()
}

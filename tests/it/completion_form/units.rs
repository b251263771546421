//! The form asks in the units of the sheet that leads to it, and what is recorded is in those of the service.

use serde_json::json;
use tests::{app::TestApp, read};

use super::{clock, key_of, link, planned, recorded, submit};

#[tokio::test]
async fn a_form_behind_a_sheet_in_us_units_asks_and_answers_in_them() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let plan = planned(&admin, json!({})).await;
    let (_, path) = link(&admin, &plan, json!({"reports": 2})).await;
    let whole = format!("https://floors.example{path}");
    for (units, shown) in [("us", true), ("metric", false)] {
        let sheet = format!("/v1/plans/{plan}/sheet?units={units}&form={whole}");
        let sheet = admin.get(&sheet).await.must(200).text();
        assert_eq!(sheet.contains(&format!("{whole}?units=us<")), shown);
    }
    let path = format!("{path}?units=us");
    let page = app.stranger().get(&path).await.must(200);
    let text = page.text();
    // 240 m² are 2,583.34 ft² (NIST Handbook 44, appendix C).
    for told in [
        "name=\"area_ft2\"",
        "name=\"gallons_0\"",
        "2583 ft²",
        "US gallons, undiluted",
    ] {
        assert!(text.contains(told), "{told}");
    }
    assert!(!text.contains("area_m2") && !text.contains("litres_") && !text.contains("m²"));
    let (began, ended) = (clock(&app, 1), clock(&app, 21));
    let fields = |key, area, gallons| {
        [
            ("key", key),
            ("started_at", began.as_str()),
            ("finished_at", ended.as_str()),
            ("hours_prepare", "16"),
            ("area_ft2", area),
            ("gallons_0", gallons),
        ]
    };
    // What is wrong stands beside the fields of this form.
    let key = key_of(&page);
    let wrong = submit(&app, &path, &fields(&key, "9999", "many")).await;
    let wrong = wrong.must(422).text();
    assert!(wrong.contains("href=\"#gallons_0\"") && wrong.contains("value=\"9999\""));
    let wrong = submit(&app, &path, &fields(&key, "9999", "3.5")).await;
    assert!(wrong.must(422).text().contains("href=\"#area_ft2\""));
    let done = submit(&app, &path, &fields(&key, "1076.391", "3.5")).await;
    let done = done.must(201).text();
    assert!(
        done.contains("1076 ft²") && done.contains("3.5 gal"),
        "{done}"
    );
    let records = recorded(&admin, &plan).await;
    let [record] = records.as_slice() else {
        panic!("{} records", records.len())
    };
    assert!((read::number(record, "/area_m2") - 100.0).abs() < 0.001);
    assert!((read::number(record, "/products/0/volume_l") - 13.249).abs() < 0.001);
}

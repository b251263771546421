//! Batches that say some members only: what the sender does not know stays.

use serde_json::json;
use tests::{
    app::TestApp,
    build::{self, with},
    read,
};

use super::{item, outcomes};

fn name(id: &str) -> serde_json::Value {
    json!({"system": "register", "id": id})
}

#[tokio::test]
async fn a_merged_item_changes_what_it_names_and_nothing_else() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let known = json!({
        "asbestos": "tested_absent", "note": "By the door.", "retired_on": "2031-01-01",
        "access_windows": [{"days": ["monday"], "from": "20:00", "to": "06:00"}],
    });
    let first = item(&site, "1", known.clone());
    let batch = json!({"items": [first, item(&site, "2", json!({}))]});
    let made = admin
        .record("/v1/surfaces/batch", &batch)
        .await
        .must(200)
        .json();
    let path = format!("/v1/surfaces/{}", read::text(&made, "/items/0/surface_id"));
    let changes = json!({"merge": true, "items": [
        {"external": name("1"), "area_m2": 250, "note": null, "film": {"condition": "sound"}},
        {"external": name("2"), "name": "Room 2"},
        with(item(&site, "3", json!({})), json!({"if_version": null})),
    ]});
    let done = admin.record("/v1/surfaces/batch", &changes).await.must(200);
    assert_eq!(outcomes(&done), ["updated", "unchanged", "created"]);
    let found = admin.get(&path).await.must(200).json();
    for member in ["asbestos", "retired_on", "access_windows"] {
        assert_eq!(found[member], known[member]);
    }
    assert_eq!(
        (&found["area_m2"], found.get("note")),
        (&json!(250.0), None)
    );
    assert_eq!(read::text(&found, "/film/condition"), "sound");
    assert_eq!(read::number(&found, "/film/coats"), 6.0);
    // Without `merge` the same item takes away what it does not say.
    let whole = json!({"items": [item(&site, "1", json!({}))]});
    let done = admin.record("/v1/surfaces/batch", &whole).await.must(200);
    assert_eq!(outcomes(&done), ["updated"]);
    let found = admin.get(&path).await.must(200).json();
    assert!(found.get("asbestos").is_none() && found.get("access_windows").is_none());
}

#[tokio::test]
async fn a_merged_item_is_as_valid_as_a_whole_one_or_says_what_is_wrong() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let batch = json!({"items": [item(&site, "1", json!({}))]});
    let _made = admin.record("/v1/surfaces/batch", &batch).await.must(200);
    let changes = json!({"merge": true, "mode": "partial", "items": [
        {"external": name("1"), "area_m2": null},
        {"external": name("new"), "area_m2": 10},
        {"external": name("1"), "area_m2": 20, "if_version": 7},
    ]});
    let done = admin.record("/v1/surfaces/batch", &changes).await.must(200);
    assert_eq!(outcomes(&done), ["needs_attention"; 3]);
    let told = done.json();
    let faults = |index: usize| {
        let errors = read::list(&told, &format!("/items/{index}/errors")).iter();
        let errors = errors.map(|one| {
            format!(
                "{} {}",
                read::text(one, "/pointer"),
                read::text(one, "/code")
            )
        });
        errors.collect::<Vec<_>>()
    };
    assert_eq!(faults(0), ["#/items/0/area_m2 area_missing"]);
    let mut missing = faults(1);
    missing.sort();
    let expected =
        ["name", "site_id", "storey"].map(|member| format!("#/items/1/{member} required"));
    assert_eq!(missing, expected);
    assert_eq!(
        faults(2),
        [
            "#/items/2/external duplicate",
            "#/items/2/if_version stale_version"
        ]
    );
    // Of the two forms each is held to its own schema, at once and whole.
    let wrong =
        json!({"merge": true, "items": [{"external": name("1"), "nmae": "x"}, {"area_m2": 5}]});
    let refused = admin.record("/v1/surfaces/batch", &wrong).await;
    refused.problem(422, "invalid_body");
    let mut told = refused.faults();
    told.sort();
    let fault = |at: &str, code: &str| (at.to_owned(), code.to_owned());
    let expected = [
        fault("#/items/0/nmae", "unknown_member"),
        fault("#/items/1/external", "required"),
    ];
    assert_eq!(told, expected);
    let wrong = json!({"merge": "yes", "items": []});
    let refused = admin.record("/v1/surfaces/batch", &wrong).await;
    assert!(
        refused.faults().contains(&fault("#/merge", "type")),
        "{}",
        refused.text()
    );
}

#[tokio::test]
async fn a_successor_may_be_named_by_its_external_name() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let batch = json!({"items": [item(&site, "old", json!({})), item(&site, "new", json!({}))]});
    let made = admin
        .record("/v1/surfaces/batch", &batch)
        .await
        .must(200)
        .json();
    let new = read::text(&made, "/items/1/surface_id");
    let by = |id: &str| json!({"external": name(id), "on": "2026-05-01"});
    let change =
        |by| json!({"merge": true, "items": [{"external": name("old"), "replaced_by": by}]});
    let done = admin
        .record("/v1/surfaces/batch", &change(by("new")))
        .await
        .must(200);
    assert_eq!(outcomes(&done), ["updated"]);
    let path = format!("/v1/surfaces/{}", read::text(&made, "/items/0/surface_id"));
    let found = admin.get(&path).await.must(200).json();
    assert_eq!(
        found["replaced_by"],
        json!({"surface_id": new, "on": "2026-05-01"})
    );
    let again = json!({"items": [item(&site, "old", json!({"replaced_by": by("new")}))]});
    let done = admin.record("/v1/surfaces/batch", &again).await.must(200);
    assert_eq!(outcomes(&done), ["unchanged"]);
    let cases = [
        (by("nobody"), "replaced_by/external", "reference_not_found"),
        (
            json!({"on": "2026-05-01"}),
            "replaced_by/surface_id",
            "alternatives",
        ),
    ];
    for (by, place, code) in cases {
        let item = item(&site, "old", json!({"replaced_by": by}));
        let refused = admin
            .record("/v1/surfaces/batch", &json!({"items": [item]}))
            .await;
        let place = format!("#/items/0/{place}");
        assert_eq!(refused.faults(), [(place, code.to_owned())]);
    }
}

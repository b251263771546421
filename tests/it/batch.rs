//! Batches: many surfaces at once, each known by its name in another system.

mod merge;

use serde_json::{Value, json};
use tests::{
    app::{NORTH, SOUTH, TestApp},
    build::{self, with},
    client::{Answer, Caller},
    read,
};

fn item(site: &str, id: &str, change: Value) -> Value {
    let named = json!({"external": {"system": "register", "id": id}, "name": format!("Room {id}")});
    with(with(build::surface(site), named), change)
}

fn finish(word: &str) -> Value {
    json!({"material": null, "finish": word})
}

async fn batch(caller: &Caller, mode: &str, items: &[Value]) -> Answer {
    caller
        .record("/v1/surfaces/batch", &json!({"mode": mode, "items": items}))
        .await
}

fn outcomes(answer: &Answer) -> Vec<String> {
    let told = answer.json();
    read::list(&told, "/items")
        .iter()
        .map(|item| read::text(item, "/outcome").to_owned())
        .collect()
}

#[tokio::test]
async fn a_batch_in_partial_mode_stores_what_it_can_and_says_what_became_of_the_rest() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let items = [
        item(&site, "1", finish("SHEET VINYL")),
        item(&site, "2", finish("CARPET")),
        item(&site, "3", finish("VINYL COMPOSITION TILE/CARPET")),
        item(&site, "4", json!({"material": null})),
        item(&site, "5", json!({"area_m2": 0})),
        item(&site, "6", finish("UNOBTAINIUM")),
        item(&site, "7", json!({"perimeter_m": null})),
    ];
    let done = batch(&admin, "partial", &items).await.must(200);
    let expected = [
        "created",
        "out_of_scope",
        "to_split",
        "needs_attention",
        "needs_attention",
        "needs_attention",
        "created",
    ];
    assert_eq!(outcomes(&done), expected);
    let told = done.json();
    let counts = json!({
        "created": 2, "updated": 0, "unchanged": 0, "out_of_scope": 1, "to_split": 1, "needs_attention": 3,
    });
    assert_eq!(told["counts"], counts);
    assert_eq!(read::number(&told, "/areas_m2/created"), 480.0);
    let items = read::list(&told, "/items");
    for (index, item) in items.iter().enumerate() {
        assert_eq!(item["index"], index);
        assert_eq!(item["external"]["id"], (index + 1).to_string());
        assert_eq!(
            item.get("surface_id").is_some(),
            item["outcome"] == "created",
            "{item}"
        );
    }
    assert_eq!(
        read::text(&items[4], "/errors/0/pointer"),
        "#/items/4/area_m2"
    );
    assert_eq!(
        read::text(&items[6], "/findings/0/rule"),
        "perimeter-missing"
    );
    let page = admin.get("/v1/surfaces").await.must(200).json();
    assert_eq!(read::list(&page, "/items").len(), 2);
}

#[tokio::test]
async fn a_batch_in_atomic_mode_stores_all_or_nothing() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let good = item(&site, "1", json!({}));
    let bad = [
        good.clone(),
        item(&site, "2", finish("CARPET")),
        item(&site, "3", json!({"area_m2": 0})),
    ];
    let refused = batch(&admin, "atomic", &bad).await;
    refused.problem(422, "invalid_body");
    let places: Vec<String> = refused
        .faults()
        .into_iter()
        .map(|(place, _)| place)
        .collect();
    assert_eq!(
        places,
        ["#/items/1/finish", "#/items/2/area_m2"],
        "{}",
        refused.text()
    );
    let page = admin.get("/v1/surfaces").await.must(200).json();
    assert_eq!(read::list(&page, "/items").len(), 0);
    assert_eq!(
        outcomes(&batch(&admin, "atomic", &[good]).await.must(200)),
        ["created"]
    );
}

#[tokio::test]
async fn a_batch_that_is_said_again_changes_what_differs_and_nothing_else() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let n_events = async || {
        let tx = app.store().read(app.tenant(NORTH)).await.unwrap();
        tx.outbox().list(100).await.unwrap().len()
    };
    let first = batch(
        &admin,
        "partial",
        &[item(&site, "1", json!({})), item(&site, "2", json!({}))],
    )
    .await
    .must(200);
    let ids = |answer: &Answer| -> Vec<String> {
        let told = answer.json();
        read::list(&told, "/items")
            .iter()
            .map(|item| read::text(item, "/surface_id").to_owned())
            .collect()
    };
    let before = n_events().await;
    app.clock().advance(chrono::TimeDelta::hours(1));
    let changed = json!({"traffic": null, "built_year": 1999});
    let items = [
        item(&site, "2", changed),
        item(&site, "1", json!({})),
        item(&site, "3", json!({})),
    ];
    let again = batch(&admin, "partial", &items).await.must(200);
    assert_eq!(outcomes(&again), ["updated", "unchanged", "created"]);
    assert_eq!(n_events().await, before + 2);
    assert_eq!(
        ids(&again)[..2],
        [ids(&first)[1].clone(), ids(&first)[0].clone()]
    );
    let told = again.json();
    let versions: Vec<f64> = read::list(&told, "/items")
        .iter()
        .map(|item| read::number(item, "/version"))
        .collect();
    assert_eq!(versions, [2.0, 1.0, 1.0]);
    let surface = admin
        .get(&format!("/v1/surfaces/{}", ids(&again)[0]))
        .await
        .must(200)
        .json();
    // What an item leaves out is no longer said.
    assert_eq!(
        (surface.get("traffic"), surface["built_year"].as_i64()),
        (None, Some(1999))
    );
}

#[tokio::test]
async fn external_names_are_compared_byte_for_byte_and_belong_to_one_item_and_one_tenant() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let names = [
        "a",
        "A",
        "a ",
        "\u{e4}",
        "a\u{308}",
        "0ztdC3L1HAzhbhMHypqcV$",
        "n/a",
    ];
    let items = names.map(|name| item(&site, name, json!({})));
    assert_eq!(
        outcomes(&batch(&admin, "partial", &items).await.must(200)),
        ["created"; 7]
    );
    assert_eq!(
        outcomes(&batch(&admin, "partial", &items).await.must(200)),
        ["unchanged"; 7]
    );
    let twice = [
        item(&site, "x", json!({})),
        item(&site, "x", json!({"storey": "9"})),
    ];
    assert_eq!(
        outcomes(&batch(&admin, "partial", &twice).await.must(200)),
        ["created", "needs_attention"]
    );
    let south = app.admin_of(SOUTH);
    let stolen = [item(&site, "a", json!({}))];
    assert_eq!(
        outcomes(&batch(&south, "partial", &stolen).await.must(200)),
        ["needs_attention"]
    );
    let own = [item(&build::new_site(&south).await, "a", json!({}))];
    assert_eq!(
        outcomes(&batch(&south, "partial", &own).await.must(200)),
        ["created"]
    );
}

#[tokio::test]
async fn an_item_that_expects_another_version_is_not_stored() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let expecting = |version: u32| {
        [item(
            &site,
            "1",
            json!({"if_version": version, "storey": version.to_string()}),
        )]
    };
    assert_eq!(
        outcomes(&batch(&admin, "partial", &expecting(1)).await.must(200)),
        ["needs_attention"]
    );
    assert_eq!(
        outcomes(
            &batch(&admin, "partial", &[item(&site, "1", json!({}))])
                .await
                .must(200)
        ),
        ["created"]
    );
    let stale = batch(&admin, "partial", &expecting(2))
        .await
        .must(200)
        .json();
    assert_eq!(
        read::text(&stale, "/items/0/errors/0/code"),
        "stale_version"
    );
    assert_eq!(
        outcomes(&batch(&admin, "partial", &expecting(1)).await.must(200)),
        ["updated"]
    );
}

#[tokio::test]
async fn the_form_of_a_batch_is_checked_before_anything_is_stored() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let good = item(&site, "1", json!({}));
    for (items, place) in [
        (vec![], "#/items"),
        (vec![good.clone(); 1_001], "#/items"),
        (
            vec![good.clone(), with(good.clone(), json!({"external": null}))],
            "#/items/1/external",
        ),
        (
            vec![good.clone(), with(good.clone(), json!({"colour": "red"}))],
            "#/items/1/colour",
        ),
        (
            vec![with(good.clone(), json!({"area_m2": "240"}))],
            "#/items/0/area_m2",
        ),
    ] {
        let refused = batch(&admin, "partial", &items).await;
        refused.problem(422, "invalid_body");
        assert!(
            refused.faults().iter().any(|(found, _)| found == place),
            "{place}: {}",
            refused.text()
        );
    }
    batch(&admin, "sometimes", &[good])
        .await
        .problem(422, "invalid_body");
    let page = admin.get("/v1/surfaces").await.must(200).json();
    assert_eq!(read::list(&page, "/items").len(), 0);
}

#[tokio::test]
async fn a_thousand_surfaces_are_one_batch() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let items: Vec<Value> = (0..1_000)
        .map(|n| item(&site, &n.to_string(), json!({})))
        .collect();
    let done = batch(&admin, "atomic", &items).await.must(200).json();
    assert_eq!(read::number(&done, "/counts/created"), 1_000.0);
    let again = batch(&admin, "atomic", &items).await.must(200).json();
    assert_eq!(read::number(&again, "/counts/unchanged"), 1_000.0);
}

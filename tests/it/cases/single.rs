//! Requests of which more is asked than a verdict and its reason.

use serde_json::{Value, json};
use tests::{
    app::TestApp,
    build::{self, with},
    client::Caller,
    read,
};

use super::floor;

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
            with(bare("marble"), json!({"gloss_loss_pct": 60})),
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

//! Facts of the trade that a plan must reproduce, each read from a plan that came over HTTP.
//!
//! Source of all of them: common practice, no published source. The floors are registered first, as a client would.

mod clean;
mod coat;
mod seal;
mod strip;

use serde_json::{Value, json};
use tests::{
    app::TestApp,
    build::{self, with},
    read,
};

/// The plan that is answered for a floor, the corridor of composition tile changed by `floor`, and a wish.
async fn plan(floor: Value, wish: Value) -> Value {
    let app = TestApp::start().await;
    let admin = app.admin();
    let site = build::new_site(&admin).await;
    let surface = build::new_surface(&admin, &with(build::surface(&site), floor)).await;
    let made = build::new_plan(&admin, &json!({"surface_id": surface, "wish": wish})).await;
    made.json()
}

fn restore() -> Value {
    json!({"goal": "restore"})
}

fn bare(material: &str) -> Value {
    json!({"material": material, "film": {"kind": "bare", "coats": null, "condition": null}, "moisture_rh_pct": 60, "laid_on": "2010-05-01"})
}

fn steps(plan: &Value) -> &[Value] {
    read::list(read::at(plan, "/work"), "/steps")
}

#[track_caller]
fn step<'a>(plan: &'a Value, key: &str) -> &'a Value {
    read::find(read::at(plan, "/work"), "/steps", "/key", key)
}

fn has_step(plan: &Value, key: &str) -> bool {
    steps(plan).iter().any(|step| step["key"] == key)
}

/// The steps that lay coats of a class of product.
fn coats<'a>(plan: &'a Value, class: &str) -> Vec<&'a Value> {
    let lays = |step: &&Value| step.get("coat").is_some() && step["product"]["class"] == class;
    steps(plan).iter().filter(lays).collect()
}

#[track_caller]
fn says(value: &Value, pointer: &str, words: &[&str]) {
    let text = read::text(value, pointer);
    for word in words {
        assert!(text.contains(word), "`{word}` is not in `{text}`");
    }
}

#[track_caller]
fn is_process(plan: &Value, key: &str) {
    assert_eq!(
        read::text(plan, "/process/key"),
        key,
        "{:#}",
        plan["candidates"]
    );
}

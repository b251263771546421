//! Which seal goes onto which floor: K13, and whose word is last: K20.

use serde_json::{Value, json};
use tests::{build::with, read};

use super::{bare, coats, is_process, plan, says};

/// A bare floor that nobody is in, aired, and nothing near it that sparks.
fn empty(material: &str) -> Value {
    let aired = json!({"occupied": false, "ventilation": "natural", "ignition_source": false});
    with(bare(material), aired)
}

fn sealed() -> Value {
    json!({"goal": "protect", "limits": {"seal_coats": 2}})
}

#[track_caller]
fn seals(plan: &Value) -> Vec<&str> {
    let laid = coats(plan, "seal");
    assert_eq!(laid.len(), 2, "{:#}", plan["findings"]);
    laid.iter()
        .map(|coat| read::text(coat, "/product/key"))
        .collect()
}

#[tokio::test]
async fn fact_k13_wood_and_cork_get_a_solvent_based_seal() {
    for material in ["hardwood", "cork"] {
        let plan = plan(empty(material), sealed()).await;
        is_process(&plan, "seal_wood");
        assert_eq!(seals(&plan), ["seal_solvent_wood"; 2]);
        // K12: several hours between coats of a solvent-based seal.
        let first = coats(&plan, "seal")[0];
        assert!(read::number(first, "/wait/used_min") >= 4.0 * 60.0);
    }
}

#[tokio::test]
async fn fact_k13_where_people_are_a_water_based_lacquer_made_for_wood_takes_its_place() {
    let occupied = with(bare("hardwood"), json!({"occupied": true}));
    let plan = plan(occupied, sealed()).await;
    assert_eq!(seals(&plan), ["lacquer_water_wood"; 2]);
    let finding = read::find(&plan, "/findings", "/rule", "wood-seal-with-people");
    says(
        finding,
        "/reason",
        &["Solvent-based seals are the rule for wood"],
    );
}

#[tokio::test]
async fn fact_k13_other_water_based_seals_are_refused_on_wood() {
    let limits = json!({"products": [{"class": "seal", "product": "seal_water_based"}]});
    let wish = json!({"goal": "protect", "process": "seal_wood", "limits": limits});
    let refused = plan(empty("hardwood"), wish).await;
    assert_eq!(read::text(&refused, "/verdict"), "refused");
    let finding = read::find(&refused, "/findings", "/rule", "seal-not-for-wood");
    says(finding, "/statement", &["solvent-based", "made for wood"]);
}

#[tokio::test]
async fn fact_k13_thermoplastic_vinyl_linoleum_rubber_and_asphalt_get_a_water_based_seal() {
    let resilient = [
        "asphalt_tile",
        "vinyl_sheet",
        "vinyl_composition_tile",
        "linoleum",
        "rubber",
    ];
    for material in resilient {
        let wish = json!({"goal": "protect", "process": "seal", "limits": {"seal_coats": 2}});
        let water = plan(empty(material), wish.clone()).await;
        assert_eq!(seals(&water), ["seal_water_based"; 2], "{material}");
        let limits = json!({"products": [{"class": "seal", "product": "seal_solvent_wood"}]});
        let solvent = plan(empty(material), with(wish, json!({"limits": limits}))).await;
        assert_eq!(read::text(&solvent, "/verdict"), "refused", "{material}");
        read::find(&solvent, "/findings", "/rule", "solvent-softens-floor");
    }
}

#[tokio::test]
async fn fact_k20_the_makers_instruction_and_the_use_guide_win() {
    for material in ["hardwood", "linoleum", "concrete_bare"] {
        let plan = plan(empty(material), json!({"goal": "protect"})).await;
        let finding = read::find(&plan, "/findings", "/rule", "maker-first");
        says(
            finding,
            "/statement",
            &["maker's instruction", "use guide first", "they win"],
        );
    }
}

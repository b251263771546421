//! How a worn floor is prepared: K03 to K06.

use serde_json::json;
use tests::read;

use super::{has_step, is_process, plan, restore, says, step, steps};

#[tokio::test]
async fn fact_k03_a_large_worn_floor_is_stripped_by_machine_with_a_stripping_pad_after_five_minutes()
 {
    let plan = plan(json!({}), restore()).await;
    is_process(&plan, "machine_strip_and_refinish");
    let lay = step(&plan, "lay_stripper");
    says(lay, "/tool", &["mop and bucket"]);
    assert_eq!(read::text(lay, "/product/class"), "stripper");
    assert_eq!(read::number(lay, "/dwell/typical_min"), 5.0);
    says(
        lay,
        "/dwell/note",
        &["soften the film", "about five minutes"],
    );
    let scrub = step(&plan, "scrub_off");
    says(scrub, "/tool", &["rotary", "drive board"]);
    assert_eq!(read::text(scrub, "/pad"), "black");
    says(
        scrub,
        "/action",
        &[
            "until all of the film is off",
            "more solution through the machine",
        ],
    );
}

#[tokio::test]
async fn fact_k03_a_small_worn_floor_is_stripped_without_the_machine() {
    let plan = plan(
        json!({"area_m2": 8, "perimeter_m": 12, "space": "room"}),
        restore(),
    )
    .await;
    is_process(&plan, "manual_strip_and_refinish");
    assert!(
        steps(&plan)
            .iter()
            .all(|step| !step["tool"].as_str().unwrap_or_default().contains("rotary"))
    );
    assert_eq!(
        read::number(step(&plan, "lay_stripper"), "/dwell/typical_min"),
        5.0
    );
}

#[tokio::test]
async fn fact_k04_edges_are_stripped_with_a_black_pad_on_an_edging_tool() {
    let plan = plan(json!({}), restore()).await;
    let edges = step(&plan, "strip_edges");
    says(edges, "/tool", &["edging tool"]);
    assert_eq!(read::text(edges, "/pad"), "black");
    says(edges, "/action", &["the machine does not reach them"]);
    assert!(read::number(edges, "/labour_h") > 0.0);
}

#[tokio::test]
async fn fact_k05_slurry_is_taken_up_with_a_wet_vacuum_or_a_mop() {
    let plan = plan(json!({}), restore()).await;
    says(
        step(&plan, "pick_up"),
        "/tool",
        &["wet pick-up vacuum", "mop where there is none"],
    );
    assert!(read::number(read::at(&plan, "/work"), "/water/slurry_l") > 0.0);
}

#[tokio::test]
async fn fact_k06_sheet_vinyl_is_neutralised_with_a_capful_of_vinegar_in_five_litres() {
    let plan = plan(json!({"material": "vinyl_sheet"}), restore()).await;
    let neutralise = step(&plan, "neutralise_acid");
    says(
        neutralise,
        "/action",
        &[
            "one capful (10 mL) of vinegar in 5 litres of water",
            "so that the film bonds",
        ],
    );
    says(neutralise, "/tool", &["mop"]);
    assert_eq!(read::text(neutralise, "/product/class"), "neutraliser");
    assert_eq!(read::text(neutralise, "/product/dilution"), "1:500");
    assert_eq!(
        read::number(neutralise, "/product/concentrate_ml_per_10_l_water"),
        20.0
    );
    let number = |key: &str| read::number(step(&plan, key), "/number");
    assert!(
        number("pick_up") < number("neutralise_acid") && number("neutralise_acid") < number("dry")
    );
}

#[tokio::test]
async fn fact_k06_composition_tile_is_neutralised_by_rinsing() {
    let plan = plan(json!({}), restore()).await;
    assert!(!has_step(&plan, "neutralise_acid"));
    says(
        step(&plan, "neutralise_rinse"),
        "/action",
        &["rinsing", "No acid on this floor"],
    );
    let finding = read::find(&plan, "/findings", "/rule", "rinses-instead-of-acid");
    assert_eq!(read::text(finding, "/severity"), "note");
}

#[tokio::test]
async fn fact_k06_acid_is_refused_on_concrete_and_warned_of_on_composition_tile() {
    let wish = json!({"goal": "restore", "process": "machine_strip_and_refinish", "limits": {"neutralise": "acid"}});
    let concrete = plan(
        json!({"material": "concrete_bare", "moisture_rh_pct": 60}),
        wish.clone(),
    )
    .await;
    assert_eq!(read::text(&concrete, "/verdict"), "refused");
    read::find(&concrete, "/findings", "/rule", "acid-refused");
    assert!(concrete.get("work").is_none());
    let tile = plan(json!({}), wish).await;
    assert_eq!(read::text(&tile, "/verdict"), "allowed_with_warnings");
    read::find(&tile, "/findings", "/rule", "acid-then-rinse");
    let number = |key: &str| read::number(step(&tile, key), "/number");
    assert!(number("neutralise_acid") < number("rinse_2"));
}

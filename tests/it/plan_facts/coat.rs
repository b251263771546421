//! How it is protected: K07 to K12 and K14.

use serde_json::{Value, json};
use tests::{build::with, read};

use super::{bare, coats, is_process, plan, says, step};

#[tokio::test]
async fn fact_k07_a_seal_lasts_several_years_bonds_and_can_come_off_again() {
    let plan = plan(bare("concrete_bare"), json!({"goal": "protect"})).await;
    is_process(&plan, "seal");
    let candidate = read::find(&plan, "/candidates", "/process/key", "seal");
    says(
        candidate,
        "/why",
        &[
            "lasts several years",
            "bonds to the floor",
            "can come off again",
        ],
    );
}

#[tokio::test]
async fn fact_k08_on_resilient_floors_polish_goes_straight_onto_the_floor() {
    let plan = plan(bare("vinyl_sheet"), json!({"goal": "protect"})).await;
    let finding = read::find(&plan, "/findings", "/rule", "seal-left-out");
    says(
        finding,
        "/statement",
        &["No seal", "polish goes straight onto the floor"],
    );
    says(
        finding,
        "/reason",
        &["On resilient floors a seal can be unnecessary"],
    );
    assert!(coats(&plan, "seal").is_empty());
    assert!(!coats(&plan, "polish").is_empty());
}

#[tokio::test]
async fn fact_k09_seal_goes_on_undiluted_from_a_bucket_or_tray_in_one_straight_direction() {
    let plan = plan(bare("concrete_bare"), json!({"goal": "protect"})).await;
    let laid = coats(&plan, "seal");
    assert!(!laid.is_empty());
    for coat in &laid {
        assert_eq!(read::text(coat, "/product/dilution"), "undiluted");
        let words = [
            "undiluted",
            "bucket or tray",
            "clean, dry floor",
            "thin and even",
            "one straight direction from one side of the room to the other",
        ];
        says(coat, "/action", &words);
    }
    let dry = read::number(step(&plan, "dry"), "/number");
    assert!(dry < read::number(laid[0], "/number"));
    assert_eq!(read::text(step(&plan, "dry"), "/hold/key"), "dry_to_touch");
}

#[tokio::test]
async fn fact_k10_the_first_of_two_coats_stops_ten_centimetres_short_and_the_second_goes_right_up()
{
    for (floor, wish, class) in [
        (
            bare("concrete_bare"),
            json!({"goal": "protect", "limits": {"seal_coats": 2}}),
            "seal",
        ),
        (
            bare("vinyl_sheet"),
            json!({"goal": "protect", "limits": {"polish_coats": 2}}),
            "polish",
        ),
    ] {
        let plan = plan(floor, wish).await;
        let gaps: Vec<f64> = coats(&plan, class)
            .iter()
            .map(|c| read::number(c, "/coat/edge_gap_mm"))
            .collect();
        assert_eq!(gaps, [100.0, 0.0], "{class}");
        let areas: Vec<f64> = coats(&plan, class)
            .iter()
            .map(|c| read::number(c, "/coat/area_m2"))
            .collect();
        // 76 m of edge, 10 cm wide; the four corners are counted twice and given back.
        assert_eq!(areas, [240.0 - 7.6 + 0.04, 240.0], "{class}");
    }
}

#[tokio::test]
async fn fact_k11_each_coat_goes_at_a_right_angle_to_the_one_before() {
    let wish = json!({"goal": "protect", "limits": {"polish_coats": 3}});
    let plan = plan(bare("vinyl_sheet"), wish).await;
    let ways: Vec<&str> = coats(&plan, "polish")
        .iter()
        .map(|c| read::text(c, "/coat/direction"))
        .collect();
    assert_eq!(ways, ["along", "across", "along"]);
}

#[tokio::test]
async fn fact_k12_a_water_based_coat_dries_for_half_an_hour_at_least() {
    let wish = json!({"goal": "protect", "limits": {"seal_coats": 2}});
    let plan = plan(bare("concrete_bare"), wish).await;
    let first = coats(&plan, "seal")[0];
    says(first, "/product/name", &["Water-based"]);
    assert!(read::number(first, "/wait/label_min") >= 30.0);
    assert!(read::number(first, "/wait/used_min") >= read::number(first, "/wait/label_min"));
    assert!(read::number(first, "/wait/used_min") < 24.0 * 60.0);
}

#[tokio::test]
async fn fact_k14_a_polish_is_a_water_based_emulsion_over_the_seal_for_gloss() {
    let wish = json!({"goal": "protect", "finish": "gloss", "limits": {"seal_coats": 2, "polish_coats": 3}});
    let plan = plan(bare("vinyl_sheet"), wish).await;
    let (seals, polishes) = (coats(&plan, "seal"), coats(&plan, "polish"));
    assert_eq!((seals.len(), polishes.len()), (2, 3));
    let number = |step: &Value| read::number(step, "/number");
    assert!(number(seals[1]) < number(polishes[0]));
    says(
        polishes[0],
        "/product/name",
        &["Water-based emulsion polish"],
    );
    let bare_floor = super::plan(bare("vinyl_sheet"), json!({"goal": "protect"})).await;
    let finding = read::find(&bare_floor, "/findings", "/rule", "seal-left-out");
    says(
        finding,
        "/reason",
        &["what goes through a polish stops on a seal"],
    );
}

#[tokio::test]
async fn fact_k14_a_sealed_floor_that_shall_shine_gets_a_polish_over_its_seal() {
    let sealed = json!({"material": "concrete_sealed", "film": {"kind": "seal", "coats": null, "condition": "sound"}});
    let wish = json!({"goal": "protect", "finish": "gloss"});
    let plan = plan(with(sealed, json!({"moisture_rh_pct": 60})), wish).await;
    is_process(&plan, "polish");
    let candidate = read::find(&plan, "/candidates", "/process/key", "polish");
    says(
        candidate,
        "/why",
        &[
            "polish over a seal gives gloss or satin",
            "easily renewed",
            "takes the wear",
        ],
    );
    assert!(coats(&plan, "seal").is_empty() && !coats(&plan, "polish").is_empty());
}

//! The processes of the trade by their numbers: each is there, in its order of steps, with its waits and readings.
//!
//! Source of all of them: common practice, no published source, but where the row of the knowledge base names one.

use domain::knowledge::{Process, Step};

use crate::common::base;

#[track_caller]
fn process(key: &str) -> &'static Process {
    let found = base().process(key);
    assert!(found.is_some(), "no process {key}");
    found.unwrap_or_else(|| unreachable!())
}

#[track_caller]
fn step<'p>(process: &'p Process, key: &str) -> &'p Step {
    let found = process.steps.iter().find(|step| step.key == key);
    assert!(found.is_some(), "no step {key} in {}", process.key);
    found.unwrap_or_else(|| unreachable!())
}

/// The steps stand in this order, others between them.
#[track_caller]
fn in_order(key: &str, steps: &[&str]) {
    let process = process(key);
    let mut at = 0;
    for wanted in steps {
        let rest = process.steps.iter().skip(at);
        let found = rest.clone().position(|step| step.key == *wanted);
        assert!(
            found.is_some(),
            "{wanted} is not there, or not in its place, in {key}"
        );
        at += found.unwrap_or(0) + 1;
    }
}

#[track_caller]
fn holds(process_key: &str, step_key: &str, hold: &str) {
    let found = step(process(process_key), step_key).hold.as_deref();
    assert_eq!(found, Some(hold), "{process_key}/{step_key}");
}

#[track_caller]
fn dwells(process_key: &str, step_key: &str, minutes: [i64; 3]) {
    let found = step(process(process_key), step_key).dwell_min;
    assert_eq!(found, Some(minutes), "{process_key}/{step_key}");
}

#[test]
fn process_p01_a_new_floor_is_swept_mopped_scrubbed_rinsed_and_coated() {
    let steps = [
        "clear_debris",
        "mop_dust",
        "scrub",
        "scrub_edges",
        "rinse",
        "dry",
        "seal_coat",
        "polish_coat",
    ];
    in_order("new_floor_preparation", &steps);
    holds("new_floor_preparation", "rinse", "surface_ph");
}

#[test]
fn process_p02_p03_a_strip_softens_scrubs_picks_up_rinses_twice_and_coats() {
    let machine = "machine_strip_and_refinish";
    let steps = [
        "strip_edges",
        "lay_stripper",
        "scrub_off",
        "pick_up",
        "rinse_1",
        "rinse_2",
        "dry",
        "polish_coat",
    ];
    in_order(machine, &steps);
    in_order("manual_strip_and_refinish", &steps[1..]);
    for key in [
        machine,
        "manual_strip_and_refinish",
        "mild_strip_and_refinish",
    ] {
        holds(key, "pick_up", "film_gone");
        holds(key, "rinse_2", "surface_ph");
        holds(key, "dry", "dry_to_touch");
    }
    dwells(machine, "lay_stripper", [5, 5, 15]);
    dwells("mild_strip_and_refinish", "lay_stripper", [5, 10, 15]);
}

#[test]
fn process_p04_residue_is_rinsed_off_until_the_ph_is_right() {
    in_order("rinse_and_neutralise", &["rinse_1", "rinse_2", "dry"]);
    holds("rinse_and_neutralise", "rinse_2", "surface_ph");
}

#[test]
fn process_p05_seals_impregnators_and_densifiers_go_onto_clean_floors() {
    in_order("seal", &["scrub", "rinse", "dry", "seal_coat"]);
    in_order("seal_wood", &["vacuum", "vacuum_again", "seal_coat"]);
    in_order(
        "impregnate_stone",
        &["rinse", "dry_through", "impregnate", "try_drops"],
    );
    in_order(
        "densify_concrete",
        &["rinse", "densify_1", "densify_2", "take_up_gel"],
    );
    dwells("densify_concrete", "densify_1", [20, 25, 30]);
}

#[test]
fn process_p06_p07_polish_goes_onto_a_clean_floor_or_a_scrubbed_film() {
    for key in ["polish", "scrub_and_recoat"] {
        in_order(key, &["dust", "scrub", "rinse", "dry", "polish_coat"]);
        holds(key, "rinse", "surface_ph");
        holds(key, "polish_coat", "climate_gate");
    }
}

#[test]
fn process_p08_p09_a_film_is_dusted_before_it_is_buffed_and_after() {
    in_order("spray_buff", &["dust", "spray_and_buff", "dust_after"]);
    in_order("burnish_polish", &["dust", "mop", "burnish", "dust_after"]);
}

#[test]
fn process_p10_p11_p12_p13_soil_comes_off_dry_then_damp_then_wet_then_by_machine() {
    for (key, wetness) in [
        ("dust_mop", 0),
        ("damp_mop", 1),
        ("wet_mop", 2),
        ("scrubber_dryer", 2),
    ] {
        let process = process(key);
        assert_eq!(process.wetness, wetness, "{key}");
        let first = process.steps.iter().find(|step| step.labour.is_some());
        assert!(
            first.is_some_and(|step| step.key.starts_with("dust")),
            "{key}"
        );
    }
}

#[test]
fn process_p14_p17_greasy_floors_are_degreased_brushed_and_rinsed() {
    let safety = "safety_floor_deep_clean";
    in_order(
        safety,
        &[
            "dust",
            "lay_cleaner",
            "brush_machine",
            "pick_up",
            "rinse_1",
            "rinse_2",
            "dry",
        ],
    );
    holds(safety, "dry", "ptv_wet");
    let tile = "greasy_tile_deep_clean";
    in_order(
        tile,
        &["dust", "lay_degreaser", "brush", "pick_up", "rinse", "dry"],
    );
    dwells(tile, "lay_degreaser", [5, 8, 10]);
}

#[test]
fn process_p15_stone_and_resin_go_to_their_trades() {
    for key in ["hone_stone", "crystallise_stone", "recoat_resin"] {
        assert!(process(key).specialist, "{key}");
        in_order(key, &["hand_over"]);
    }
}

#[test]
fn process_p16_wood_is_read_sanded_in_three_grades_vacuumed_twice_and_sealed_three_times() {
    let steps = [
        "isolate_detectors",
        "read_moisture",
        "make_even",
        "sand_coarse",
        "sand_medium",
        "sand_edges",
        "sand_fine",
        "empty_bags",
        "vacuum",
        "vacuum_again",
        "seal_coat",
    ];
    in_order("sand_wood", &steps);
    holds("sand_wood", "isolate_detectors", "detection_isolated");
    holds("sand_wood", "read_moisture", "wood_moisture");
    assert_eq!(process("sand_wood").seal_coats, Some(3));
}

#[test]
fn process_p18_p19_p20_spots_joints_and_spills_have_processes_of_their_own() {
    in_order("spot_clean", &["rub_dry", "wipe", "dry"]);
    in_order(
        "restore_grout",
        &[
            "lay_degreaser",
            "brush_joints",
            "wet_joints",
            "descale",
            "rinse",
            "seal_joints",
        ],
    );
    dwells("restore_grout", "descale", [3, 4, 5]);
    in_order(
        "take_up_spill",
        &["cordon", "absorb", "wash", "rinse", "dry"],
    );
}

#[test]
fn process_p21_grip_comes_back_by_what_dissolves_the_residue() {
    let steps = [
        "wash_grease",
        "wet_joints",
        "wash_scale",
        "rinse_1",
        "rinse_2",
        "dry",
        "read_grip",
    ];
    in_order("slip_restoring_wash", &steps);
    holds("slip_restoring_wash", "read_grip", "ptv_wet");
}

#[test]
fn process_p22_a_floor_is_handed_over_with_what_it_must_be_spared() {
    in_order("hand_floor_over", &["measure", "cover", "tell"]);
}

#[test]
fn wood_keeps_its_water_out_and_wax_is_renewed_or_taken_off() {
    in_order(
        "strip_wood_polish",
        &[
            "lay_remover",
            "loosen",
            "take_up",
            "wipe_1",
            "wipe_2",
            "dry",
            "polish_coat",
        ],
    );
    in_order("renew_wax_or_oil", &["soap", "oil"]);
    in_order(
        "remove_wax",
        &["lay_remover", "work_off", "rinse_1", "rinse_2", "dry"],
    );
    let wood = [
        "strip_wood_polish",
        "renew_wax_or_oil",
        "seal_wood",
        "screen_and_recoat_wood",
        "sand_wood",
    ];
    for key in wood {
        assert!(process(key).wetness <= 1, "{key}");
    }
    in_order(
        "strip_to_bare",
        &["lay_mild_stripper", "brush", "pick_up", "rinse_2", "dry"],
    );
}

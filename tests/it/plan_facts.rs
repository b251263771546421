//! Facts of the trade that a plan must reproduce, each read from a plan that came over HTTP.
//!
//! Source of all of them: common practice, no published source. The floors are registered first, as a client would.

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
    json!({"material": material, "film": {"kind": "bare", "coats": null, "condition": null}, "moisture_rh_pct": 60})
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
    assert_eq!(read::text(plan, "/process/key"), key, "{:#}", plan["candidates"]);
}

#[tokio::test]
async fn fact_k03_a_large_worn_floor_is_stripped_by_machine_with_a_stripping_pad_after_five_minutes() {
    let plan = plan(json!({}), restore()).await;
    is_process(&plan, "machine_strip_and_refinish");
    let lay = step(&plan, "lay_stripper");
    says(lay, "/tool", &["mop and bucket"]);
    assert_eq!(read::text(lay, "/product/class"), "stripper");
    assert_eq!(read::number(lay, "/dwell/typical_min"), 5.0);
    says(lay, "/dwell/note", &["soften the film", "about five minutes"]);
    let scrub = step(&plan, "scrub_off");
    says(scrub, "/tool", &["rotary", "drive board"]);
    assert_eq!(read::text(scrub, "/pad"), "black");
    says(scrub, "/action", &["until all of the film is off", "more solution through the machine"]);
}

#[tokio::test]
async fn fact_k03_a_small_worn_floor_is_stripped_without_the_machine() {
    let plan = plan(json!({"area_m2": 8, "perimeter_m": 12, "space": "room"}), restore()).await;
    is_process(&plan, "manual_strip_and_refinish");
    assert!(steps(&plan).iter().all(|step| !step["tool"].as_str().unwrap_or_default().contains("rotary")));
    assert_eq!(read::number(step(&plan, "lay_stripper"), "/dwell/typical_min"), 5.0);
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
    says(step(&plan, "pick_up"), "/tool", &["wet pick-up vacuum", "mop where there is none"]);
    assert!(read::number(read::at(&plan, "/work"), "/water/slurry_l") > 0.0);
}

#[tokio::test]
async fn fact_k06_sheet_vinyl_is_neutralised_with_a_capful_of_vinegar_in_five_litres() {
    let plan = plan(json!({"material": "vinyl_sheet"}), restore()).await;
    let neutralise = step(&plan, "neutralise_acid");
    says(neutralise, "/action", &["one capful (10 mL) of vinegar in 5 litres of water", "so that the film bonds"]);
    says(neutralise, "/tool", &["mop"]);
    assert_eq!(read::text(neutralise, "/product/class"), "neutraliser");
    assert_eq!(read::text(neutralise, "/product/dilution"), "1:500");
    assert_eq!(read::number(neutralise, "/product/concentrate_ml_per_10_l_water"), 20.0);
    let number = |key: &str| read::number(step(&plan, key), "/number");
    assert!(number("pick_up") < number("neutralise_acid") && number("neutralise_acid") < number("dry"));
}

#[tokio::test]
async fn fact_k06_composition_tile_is_neutralised_by_rinsing() {
    let plan = plan(json!({}), restore()).await;
    assert!(!has_step(&plan, "neutralise_acid"));
    says(step(&plan, "neutralise_rinse"), "/action", &["rinsing", "No acid on this floor"]);
    let finding = read::find(&plan, "/findings", "/rule", "rinses-instead-of-acid");
    assert_eq!(read::text(finding, "/severity"), "note");
}

#[tokio::test]
async fn fact_k06_acid_is_refused_on_concrete_and_warned_of_on_composition_tile() {
    let wish = json!({"goal": "restore", "process": "machine_strip_and_refinish", "limits": {"neutralise": "acid"}});
    let concrete = plan(json!({"material": "concrete_bare", "moisture_rh_pct": 60}), wish.clone()).await;
    assert_eq!(read::text(&concrete, "/verdict"), "refused");
    read::find(&concrete, "/findings", "/rule", "acid-refused");
    assert!(concrete.get("work").is_none());
    let tile = plan(json!({}), wish).await;
    assert_eq!(read::text(&tile, "/verdict"), "allowed_with_warnings");
    read::find(&tile, "/findings", "/rule", "acid-then-rinse");
    let number = |key: &str| read::number(step(&tile, key), "/number");
    assert!(number("neutralise_acid") < number("rinse_2"));
}

#[tokio::test]
async fn fact_k07_a_seal_lasts_several_years_bonds_and_can_come_off_again() {
    let plan = plan(bare("concrete_bare"), json!({"goal": "protect"})).await;
    is_process(&plan, "seal");
    let candidate = read::find(&plan, "/candidates", "/process/key", "seal");
    says(candidate, "/why", &["lasts several years", "bonds to the floor", "can come off again"]);
}

#[tokio::test]
async fn fact_k08_on_resilient_floors_polish_goes_straight_onto_the_floor() {
    let plan = plan(bare("vinyl_sheet"), json!({"goal": "protect"})).await;
    let finding = read::find(&plan, "/findings", "/rule", "seal-left-out");
    says(finding, "/statement", &["No seal", "polish goes straight onto the floor"]);
    says(finding, "/reason", &["On resilient floors a seal can be unnecessary"]);
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
            "undiluted", "bucket or tray", "clean, dry floor", "thin and even",
            "one straight direction from one side of the room to the other",
        ];
        says(coat, "/action", &words);
    }
    let dry = read::number(step(&plan, "dry"), "/number");
    assert!(dry < read::number(laid[0], "/number"));
    assert_eq!(read::text(step(&plan, "dry"), "/hold/key"), "dry_to_touch");
}

#[tokio::test]
async fn fact_k10_the_first_of_two_coats_stops_ten_centimetres_short_and_the_second_goes_right_up() {
    for (floor, wish, class) in [
        (bare("concrete_bare"), json!({"goal": "protect", "limits": {"seal_coats": 2}}), "seal"),
        (bare("vinyl_sheet"), json!({"goal": "protect", "limits": {"polish_coats": 2}}), "polish"),
    ] {
        let plan = plan(floor, wish).await;
        let gaps: Vec<f64> = coats(&plan, class).iter().map(|c| read::number(c, "/coat/edge_gap_mm")).collect();
        assert_eq!(gaps, [100.0, 0.0], "{class}");
        let areas: Vec<f64> = coats(&plan, class).iter().map(|c| read::number(c, "/coat/area_m2")).collect();
        // 76 m of edge, 10 cm wide; the four corners are counted twice and given back.
        assert_eq!(areas, [240.0 - 7.6 + 0.04, 240.0], "{class}");
    }
}

#[tokio::test]
async fn fact_k11_each_coat_goes_at_a_right_angle_to_the_one_before() {
    let wish = json!({"goal": "protect", "limits": {"polish_coats": 3}});
    let plan = plan(bare("vinyl_sheet"), wish).await;
    let ways: Vec<&str> = coats(&plan, "polish").iter().map(|c| read::text(c, "/coat/direction")).collect();
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
    says(polishes[0], "/product/name", &["Water-based emulsion polish"]);
    let bare_floor = self::plan(bare("vinyl_sheet"), json!({"goal": "protect"})).await;
    let finding = read::find(&bare_floor, "/findings", "/rule", "seal-left-out");
    says(finding, "/reason", &["what goes through a polish stops on a seal"]);
}

#[tokio::test]
async fn fact_k14_a_sealed_floor_that_shall_shine_gets_a_polish_over_its_seal() {
    let sealed = json!({"material": "concrete_sealed", "film": {"kind": "seal", "coats": null, "condition": "sound"}});
    let wish = json!({"goal": "protect", "finish": "gloss"});
    let plan = plan(with(sealed, json!({"moisture_rh_pct": 60})), wish).await;
    is_process(&plan, "polish");
    let candidate = read::find(&plan, "/candidates", "/process/key", "polish");
    says(candidate, "/why", &["polish over a seal gives gloss or satin", "easily renewed", "takes the wear"]);
    assert!(coats(&plan, "seal").is_empty() && !coats(&plan, "polish").is_empty());
}

#[tokio::test]
async fn fact_k15_who_maintains_a_floor_looks_at_the_mats_first() {
    let plan = plan(json!({}), json!({"goal": "maintain"})).await;
    let finding = read::find(&plan, "/findings", "/rule", "mats-at-the-door");
    says(finding, "/statement", &["80 % of the soil", "comes in on shoes", "mats catch part of it"]);
}

#[tokio::test]
async fn fact_k16_spray_buffing_lays_a_fine_mist_ahead_of_a_red_pad() {
    let dull = json!({"film": {"condition": "sound"}, "gloss_loss_pct": 25, "soil": "normal"});
    let plan = plan(dull, json!({"goal": "maintain"})).await;
    is_process(&plan, "spray_buff");
    let buff = step(&plan, "spray_and_buff");
    says(buff, "/action", &["fine mist", "about one metre ahead", "light to medium soil", "Scuff marks", "blue pad"]);
    says(buff, "/tool", &["trigger spray", "rotary machine"]);
    assert_eq!(read::text(buff, "/pad"), "red");
    assert_eq!(read::text(buff, "/product/class"), "maintainer");
    assert!(read::text(buff, "/product/dilution").starts_with("1:"));
    let candidate = read::find(&plan, "/candidates", "/process/key", "spray_buff");
    says(candidate, "/why", &["gloss", "durability", "puts the next coats off"]);
    // That it raises slip resistance is not promised: a reading decides.
    says(step(&plan, "dust_after"), "/action", &["pendulum", "buffing promises none"]);
}

#[tokio::test]
async fn fact_k17_a_polished_floor_is_mopped_with_a_neutral_cleaner_by_a_mop_of_its_size() {
    let soiled = |area: f64| json!({"soil": "heavy", "area_m2": area, "perimeter_m": null, "space": "room"});
    let small = plan(soiled(40.0), json!({"goal": "clean"})).await;
    is_process(&small, "wet_mop");
    says(step(&small, "mop_small"), "/tool", &["socket mop", "bucket"]);
    assert!(!has_step(&small, "mop_large"));
    let large = plan(soiled(90.0), json!({"goal": "clean"})).await;
    says(step(&large, "mop_large"), "/tool", &["large string mop", "wringer bucket"]);
    assert!(!has_step(&large, "mop_small"));
    let damp = plan(json!({"soil": "normal"}), json!({"goal": "clean"})).await;
    is_process(&damp, "damp_mop");
    says(step(&damp, "mop"), "/tool", &["flat mop"]);
    says(step(&damp, "mop"), "/action", &["damp and not wet"]);
    for (plan, key) in [(&small, "mop_small"), (&large, "mop_large"), (&damp, "mop")] {
        assert_eq!(read::text(step(plan, key), "/product/class"), "neutral_cleaner");
    }
    says(read::find(&damp, "/candidates", "/process/key", "damp_mop"), "/why", &["leaves no polymer behind"]);
}

#[tokio::test]
async fn fact_k18_a_scrubber_dryer_does_it_in_one_pass_with_low_foam() {
    let plan = plan(json!({"soil": "heavy"}), json!({"goal": "clean"})).await;
    is_process(&plan, "scrubber_dryer");
    let pass = step(&plan, "pass");
    says(pass, "/action", &["One pass", "solution, brush or pad, vacuum", "Low-foam cleaner only"]);
    says(pass, "/product/name", &["low-foam"]);
    // Not dry at once: a thin film is left for some minutes, and the air decides for how many.
    let wait = read::number(step(&plan, "dry"), "/wait/used_min");
    assert!((2.0..=30.0).contains(&wait), "{wait}");
}

#[tokio::test]
async fn fact_k19_a_safety_floor_is_cleaned_with_alkali_by_machine_or_by_hand_and_rinsed() {
    let floor = |area: f64| {
        let none = json!({"material": "safety_vinyl", "film": {"kind": "bare", "coats": null, "condition": null}});
        with(none, json!({"soil": "heavy", "area_m2": area, "perimeter_m": null, "space": "room"}))
    };
    let by_machine = plan(floor(60.0), json!({"goal": "clean"})).await;
    is_process(&by_machine, "safety_floor_deep_clean");
    says(step(&by_machine, "brush_machine"), "/tool", &["rotary"]);
    says(step(&by_machine, "brush_machine"), "/action", &["scrubber-dryer"]);
    says(step(&by_machine, "pick_up"), "/tool", &["wet pick-up vacuum"]);
    let by_hand = plan(floor(9.0), json!({"goal": "clean"})).await;
    says(step(&by_hand, "brush_hand"), "/tool", &["stiff deck scrub", "edging tool"]);
    says(step(&by_hand, "brush_hand"), "/action", &["abrasive pad"]);
    for plan in [&by_machine, &by_hand] {
        let lay = step(plan, "lay_cleaner");
        says(lay, "/action", &["alkaline cleaner"]);
        says(lay, "/product/name", &["Alkaline degreaser"]);
        says(step(plan, "rinse_1"), "/action", &["clean water"]);
        says(step(plan, "rinse_2"), "/action", &["clean water"]);
        let candidate = read::find(plan, "/candidates", "/process/key", "safety_floor_deep_clean");
        says(candidate, "/why", &["rough face", "only an alkaline cleaner"]);
    }
}

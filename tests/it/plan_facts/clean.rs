//! How it is kept: K15 to K19.

use serde_json::json;
use tests::{build::with, read};

use super::{has_step, is_process, plan, says, step};

#[tokio::test]
async fn fact_k15_who_maintains_a_floor_looks_at_the_mats_first() {
    let plan = plan(json!({}), json!({"goal": "maintain"})).await;
    let finding = read::find(&plan, "/findings", "/rule", "mats-at-the-door");
    says(
        finding,
        "/statement",
        &[
            "80 % of the soil",
            "comes in on shoes",
            "mats catch part of it",
        ],
    );
}

#[tokio::test]
async fn fact_k16_spray_buffing_lays_a_fine_mist_ahead_of_a_red_pad() {
    let dull = json!({"film": {"condition": "sound"}, "gloss_loss_pct": 25, "soil": "normal"});
    let plan = plan(dull, json!({"goal": "maintain"})).await;
    is_process(&plan, "spray_buff");
    let buff = step(&plan, "spray_and_buff");
    says(
        buff,
        "/action",
        &[
            "fine mist",
            "about one metre ahead",
            "light to medium soil",
            "Scuff marks",
            "blue pad",
        ],
    );
    says(buff, "/tool", &["trigger spray", "rotary machine"]);
    assert_eq!(read::text(buff, "/pad"), "red");
    assert_eq!(read::text(buff, "/product/class"), "maintainer");
    assert!(read::text(buff, "/product/dilution").starts_with("1:"));
    let candidate = read::find(&plan, "/candidates", "/process/key", "spray_buff");
    says(
        candidate,
        "/why",
        &["gloss", "durability", "puts the next coats off"],
    );
    // That it raises slip resistance is not promised: a reading decides.
    says(
        step(&plan, "dust_after"),
        "/action",
        &["pendulum", "buffing promises none"],
    );
}

#[tokio::test]
async fn fact_k17_a_polished_floor_is_mopped_with_a_neutral_cleaner_by_a_mop_of_its_size() {
    let soiled =
        |area: f64| json!({"soil": "heavy", "area_m2": area, "perimeter_m": null, "space": "room"});
    let small = plan(soiled(40.0), json!({"goal": "clean"})).await;
    is_process(&small, "wet_mop");
    says(
        step(&small, "mop_small"),
        "/tool",
        &["socket mop", "bucket"],
    );
    assert!(!has_step(&small, "mop_large"));
    let large = plan(soiled(90.0), json!({"goal": "clean"})).await;
    says(
        step(&large, "mop_large"),
        "/tool",
        &["large string mop", "wringer bucket"],
    );
    assert!(!has_step(&large, "mop_small"));
    let damp = plan(json!({"soil": "normal"}), json!({"goal": "clean"})).await;
    is_process(&damp, "damp_mop");
    says(step(&damp, "mop"), "/tool", &["flat mop"]);
    says(step(&damp, "mop"), "/action", &["damp and not wet"]);
    for (plan, key) in [(&small, "mop_small"), (&large, "mop_large"), (&damp, "mop")] {
        assert_eq!(
            read::text(step(plan, key), "/product/class"),
            "neutral_cleaner"
        );
    }
    says(
        read::find(&damp, "/candidates", "/process/key", "damp_mop"),
        "/why",
        &["leaves no polymer behind"],
    );
}

#[tokio::test]
async fn fact_k18_a_scrubber_dryer_does_it_in_one_pass_with_low_foam() {
    let plan = plan(json!({"soil": "heavy"}), json!({"goal": "clean"})).await;
    is_process(&plan, "scrubber_dryer");
    let pass = step(&plan, "pass");
    says(
        pass,
        "/action",
        &[
            "One pass",
            "solution, brush or pad, vacuum",
            "Low-foam cleaner only",
        ],
    );
    says(pass, "/product/name", &["low-foam"]);
    // Not dry at once: a thin film is left for some minutes, and the air decides for how many.
    let dry = step(&plan, "dry");
    let wait = read::number(dry, "/wait/p50_min");
    assert!((2.0..=10.0).contains(&wait), "{wait}");
    assert!(read::number(dry, "/wait/used_min") <= 12.0, "{dry}");
}

#[tokio::test]
async fn fact_k19_a_safety_floor_is_cleaned_with_alkali_by_machine_or_by_hand_and_rinsed() {
    let floor = |area: f64| {
        let none = json!({"material": "safety_vinyl", "film": {"kind": "bare", "coats": null, "condition": null}});
        with(
            none,
            json!({"soil": "heavy", "area_m2": area, "perimeter_m": null, "space": "room"}),
        )
    };
    let by_machine = plan(floor(60.0), json!({"goal": "clean"})).await;
    is_process(&by_machine, "safety_floor_deep_clean");
    says(step(&by_machine, "brush_machine"), "/tool", &["rotary"]);
    says(
        step(&by_machine, "brush_machine"),
        "/action",
        &["scrubber-dryer"],
    );
    says(
        step(&by_machine, "pick_up"),
        "/tool",
        &["wet pick-up vacuum"],
    );
    let by_hand = plan(floor(9.0), json!({"goal": "clean"})).await;
    says(
        step(&by_hand, "brush_hand"),
        "/tool",
        &["stiff deck scrub", "edging tool"],
    );
    says(step(&by_hand, "brush_hand"), "/action", &["abrasive pad"]);
    for plan in [&by_machine, &by_hand] {
        let lay = step(plan, "lay_cleaner");
        says(lay, "/action", &["alkaline cleaner"]);
        says(lay, "/product/name", &["Alkaline degreaser"]);
        says(step(plan, "rinse_1"), "/action", &["clean water"]);
        says(step(plan, "rinse_2"), "/action", &["clean water"]);
        let candidate = read::find(
            plan,
            "/candidates",
            "/process/key",
            "safety_floor_deep_clean",
        );
        says(
            candidate,
            "/why",
            &["rough face", "only an alkaline cleaner"],
        );
    }
}

//! The verdicts that a floor-care lead expects, by the numbers of the trade's own list: what must be refused, warned of,
//! asked about and allowed, each read from a plan that came over HTTP, with the rule that decides and its reason.

use serde_json::{Value, json};
use tests::{
    app::TestApp,
    build::{self, with},
    client::Caller,
    read,
};

/// 240 m² of an ordinary corridor that nobody is in.
fn floor(material: &str, film: &Value) -> Value {
    json!({
        "material": material, "built_year": 2012, "traffic": "medium", "occupied": false, "moisture_rh_pct": 60,
        "film": with(json!({"coats": null, "condition": null}), film.clone()),
    })
}

fn bare(material: &str) -> Value {
    floor(material, &json!({"kind": "bare"}))
}

fn polished(material: &str, coats: i64, condition: &str) -> Value {
    let film = json!({"kind": "polish", "coats": coats, "condition": condition});
    floor(material, &film)
}

/// A floor of which something more is known.
fn known(floor: Value, more: Value) -> Value {
    with(floor, more)
}

async fn registered(admin: &Caller, floor: &Value) -> String {
    let site = build::new_site(admin).await;
    let surface = with(build::surface(&site), floor.clone());
    build::new_surface(admin, &surface).await
}

async fn plan(floor: &Value, wish: &Value, air: Option<&Value>) -> Value {
    let app = TestApp::start().await;
    let admin = app.admin();
    let surface = registered(&admin, floor).await;
    let mut request = json!({"surface_id": surface, "wish": wish});
    if let Some(air) = air {
        request["climate"] = air.clone();
    }
    build::new_plan(&admin, &request).await.json()
}

/// What a row of the table says of a plan.
#[derive(Default)]
struct Expected {
    verdict: &'static str,
    rule: Option<&'static str>,
    offers: Option<&'static str>,
    asks: Option<&'static str>,
}

#[track_caller]
fn check(plan: &Value, expected: &Expected) {
    let findings = read::list(plan, "/findings");
    assert_eq!(
        read::text(plan, "/verdict"),
        expected.verdict,
        "{findings:#?}"
    );
    assert!(!read::text(plan, "/summary").is_empty());
    let severity = match expected.verdict {
        "refused" => Some("refuse"),
        "allowed_with_warnings" => Some("warn"),
        "needs_information" => Some("ask"),
        _ => None,
    };
    if let (Some(rule), Some(severity)) = (expected.rule, severity) {
        let finding = read::find(plan, "/findings", "/rule", rule);
        assert_eq!(read::text(finding, "/severity"), severity);
        for member in ["/statement", "/reason", "/clears"] {
            assert!(!read::text(finding, member).is_empty(), "{rule}{member}");
        }
    }
    let listed = |member: &str, key: &str| {
        let list = read::list(plan, member);
        assert!(list.iter().any(|entry| entry == key), "{key} in {list:?}");
    };
    if let Some(process) = expected.offers {
        listed("/instead", process);
    }
    if let Some(fact) = expected.asks {
        read::find(plan, "/questions", "/fact", fact);
        listed("/meanwhile", "dust_mop");
    }
    let works = expected.verdict.starts_with("allowed");
    assert_eq!(plan.get("work").is_some(), works);
}

/// A wish for one process, with limits.
fn wish(goal: &str, process: &str, limits: &Value) -> Value {
    json!({"goal": goal, "process": process, "limits": limits})
}

fn named(process: &str) -> Value {
    json!({"goal": "restore", "process": process})
}

/// A named process with a product of the caller's own choice.
fn with_product(process: &str, class: &str, product: &str) -> Value {
    let limits = json!({"neutralise": "acid", "products": [{"class": class, "product": product}]});
    wish("clean", process, &limits)
}

fn with_waits(waits: &Value) -> Value {
    wish("protect", "polish", &json!({"waits": waits}))
}

macro_rules! cases {
    ($($name:ident { $($floor:expr, $wish:expr $(, $air:expr)? => $verdict:literal $({$($member:ident: $value:literal),+})?;)+ })+) => {$(
        #[tokio::test]
        async fn $name() {
            $(
                let air: &[Value] = &[$($air)?];
                let made = plan(&$floor, &$wish, air.first()).await;
                check(&made, &Expected {
                    verdict: $verdict,
                    $($($member: Some($value),)+)?
                    ..Expected::default()
                });
            )+
        }
    )+};
}

const STRIP: &str = "machine_strip_and_refinish";
const RECOAT: &str = "scrub_and_recoat";
const RINSE: &str = "rinse_and_neutralise";
const DEEP_CLEAN: &str = "safety_floor_deep_clean";

fn air(floor_c: f64, humidity_pct: f64) -> Value {
    json!({"air_c": 20, "floor_c": floor_c, "humidity_pct": humidity_pct, "air_speed_m_s": 0.1})
}

fn of_1975(more: Value) -> Value {
    let tile = polished("vinyl_composition_tile", 6, "worn");
    known(known(tile, json!({"built_year": 1975})), more)
}

fn laid_on(day: &str, material: &str) -> Value {
    known(bare(material), json!({"laid_on": day}))
}

cases! {
    case_01_vinegar_on_marble {
        bare("marble"), wish("restore", RINSE, &json!({"neutralise": "acid"})) => "refused" {rule: "acid-refused", offers: "damp_mop"};
        bare("marble"), named(RINSE) => "allowed";
    }

    case_03_strong_acid_on_concrete {
        bare("concrete_bare"), with_product(RINSE, "neutraliser", "descaler_acid") => "refused" {rule: "strong-acid-refused"};
        bare("limestone"), with_product("wet_mop", "neutral_cleaner", "descaler_acid") => "refused" {rule: "solution-too-acid"};
    }

    case_04_strong_stripper_on_linoleum {
        polished("linoleum", 4, "worn"), named(STRIP) => "refused" {rule: "alkali-on-linoleum", offers: "mild_strip_and_refinish"};
        polished("linoleum", 4, "worn"), json!({"goal": "restore"}) => "allowed";
    }

    case_06_polish_on_safety_vinyl {
        bare("safety_vinyl"), named("polish") => "refused" {rule: "polish-where-film-forbidden", offers: "damp_mop"};
    }

    case_07_polish_on_laminate {
        bare("laminate"), named("polish") => "refused" {rule: "polish-where-film-forbidden", offers: "damp_mop"};
    }

    case_08_water_and_machines_on_laminate {
        bare("laminate"), named("wet_mop") => "refused" {rule: "too-wet-for-floor", offers: "damp_mop"};
        bare("laminate"), named("scrubber_dryer") => "refused" {rule: "too-wet-for-floor", offers: "damp_mop"};
    }

    case_09_a_wet_mop_on_bare_or_waxed_wood {
        bare("hardwood"), named("wet_mop") => "refused" {rule: "wood-without-film-wetted", offers: "dust_mop"};
        bare("hardwood"), named("damp_mop") => "refused" {rule: "wood-without-film-wetted", offers: "dust_mop"};
        floor("hardwood", &json!({"kind": "wax_or_oil"})), named("wet_mop") => "refused" {rule: "too-wet-for-floor"};
    }

    case_11_a_black_pad_on_a_factory_finish_rubber_and_marble {
        polished("vinyl_sheet_factory_finished", 3, "worn"), named(STRIP) => "refused" {rule: "pad-too-hard"};
        polished("rubber", 3, "worn"), named(STRIP) => "refused" {rule: "pad-too-hard", offers: "mild_strip_and_refinish"};
        polished("marble", 3, "worn"), named(STRIP) => "refused" {rule: "pad-too-hard"};
    }

    case_12_a_fast_pad_on_rubber_luxury_vinyl_and_safety_vinyl {
        polished("rubber", 5, "sound"), named("burnish_polish") => "refused" {rule: "burnish-on-soft-floor"};
        polished("luxury_vinyl_glued", 5, "sound"), named("burnish_polish") => "refused" {rule: "burnish-on-soft-floor"};
        polished("safety_vinyl", 5, "sound"), named("burnish_polish") => "refused" {rule: "burnish-on-soft-floor"};
        polished("vinyl_composition_tile", 5, "sound"), named("burnish_polish") => "allowed";
    }

    case_13_a_black_pad_on_tile_of_1975 {
        of_1975(json!({})), named(STRIP) => "needs_information" {rule: "asbestos-untested", asks: "survey.asbestos"};
        of_1975(json!({"asbestos": "confirmed"})), named(STRIP) => "refused" {rule: "asbestos-confirmed", offers: "damp_mop"};
    }

    case_15_dry_abrasion_on_untested_tile_of_1975 {
        of_1975(json!({"film": {"condition": "sound"}})), named("spray_buff") => "needs_information" {rule: "asbestos-untested", asks: "survey.asbestos"};
        of_1975(json!({"film": {"condition": "sound"}})), named("burnish_polish") => "needs_information" {rule: "asbestos-untested", asks: "survey.asbestos"};
        of_1975(json!({"film": {"condition": "sound"}})), named("damp_mop") => "allowed";
    }

    case_18_a_solvent_cleaner_on_asphalt_tile {
        bare("asphalt_tile"), with_product("damp_mop", "neutral_cleaner", "cleaner_solvent") => "refused" {rule: "solvent-softens-floor"};
    }

    case_19_a_solvent_on_rubber {
        bare("rubber"), with_product("damp_mop", "neutral_cleaner", "cleaner_solvent") => "refused" {rule: "solvent-softens-floor"};
        bare("rubber"), with_product("seal", "seal", "seal_solvent_wood") => "refused" {rule: "solvent-softens-floor"};
    }

    case_21_a_seal_over_moisture {
        known(bare("concrete_bare"), json!({"moisture_rh_pct": 75.1})), named("seal") => "refused" {rule: "moisture-too-high"};
        known(bare("concrete_bare"), json!({"moisture_rh_pct": 75})), named("seal") => "allowed";
        known(bare("hardwood"), json!({"moisture_rh_pct": 76})), named("seal_wood") => "refused" {rule: "moisture-too-high"};
    }

    case_22_polish_on_a_floor_of_8_degrees {
        bare("vinyl_sheet"), named("polish"), air(8.0, 30.0) => "refused" {rule: "too-cold-for-film"};
    }

    case_23_a_coat_within_3_kelvin_of_the_dew_point {
        bare("vinyl_sheet"), named("polish"), air(14.9, 60.0) => "refused" {rule: "too-near-dew-point"};
        bare("vinyl_sheet"), named("polish"), air(15.1, 60.0) => "allowed";
    }

    case_24_a_coat_at_90_percent_humidity {
        bare("vinyl_sheet"), named("polish"), air(25.0, 90.0) => "refused" {rule: "too-humid-for-film"};
    }

    case_25_polish_20_minutes_after_the_rinse {
        bare("vinyl_sheet"), with_waits(&json!({"rinse_to_coat_min": 20})) => "refused" {rule: "wait-below-least"};
    }

    case_27_water_on_tile_of_yesterday {
        laid_on("2026-05-31", "vinyl_composition_tile"), named("damp_mop") => "refused" {rule: "new-floor-wet", offers: "dust_mop"};
    }

    case_28_a_machine_scrub_in_the_first_week {
        laid_on("2026-05-28", "vinyl_composition_tile"), named("new_floor_preparation") => "allowed_with_warnings" {rule: "new-floor-scrub"};
    }

    case_29_a_recoat_beyond_12_coats {
        polished("vinyl_composition_tile", 13, "soiled"), named(RECOAT) => "refused" {rule: "build-up-refused", offers: "machine_strip_and_refinish"};
    }

    case_30_a_recoat_over_yellow_film {
        polished("vinyl_composition_tile", 4, "yellowed"), named(RECOAT) => "refused" {rule: "coat-over-bad-film", offers: "machine_strip_and_refinish"};
    }

    case_31_a_strip_of_two_sound_coats {
        polished("vinyl_composition_tile", 2, "sound"), named(STRIP) => "allowed_with_warnings" {rule: "strip-of-sound-film"};
    }

    case_39_water_within_a_day_of_the_last_coat {
        bare("vinyl_sheet"), with_waits(&json!({"to_wet_clean_min": 1439})) => "refused" {rule: "wet-clean-too-early"};
        bare("vinyl_sheet"), with_waits(&json!({"to_wet_clean_min": 1440})) => "allowed_with_warnings" {rule: "wet-clean-early"};
        bare("vinyl_sheet"), with_waits(&json!({"to_wet_clean_min": 4320})) => "allowed";
    }

    case_40_furniture_back_too_early {
        bare("vinyl_sheet"), with_waits(&json!({"to_furniture_min": 600})) => "refused" {rule: "furniture-too-early"};
        bare("vinyl_sheet"), with_waits(&json!({"to_furniture_min": 2000})) => "allowed_with_warnings" {rule: "furniture-early"};
        bare("vinyl_sheet"), with_waits(&json!({"to_furniture_min": 4320})) => "allowed";
    }

    case_41_a_window_shorter_than_a_coat_and_its_drying {
        bare("vinyl_sheet"), wish("protect", "polish", &json!({"window_min": 60})) => "refused" {rule: "window-too-short"};
    }

    case_52_polish_on_calcareous_stone {
        bare("marble"), wish("protect", "polish", &json!({})) => "refused" {rule: "polish-where-film-forbidden", offers: "impregnate_stone"};
        bare("limestone"), wish("protect", "polish", &json!({})) => "refused" {rule: "polish-where-film-forbidden", offers: "impregnate_stone"};
    }

    case_65_a_floor_that_nobody_has_identified {
        bare("unknown_hard"), json!({"goal": "restore"}) => "needs_information" {rule: "floor-not-identified", asks: "material.key"};
        bare("unknown_hard"), named("damp_mop") => "allowed";
    }

    case_66_a_new_screed_of_unknown_moisture {
        known(laid_on("2026-05-02", "concrete_bare"), json!({"moisture_rh_pct": null})), named("seal") => "needs_information" {rule: "moisture-unknown", asks: "survey.moisture_rh_pct"};
    }

    case_75_a_scrubber_dryer_on_cork {
        floor("cork", &json!({"kind": "seal", "condition": "sound"})), named("scrubber_dryer") => "refused" {rule: "too-wet-for-floor", offers: "damp_mop"};
    }

    case_76_wood_coated_in_humid_air {
        bare("hardwood"), named("seal_wood"), air(19.0, 75.0) => "refused" {rule: "wood-air-too-humid"};
    }

    case_77_a_damp_mop_on_sound_polished_tile {
        polished("vinyl_composition_tile", 4, "sound"), named("damp_mop") => "allowed";
    }

    case_78_a_mild_acid_on_granite {
        bare("granite"), with_product("wet_mop", "neutral_cleaner", "cleaner_mildly_acid") => "allowed";
        bare("marble"), with_product("wet_mop", "neutral_cleaner", "cleaner_mildly_acid") => "refused" {rule: "solution-too-acid"};
    }

    case_79_an_alkaline_brush_clean_of_safety_vinyl {
        bare("safety_vinyl"), named(DEEP_CLEAN) => "allowed";
        bare("safety_vinyl"), json!({"goal": "clean"}) => "allowed";
    }

    case_80_a_neutral_cleaner_and_a_soft_pad_on_terrazzo {
        bare("terrazzo_cement"), named("wet_mop") => "allowed";
        bare("terrazzo_cement"), named("scrubber_dryer") => "allowed";
    }
}

#[tokio::test]
async fn case_26_no_polish_goes_onto_a_floor_of_ph_10() {
    let made = plan(&bare("vinyl_sheet"), &named("polish"), None).await;
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
            of_1975(json!({"asbestos": "confirmed"})),
            named(STRIP),
            "licensed asbestos contractor",
        ),
        (
            known(bare("marble"), json!({"gloss_loss_pct": 60})),
            json!({"goal": "restore"}),
            "stone restoration contractor",
        ),
        (
            floor("hardwood", &json!({"kind": "seal", "condition": "peeling"})),
            json!({"goal": "restore"}),
            "wood-floor sanding contractor",
        ),
    ] {
        let made = plan(&floor, &wish, None).await;
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
    let request = json!({"surface_id": surface, "wish": wish("protect", "seal_wood", &json!({"products": products}))});
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

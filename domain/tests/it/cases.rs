//! The verdicts that a floor-care lead expects: numbered requests that must be refused, warned of, asked about, allowed.

use chrono::Days;
use domain::{
    plan::{Plan, Verdict},
    quantity::{Area, Length},
    survey::{
        Asbestos, Climate, Film, FilmCondition, FilmKind, Goal, Limits, Obstruction, Soil, Survey,
        Traffic, Wish,
    },
};

use crate::common::{base, climate, keys, now};
use crate::floors::{card, named, plan_in};

pub(crate) fn floor(
    material: &str,
    kind: FilmKind,
    coats: i64,
    condition: FilmCondition,
) -> Survey {
    Survey {
        perimeter: Some(Length::from_mm(40_000)),
        built_year: Some(2012),
        traffic: Some(Traffic::Medium),
        obstruction: Some(Obstruction::Light),
        soil: Some(Soil::Normal),
        occupied: false,
        film: Film {
            kind: Some(kind),
            coats: Some(coats),
            condition: Some(condition),
        },
        ..Survey::new(material, Area::from_mm2(100_000_000))
    }
}

pub(crate) fn bare(material: &str) -> Survey {
    floor(material, FilmKind::Bare, 0, FilmCondition::Sound)
}

pub(crate) fn polished(material: &str, coats: i64, condition: FilmCondition) -> Survey {
    floor(material, FilmKind::Polish, coats, condition)
}

pub(crate) fn laid(survey: Survey, days_ago: u64) -> Survey {
    Survey {
        laid_on: now().date_naive().checked_sub_days(Days::new(days_ago)),
        ..survey
    }
}

pub(crate) fn ask(survey: &Survey, process: &str) -> Plan {
    let wish = named(process, Goal::Restore, Limits::default());
    plan_in(base(), survey, &wish, &climate(), &card("GBP"))
}

/// A polish in air of 20 °C.
fn polish_in(floor_c: f64, humidity_pct: f64) -> Plan {
    let air = Climate {
        floor_c,
        humidity_pct,
        ..climate()
    };
    let wish = named("polish", Goal::Restore, Limits::default());
    plan_in(base(), &bare("vinyl_sheet"), &wish, &air, &card("GBP"))
}

pub(crate) fn ask_for(survey: &Survey, goal: Goal) -> Plan {
    plan_in(base(), survey, &Wish::to(goal), &climate(), &card("GBP"))
}

pub(crate) fn check(plan: &Plan, verdict: Verdict, rule: &str) {
    assert_eq!(plan.verdict, verdict, "{:?}", plan.findings);
    let fired = plan.findings.iter().any(|finding| finding.rule == rule);
    assert!(fired, "{rule} is not among {:?}", plan.findings);
    let works = matches!(verdict, Verdict::Allowed | Verdict::AllowedWithWarnings);
    assert_eq!(plan.work.is_some(), works);
}

pub(crate) fn asks(plan: &Plan, fact: &str) {
    assert_eq!(plan.verdict, Verdict::NeedsInformation);
    assert!(plan.questions.iter().any(|question| question.fact == fact));
}

fn offers(plan: &Plan, process: &str) {
    assert!(keys(&plan.instead).contains(&process), "{:?}", plan.instead);
}

pub(crate) const STRIP: &str = "machine_strip_and_refinish";
const RECOAT: &str = "scrub_and_recoat";

#[test]
fn case_06_polish_on_safety_vinyl_is_refused() {
    let plan = ask(&bare("safety_vinyl"), "polish");
    check(&plan, Verdict::Refused, "polish-where-film-forbidden");
    offers(&plan, "damp_mop");
}

#[test]
fn case_11_a_black_pad_on_a_factory_finish_is_refused() {
    let floor = polished("vinyl_sheet_factory_finished", 3, FilmCondition::Worn);
    check(&ask(&floor, STRIP), Verdict::Refused, "pad-too-hard");
}

#[test]
fn case_12_a_safety_floor_is_not_buffed_and_its_polish_not_kept() {
    let floor = polished("safety_vinyl", 3, FilmCondition::Sound);
    check(
        &ask_for(&floor, Goal::Protect),
        Verdict::Refused,
        "nothing-suits",
    );
    check(
        &ask(&floor, "spray_buff"),
        Verdict::Refused,
        "textured-floor-buffed",
    );
}

#[test]
fn case_13_stripping_tile_with_asbestos_is_refused_and_handed_over() {
    let floor = Survey {
        asbestos: Asbestos::Confirmed,
        built_year: Some(1975),
        ..polished("vinyl_composition_tile", 6, FilmCondition::Worn)
    };
    let plan = ask(&floor, STRIP);
    check(&plan, Verdict::Refused, "asbestos-confirmed");
    let referral = plan.referral.as_ref().expect("a trade");
    assert_eq!(referral.trade, "licensed asbestos contractor");
    offers(&plan, "damp_mop");
}

#[test]
fn case_15_tile_of_1975_is_tested_before_a_pad_rubs_it() {
    let floor = Survey {
        built_year: Some(1975),
        ..polished("vinyl_composition_tile", 6, FilmCondition::Sound)
    };
    for process in ["spray_buff", RECOAT, STRIP, "scrubber_dryer"] {
        let plan = ask(&floor, process);
        check(&plan, Verdict::NeedsInformation, "asbestos-untested");
        asks(&plan, "survey.asbestos");
        // Nothing is swept dry where asbestos is presumed; what a damp mop begins with is no dust mop either.
        assert_eq!(keys(&plan.meanwhile), ["damp_mop"]);
    }
    let work = ask(&floor, "damp_mop").work.expect("work");
    assert_eq!(work.steps[0].key, "dust_damp");
    assert!(work.labour.iter().all(|line| line.activity != "dust_mop"));
}

#[test]
fn case_15_a_floor_laid_last_year_in_an_old_building_is_no_tile_of_1975() {
    let floor = Survey {
        built_year: Some(1975),
        ..polished("vinyl_composition_tile", 6, FilmCondition::Sound)
    };
    assert_eq!(
        ask(&laid(floor, 400), "spray_buff").verdict,
        Verdict::Allowed
    );
}

#[test]
fn case_16_polish_on_a_static_control_floor_is_refused() {
    let floor = Survey {
        static_control: true,
        ..bare("vinyl_sheet")
    };
    check(
        &ask(&floor, "polish"),
        Verdict::Refused,
        "static-control-polish",
    );
}

#[test]
fn case_21_a_seal_on_a_moist_slab_is_refused() {
    let floor = |moisture| Survey {
        moisture_rh_pct: Some(moisture),
        ..bare("concrete_bare")
    };
    check(
        &ask(&floor(75.1), "seal"),
        Verdict::Refused,
        "moisture-too-high",
    );
    assert_eq!(ask(&floor(75.0), "seal").verdict, Verdict::Allowed);
}

#[test]
fn case_22_polish_on_a_floor_of_8_degrees_is_refused() {
    check(&polish_in(8.0, 30.0), Verdict::Refused, "too-cold-for-film");
}

#[test]
fn case_23_a_coat_less_than_3_kelvin_above_the_dew_point_is_refused() {
    // At 20 °C and 60 % the dew point is 12.0 °C, so the floor must have 15.0 °C.
    check(
        &polish_in(14.9, 60.0),
        Verdict::Refused,
        "too-near-dew-point",
    );
    assert_eq!(polish_in(15.1, 60.0).verdict, Verdict::Allowed);
}

#[test]
fn case_24_a_coat_at_90_percent_humidity_is_refused() {
    check(
        &polish_in(25.0, 90.0),
        Verdict::Refused,
        "too-humid-for-film",
    );
}

#[test]
fn case_27_composition_tile_stays_dry_on_its_first_day() {
    let plan = ask(&laid(bare("vinyl_composition_tile"), 1), "damp_mop");
    check(&plan, Verdict::Refused, "new-floor-wet");
    assert_eq!(keys(&plan.instead), ["dust_mop"]);
}

#[test]
fn case_28_a_machine_scrub_on_the_third_day_is_warned_of() {
    let plan = ask(
        &laid(bare("vinyl_composition_tile"), 4),
        "new_floor_preparation",
    );
    check(&plan, Verdict::AllowedWithWarnings, "new-floor-scrub");
}

#[test]
fn case_29_a_recoat_beyond_12_coats_is_refused_for_a_strip() {
    let floor = polished("vinyl_composition_tile", 13, FilmCondition::Soiled);
    let plan = ask(&floor, RECOAT);
    check(&plan, Verdict::Refused, "build-up-refused");
    offers(&plan, STRIP);
    // However thick the film is, it may be mopped.
    assert_eq!(ask(&floor, "damp_mop").verdict, Verdict::Allowed);
}

#[test]
fn case_30_a_recoat_over_yellow_film_is_refused_for_a_strip() {
    let floor = polished("vinyl_composition_tile", 4, FilmCondition::Yellowed);
    let plan = ask(&floor, RECOAT);
    check(&plan, Verdict::Refused, "coat-over-bad-film");
    offers(&plan, STRIP);
    for goal in [Goal::Restore, Goal::Protect] {
        let plan = ask_for(&floor, goal);
        assert_eq!(
            (plan.verdict, plan.process.as_str()),
            (Verdict::Allowed, STRIP)
        );
    }
}

#[test]
fn case_31_stripping_two_sound_coats_is_warned_of() {
    let floor = polished("vinyl_composition_tile", 2, FilmCondition::Sound);
    check(
        &ask(&floor, STRIP),
        Verdict::AllowedWithWarnings,
        "strip-of-sound-film",
    );
}

#[test]
fn case_39_and_40_water_and_furniture_come_back_a_day_after_the_last_coat() {
    let work = ask(&bare("vinyl_sheet"), "polish").work.expect("work");
    let events = &work.time_line.events;
    let at = |key: &str| {
        let event = events.iter().find(|event| event.key == key);
        event
            .map(|event| (event.p50_min, event.used_min))
            .expect("an event")
    };
    let laid = events
        .iter()
        .rfind(|event| event.key == "work_done")
        .expect("coats");
    let after = |key: &str| (at(key).0 - laid.p50_min, at(key).1 - laid.used_min);
    assert_eq!(after("wet_clean"), (24 * 60, 72 * 60));
    assert_eq!(after("furniture"), (24 * 60, 48 * 60));
    assert_eq!(after("burnish"), (24 * 60, 48 * 60));
    assert_eq!(after("mats"), (72 * 60, 7 * 24 * 60));
}

#[test]
fn case_41_a_window_shorter_than_a_coat_and_its_drying_is_refused() {
    let wish = |minutes| {
        let limits = Limits {
            window_min: Some(minutes),
            ..Limits::default()
        };
        named("polish", Goal::Protect, limits)
    };
    let floor = bare("vinyl_sheet");
    let plan = |minutes| plan_in(base(), &floor, &wish(minutes), &climate(), &card("GBP"));
    check(&plan(60), Verdict::Refused, "window-too-short");
    let split = plan(480);
    check(&split, Verdict::AllowedWithWarnings, "window-split");
    let nights = split.work.map(|work| work.time_line.nights.len());
    assert!(nights > Some(1));
}

#[test]
fn case_42_the_only_way_out_is_not_closed_while_people_are_in() {
    let floor = Survey {
        sole_escape_route: true,
        occupied: true,
        ..bare("vinyl_sheet")
    };
    check(
        &ask(&floor, "polish"),
        Verdict::Refused,
        "sole-escape-route",
    );
}

#[test]
fn case_63_a_slippery_floor_is_reported() {
    let floor = Survey {
        ptv_wet: Some(24.0),
        ..bare("ceramic_tile")
    };
    check(
        &ask(&floor, "damp_mop"),
        Verdict::AllowedWithWarnings,
        "slip-hazard",
    );
    // Whoever wishes for grip gets the residue rinsed off and the grip read again.
    let plan = ask_for(&floor, Goal::MakeSafe);
    assert_eq!(plan.process, "rinse_and_neutralise");
    let last = plan.work.and_then(|work| work.steps.last().cloned());
    assert_eq!(
        last.and_then(|step| step.hold)
            .map(|hold| hold.key)
            .as_deref(),
        Some("ptv_wet")
    );
}

#[test]
fn case_65_an_unknown_floor_is_asked_about_and_only_dusted_and_damp_mopped() {
    let floor = bare("unknown_hard");
    for goal in [Goal::Restore, Goal::Protect] {
        let plan = ask_for(&floor, goal);
        check(&plan, Verdict::NeedsInformation, "floor-not-identified");
        asks(&plan, "material.key");
        assert_eq!(keys(&plan.meanwhile), ["damp_mop", "dust_mop"]);
    }
    for process in &base().processes {
        let plan = ask(&floor, &process.key);
        // A spill is taken up from any floor, and nothing is done to one that is left or handed over.
        let harmless = [
            "damp_mop",
            "dust_mop",
            "hand_floor_over",
            "leave_as_is",
            "take_up_spill",
        ];
        let harmless = harmless.contains(&process.key.as_str());
        assert_eq!(plan.work.is_some(), harmless, "{}", process.key);
    }
}

#[test]
fn case_68_a_heritage_floor_needs_consent() {
    let floor = Survey {
        heritage: true,
        ..polished("vinyl_sheet", 4, FilmCondition::Soiled)
    };
    check(
        &ask(&floor, RECOAT),
        Verdict::NeedsInformation,
        "heritage-consent",
    );
    assert_eq!(ask(&floor, "damp_mop").verdict, Verdict::Allowed);
}

#[test]
fn case_77_a_damp_mop_on_sound_polished_tile_is_allowed() {
    let floor = polished("vinyl_composition_tile", 4, FilmCondition::Sound);
    assert_eq!(ask(&floor, "damp_mop").verdict, Verdict::Allowed);
    let maintain = ask_for(&floor, Goal::Maintain);
    assert_eq!(
        (maintain.verdict, maintain.process.as_str()),
        (Verdict::Allowed, "damp_mop")
    );
}

#[test]
fn case_79_a_safety_floor_is_cleaned_with_an_alkaline_cleaner_and_a_brush() {
    let plan = ask(&bare("safety_vinyl"), "safety_floor_deep_clean");
    let work = plan.work.expect("work");
    assert!(work.products.iter().any(|line| line.class == "degreaser") && work.pads.is_empty());
    let process = ask_for(&bare("safety_vinyl"), Goal::Clean).process;
    assert_eq!(process, "safety_floor_deep_clean");
}

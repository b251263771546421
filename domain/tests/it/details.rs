//! Readings, cautions, coats and ranges that a floor-care lead looks for in a plan.

#![expect(clippy::expect_used, reason = "a plan without work fails the test")]

use domain::{
    plan::{Plan, Verdict},
    quantity::Length,
    survey::{Film, FilmCondition, FilmKind, Goal, Limits, Survey},
};

use crate::{
    cases::{STRIP, ask, ask_for, asks, bare, check, floor, laid, polished},
    common::{base, climate},
    floors::{card, film_for, named, plan_in},
};

#[test]
fn case_17_a_film_on_a_static_control_floor_is_handed_over_by_its_resistance() {
    let floor = Survey {
        static_control: true,
        ..polished("vinyl_sheet", 4, FilmCondition::Scuffed)
    };
    for process in ["spray_buff", "burnish_polish"] {
        assert_eq!(last_hold(&ask(&floor, process)), "resistance_to_ground");
    }
}

#[test]
fn case_64_a_film_where_it_gets_wet_is_handed_over_by_its_grip() {
    let floor = Survey {
        wet_in_use: true,
        ptv_wet: Some(40.0),
        moisture_rh_pct: Some(60.0),
        ..bare("vinyl_sheet")
    };
    assert_eq!(last_hold(&ask(&floor, "polish")), "ptv_wet");
    let slab = Survey {
        material: "concrete_bare".to_owned(),
        ..floor.clone()
    };
    assert_eq!(last_hold(&ask(&slab, "seal")), "ptv_wet");
    // With people in, wood gets a lacquer that asks for no change of air.
    let boards = Survey {
        material: "hardwood".to_owned(),
        occupied: true,
        ..floor
    };
    assert_eq!(last_hold(&ask(&boards, "seal_wood")), "ptv_wet");
}

fn last_hold(plan: &Plan) -> String {
    let work = plan.work.as_ref().expect("work");
    let last = work.steps.last().and_then(|step| step.hold.as_ref());
    last.map(|hold| hold.key.clone()).unwrap_or_default()
}

#[test]
fn no_step_names_a_harder_pad_than_the_floor_allows() {
    let glued = polished("luxury_vinyl_glued", 4, FilmCondition::Scuffed);
    let work = ask(&glued, "spray_buff").work.expect("work");
    assert!(work.steps.iter().all(|step| !step.action.contains("blue")));
    let work = ask(
        &polished("vinyl_sheet", 4, FilmCondition::Scuffed),
        "spray_buff",
    )
    .work;
    let steps = work.expect("work").steps;
    assert!(steps.iter().any(|step| step.action.contains("blue")));
    let rough = ask(&bare("safety_vinyl"), "scrubber_dryer")
        .work
        .expect("work");
    assert!(rough.pads.is_empty() && rough.steps.iter().all(|step| step.pad.is_none()));
}

#[test]
fn what_is_corrosive_as_supplied_is_said_to_be() {
    let shown = |plan: &Plan, key: &str| {
        let called = &plan.cautions;
        called.iter().any(|called| called.caution.key == key)
    };
    let tile = polished("vinyl_composition_tile", 4, FilmCondition::Worn);
    let strong = ask(&tile, STRIP);
    assert!(shown(&strong, "corrosive") && shown(&strong, "stripper"));
    let mild = ask(
        &polished("linoleum", 4, FilmCondition::Worn),
        "mild_strip_and_refinish",
    );
    assert!(!shown(&mild, "corrosive") && shown(&mild, "stripper"));
    let degreased = ask(&bare("quarry_tile"), "greasy_tile_deep_clean");
    assert!(shown(&degreased, "corrosive") && !shown(&degreased, "stripper"));
}

#[test]
fn a_film_where_none_belongs_comes_off_by_brush_and_none_is_laid() {
    for goal in [Goal::Restore, Goal::MakeSafe] {
        let plan = ask_for(&polished("safety_vinyl", 3, FilmCondition::Sound), goal);
        assert_eq!(plan.process, "strip_to_bare");
        let work = plan.work.expect("work");
        assert!(work.pads.is_empty() && work.steps.iter().all(|step| step.coat.is_none()));
        let last = work.steps.last().and_then(|step| step.hold.as_ref());
        assert_eq!(last.map(|hold| hold.key.as_str()), Some("ptv_wet"));
    }
}

#[test]
fn a_thick_film_takes_stripper_twice_and_half_of_the_rate() {
    let work = |coats| {
        let tile = polished("vinyl_composition_tile", coats, FilmCondition::Worn);
        ask(&tile, STRIP).work.expect("work")
    };
    let (thin, thick) = (work(8), work(9));
    let labour = |work: &domain::plan::Work| {
        let line = work
            .labour
            .iter()
            .find(|line| line.activity == "strip_machine");
        line.map(|line| line.time.us()).expect("a line")
    };
    let stripper = |work: &domain::plan::Work| {
        let line = work.products.iter().find(|line| line.class == "stripper");
        line.map(|line| line.working.ul()).expect("a line")
    };
    assert_eq!(labour(&thick), 2 * labour(&thin));
    assert_eq!(stripper(&thick), 2 * stripper(&thin));
    let dries = |work: &domain::plan::Work| {
        let mut dwells = work.steps.iter().filter_map(|step| step.dwell.as_ref());
        dwells.next().map(|dwell| dwell.dries_after_min)
    };
    assert_eq!(dries(&thick), dries(&thin));
    // Coats that nobody has counted widen the range.
    let tile = Survey {
        film: Film {
            coats: None,
            ..polished("vinyl_composition_tile", 0, FilmCondition::Worn).film
        },
        ..polished("vinyl_composition_tile", 0, FilmCondition::Worn)
    };
    let open = ask(&tile, STRIP);
    assert!(open.open_questions.iter().any(|q| q.fact == "film.coats"));
    let range = |work: &domain::plan::Work| {
        let line = work
            .labour
            .iter()
            .find(|line| line.activity == "strip_machine");
        line.map(|line| line.per_h_range).expect("a line")
    };
    let (known, unknown) = (range(&thin), range(&open.work.expect("work")));
    assert!((unknown[0] - known[0] / 2.0).abs() < 1e-9 && (unknown[1] - known[1]).abs() < 1e-9);
}

#[test]
fn edges_that_nobody_has_measured_widen_the_range() {
    let floor = |perimeter| Survey {
        perimeter,
        ..polished("vinyl_composition_tile", 4, FilmCondition::Worn)
    };
    // A rectangle twice as long as wide of 100 m² has 42.426 m of edge.
    let told = ask(&floor(Some(Length::from_mm(42_426))), STRIP);
    let assumed = ask(&floor(None), STRIP);
    let range = |plan: &Plan| {
        let lines = &plan.work.as_ref().expect("work").labour;
        let line = lines.iter().find(|line| line.activity == "edge_strip");
        line.map(|line| line.per_h_range).expect("a line")
    };
    let ([low, high], [lower, higher]) = (range(&told), range(&assumed));
    assert!((low / lower - 2.7).abs() < 1e-9 && (high / higher - 0.94).abs() < 1e-9);
    assert!(
        assumed
            .open_questions
            .iter()
            .any(|q| q.fact == "survey.perimeter_m")
    );
}

#[test]
fn coats_cross_each_other_whatever_they_are_and_run_along_the_boards_of_wood() {
    use domain::plan::Direction::{Across, Along};
    let directions = |plan: &Plan| -> Vec<_> {
        let steps = &plan.work.as_ref().expect("work").steps;
        steps
            .iter()
            .filter_map(|step| step.coat)
            .map(|coat| coat.direction)
            .collect()
    };
    let boards = Survey {
        occupied: true,
        ..bare("hardwood")
    };
    let limits = Limits {
        seal_coats: Some(1),
        polish_coats: Some(2),
        ..Limits::default()
    };
    let wish = named("polish", Goal::Protect, limits);
    let plan = plan_in(
        base(),
        &bare("vinyl_sheet"),
        &wish,
        &climate(),
        &card("GBP"),
    );
    assert_eq!(directions(&plan), [Along, Across, Along]);
    assert_eq!(directions(&ask(&boards, "seal_wood")), [Along, Along]);
}

#[test]
fn a_polish_over_an_old_seal_meets_no_pores() {
    let polish = |floor: &Survey| {
        let limits = Limits {
            polish_coats: Some(1),
            ..Limits::default()
        };
        let wish = named("polish", Goal::Protect, limits);
        let work = plan_in(base(), floor, &wish, &climate(), &card("GBP"))
            .work
            .expect("work");
        work.products
            .iter()
            .find(|line| line.class == "polish")
            .map(|line| line.need.ul())
    };
    let floor = |kind, condition| floor("vinyl_composition_tile", kind, 0, condition);
    // 100 m² at 45 m²/L on the seal, at 35 on the tile.
    assert_eq!(
        polish(&floor(FilmKind::Seal, FilmCondition::Sound)),
        Some(2_222_222)
    );
    assert_eq!(
        polish(&floor(FilmKind::Bare, FilmCondition::Sound)),
        Some(2_857_143)
    );
}

#[test]
fn an_impregnator_stays_in_the_stone_and_is_no_slurry() {
    let floor = Survey {
        moisture_rh_pct: Some(60.0),
        ..bare("terrazzo_cement")
    };
    let work = ask(&floor, "impregnate_stone").work.expect("work");
    // 100 m² of scrub solution at 250 mL and of rinse water at 400 mL, nine tenths of it.
    assert_eq!(work.water.slurry.ul(), 58_500_000);
}

#[test]
fn a_day_ends_by_the_clock_of_the_site() {
    use chrono::{TimeZone, Utc};
    use chrono_tz::{America::Los_Angeles, Tz};
    let laid = chrono::NaiveDate::from_ymd_opt(2026, 11, 25).expect("a day");
    let floor = Survey {
        laid_on: Some(laid),
        ..bare("vinyl_sheet")
    };
    // 47 h after midnight in Los Angeles, 55 h after midnight in Greenwich.
    let now = Utc
        .with_ymd_and_hms(2026, 11, 28, 7, 0, 0)
        .single()
        .expect("a moment");
    let verdict = |zone: Tz| {
        let wish = named("damp_mop", Goal::Clean, Limits::default());
        let (climate, card) = (climate(), card("USD"));
        let input = domain::plan::PlanInput {
            survey: &floor,
            wish: &wish,
            climate: &climate,
            card: &card,
            country: "US",
            base: base(),
            own_products: &[],
            stock: domain::stock::Stock::NONE,
            climate_assumed: false,
            now,
            zone,
        };
        domain::plan::draft_plan(&input).expect("an answer").verdict
    };
    assert_eq!(verdict(Los_Angeles), Verdict::Refused);
    assert_eq!(verdict(Tz::UTC), Verdict::Allowed);
}

#[test]
fn case_66_the_moisture_of_a_new_slab_is_asked_for() {
    // One whose age nobody knows may be new.
    for slab in [laid(bare("concrete_bare"), 30), bare("concrete_bare")] {
        let plan = ask(&slab, "seal");
        check(&plan, Verdict::NeedsInformation, "moisture-unknown");
        asks(&plan, "survey.moisture_rh_pct");
    }
    // An old slab is tested by a sheet before the first coat.
    let plan = ask(&laid(bare("concrete_bare"), 400), "seal");
    check(&plan, Verdict::AllowedWithWarnings, "moisture-not-measured");
    let first = plan.work.and_then(|work| work.steps.into_iter().next());
    let hold = first.and_then(|step| step.hold);
    assert_eq!(hold.map(|hold| hold.key).as_deref(), Some("slab_moisture"));
}

#[test]
fn stone_dries_between_nights_and_a_bay_is_set_up_like_a_floor() {
    let in_window = |floor: &Survey, process: &str, minutes| {
        let limits = Limits {
            window_min: Some(minutes),
            ..Limits::default()
        };
        let wish = named(process, Goal::Protect, limits);
        plan_in(base(), floor, &wish, &climate(), &card("GBP"))
    };
    let stone = Survey {
        moisture_rh_pct: Some(60.0),
        ..bare("terrazzo_cement")
    };
    let plan = in_window(&stone, "impregnate_stone", 480);
    check(&plan, Verdict::AllowedWithWarnings, "window-split");
    let nights = plan.work.expect("work").time_line.nights;
    assert!(nights.len() >= 2 && nights.iter().all(|night| night.open_after_min <= 480));
    assert!(nights[0].leaves.contains("open to people"));
    // Two hours of setting up and cleaning down are an hour and six minutes for two: no bay fits into less.
    let hall = Survey {
        area: domain::quantity::Area::from_mm2(2_000_000_000),
        ..polished("vinyl_composition_tile", 4, FilmCondition::Scuffed)
    };
    check(
        &in_window(&hall, "spray_buff", 15),
        Verdict::Refused,
        "window-too-short",
    );
    let split = in_window(&hall, "spray_buff", 120)
        .work
        .expect("work")
        .time_line;
    let worked: i64 = split.nights.iter().map(|night| night.work_min).sum();
    let n_nights = i64::try_from(split.nights.len()).expect("few");
    // Every night but the first is set up once more, 33 minutes for two; each is shown in whole minutes.
    let whole = split.crew_time.minutes();
    let again = 33.0 * (f64::from(i32::try_from(n_nights).expect("few")) - 1.0);
    let shown = f64::from(i32::try_from(worked).expect("few"));
    assert!(
        (shown - whole - again).abs() <= 34.0,
        "{shown} {whole} {again}"
    );
}

#[test]
fn a_ramp_raises_the_grip_that_a_floor_is_handed_over_by() {
    // Source: Concrete Society note citing CIRIA C652 (2006) and HSE, as quoted: 36 on the level, 41 at 1:20, 44.3 at 1:12.
    let least = |gradient_pct: Option<f64>| {
        let mut ramp = bare("safety_vinyl");
        ramp.surroundings.ramp_gradient_pct = gradient_pct;
        let mut wish = named("safety_floor_deep_clean", Goal::Restore, Limits::default());
        wish.arrangements.machine_gradient_tenths = Some(100);
        let plan = plan_in(base(), &ramp, &wish, &climate(), &card("GBP"));
        let work = plan.work.expect("work");
        let last = work.steps.last().and_then(|step| step.hold.clone());
        let hold = last.expect("a hold point");
        assert_eq!(hold.key, "ptv_wet");
        hold.least.expect("a lowest value")
    };
    for (gradient_pct, printed) in [
        (None, 36.0),
        (Some(0.0), 36.0),
        (Some(5.0), 41.0),
        (Some(8.333), 44.3),
    ] {
        let least = least(gradient_pct);
        assert!(
            (least - printed).abs() < 0.05,
            "{gradient_pct:?} % has {least}"
        );
    }
}

#[test]
fn what_is_read_for_a_coat_is_read_before_it_is_laid() {
    // Source: US DoD, UFC 3-190-06 section 9.6.6: surface and dew point are read before and while a coating is laid.
    let mut n_read = 0;
    for process in &base().processes {
        let film = film_for(&process.key);
        for material in ["vinyl_composition_tile", "hardwood", "concrete_bare"] {
            let floor = Survey {
                film,
                ..bare(material)
            };
            let Some(work) = ask(&floor, &process.key).work else {
                continue;
            };
            let mut first = work.steps.iter().filter(|step| step.coat.is_some());
            if let Some(step) = first.next() {
                let hold = step.hold.as_ref().expect("a reading before the first coat");
                assert!(hold.before, "{}: {}", process.key, hold.key);
                n_read += 1;
            }
        }
    }
    assert!(n_read >= 8, "hardly any coat was laid: {n_read}");
}

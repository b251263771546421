//! Whether work fits the access window, what would make it fit, and what filling takes.

#![expect(clippy::expect_used, reason = "a test that cannot be set up must stop")]

use std::collections::BTreeSet;

use chrono_tz::Tz;
use domain::{
    card::RateCard,
    plan::{Plan, PlanInput, TimeLine, Verdict, Way, WayKind, WindowFit, draft_plan, lead_on},
    stock::Stock,
    survey::{Film, FilmCondition, FilmKind, Goal, Limits, Skill, Survey, Wish},
};
use proptest::prelude::*;

use crate::{
    common::{base, climate, corridor, now},
    floors::{any_floor, any_process, card, cases, film_for, named, plan_in},
};

/// A plan that also says whether it fits.
fn plan(survey: &Survey, wish: &Wish) -> Plan {
    let (air, card) = (climate(), card("GBP"));
    let input = PlanInput {
        survey,
        wish,
        climate: &air,
        card: &card,
        country: "GB",
        base: base(),
        own_products: &[],
        stock: Stock::NONE,
        climate_assumed: false,
        now: now(),
        zone: Tz::UTC,
    };
    let made = draft_plan(&input).expect("an answer");
    lead_on(&input, made).expect("an answer")
}

fn in_window(window_min: i64) -> Limits {
    Limits {
        window_min: Some(window_min),
        ..Limits::default()
    }
}

fn of_kind(fit: &WindowFit, kind: WayKind) -> Vec<&Way> {
    fit.ways.iter().filter(|way| way.kind == kind).collect()
}

#[test]
fn work_that_fits_its_window_says_so_and_looks_for_nothing_else() {
    let wish = named(
        "machine_strip_and_refinish",
        Goal::Restore,
        in_window(10_080),
    );
    let fit = plan(&corridor(), &wish).window.expect("told");
    assert!(fit.fits && fit.ways.is_empty());
    assert_eq!(fit.n_nights, Some(1));
    let without = named(
        "machine_strip_and_refinish",
        Goal::Restore,
        Limits::default(),
    );
    assert_eq!(plan(&corridor(), &without).window, None);
}

#[test]
fn work_that_is_spread_over_nights_tells_what_would_fit_and_what_it_costs() {
    let wish = named("machine_strip_and_refinish", Goal::Restore, in_window(480));
    let made = plan(&corridor(), &wish);
    let fit = made.window.as_ref().expect("told");
    let work = made.work.as_ref().expect("work");
    assert!(!fit.fits && fit.elapsed_min > 480);
    assert_eq!(
        fit.n_nights,
        i64::try_from(work.time_line.nights.len()).ok()
    );
    let crews = of_kind(fit, WayKind::LargerCrew);
    assert!(!crews.is_empty());
    assert!(
        crews
            .windows(2)
            .all(|pair| pair[0].elapsed_min >= pair[1].elapsed_min)
    );
    assert!(crews.iter().all(|way| way.fits == (way.elapsed_min <= 480)));
    // The window that holds it in one go is as long as the work, and changes nothing else.
    let longer = of_kind(fit, WayKind::LongerWindow);
    let last = longer.last().expect("a window");
    assert_eq!((last.window_min, last.n_nights), (fit.elapsed_min, Some(1)));
    assert!(last.fits && last.net_change.amount == 0);
    // Every window after the first is set up once more: half an hour each way at 16.50, with all that is put on it.
    let nights = of_kind(fit, WayKind::MoreNights);
    assert_eq!(nights.len(), 1);
    assert!(nights[0].fits && nights[0].net_change.amount > 0);
}

#[test]
fn every_window_is_set_up_and_cleaned_down() {
    let mut card = card("GBP");
    let spread = |card: &RateCard| {
        let wish = named("machine_strip_and_refinish", Goal::Restore, in_window(480));
        let made = plan_in(base(), &corridor(), &wish, &climate(), card);
        made.work.expect("work").time_line
    };
    (card.setup_min, card.clean_down_min) = (0, 0);
    let bare = spread(&card);
    (card.setup_min, card.clean_down_min) = (30, 30);
    let set_up = spread(&card);
    // Source: by hand; an hour with the card's allowance, shared by the crew, in each window and in the longest part.
    let share = 60.0 * (1.0 + card.allowance.pct() / 100.0);
    let share = share / f64::from(i32::try_from(set_up.crew_size).expect("few"));
    let least: Vec<i64> = set_up.nights.iter().map(|night| night.work_min).collect();
    assert!(
        least
            .iter()
            .all(|work| f64::from(i32::try_from(*work).expect("few")) > share)
    );
    let minutes = |line: &TimeLine| line.nights.iter().map(|night| night.work_min).sum::<i64>();
    let more = f64::from(i32::try_from(minutes(&set_up) - minutes(&bare)).expect("few"));
    let nights = f64::from(i32::try_from(set_up.nights.len()).expect("few"));
    let joined = f64::from(i32::try_from(bare.nights.len()).expect("few"));
    assert!(
        nights > 1.0 && more >= (share - 1.0) * nights - joined,
        "{more} {nights} {share}"
    );
    let longest = set_up.longest_block_min - bare.longest_block_min;
    assert!((f64::from(i32::try_from(longest).expect("few")) - share).abs() <= 1.0);
}

#[test]
fn a_way_comes_true_when_it_is_wished() {
    let wish = named("machine_strip_and_refinish", Goal::Restore, in_window(480));
    let made = plan(&corridor(), &wish);
    let fit = made.window.clone().expect("told");
    let net = made.work.expect("work").cost.net.amount;
    for way in of_kind(&fit, WayKind::LargerCrew) {
        let limits = Limits {
            crew_size: Some(way.crew_size),
            ..in_window(480)
        };
        let then = plan(
            &corridor(),
            &named("machine_strip_and_refinish", Goal::Restore, limits),
        );
        let fit = then.window.expect("told");
        assert_eq!((fit.elapsed_min, fit.fits), (way.elapsed_min, way.fits));
        let then = then.work.expect("work").cost.net.amount;
        assert_eq!(then - net, way.net_change.amount);
    }
}

/// A hall that is scrubbed: the wider machine is faster, and takes fewer fillings.
fn hall() -> Survey {
    Survey {
        area: domain::quantity::Area::from_mm2(4_000_000_000),
        perimeter: None,
        film: Film {
            kind: Some(FilmKind::Polish),
            coats: Some(4),
            condition: Some(FilmCondition::Soiled),
        },
        ..corridor()
    }
}

#[test]
fn another_machine_is_told_where_it_is_faster() {
    let wish = named("scrubber_dryer", Goal::Clean, in_window(120));
    let made = plan(&hall(), &wish);
    let fit = made.window.expect("told");
    let machines = of_kind(&fit, WayKind::OtherMachine);
    let keys: BTreeSet<_> = machines
        .iter()
        .filter_map(|way| way.machine.as_deref())
        .collect();
    assert!(keys.contains("scrubber_dryer_ride_on"), "{keys:?}");
    assert!(machines.iter().all(|way| way.elapsed_min < fit.elapsed_min));
}

#[test]
fn a_part_that_is_longer_than_the_window_is_refused_with_the_window_that_it_needs() {
    let wish = named("machine_strip_and_refinish", Goal::Restore, in_window(60));
    let made = plan(&corridor(), &wish);
    assert_eq!(made.verdict, Verdict::Refused);
    let fit = made.window.expect("told");
    assert_eq!((fit.fits, fit.n_nights), (false, None));
    let longer = of_kind(&fit, WayKind::LongerWindow);
    assert_eq!(longer.len(), 2);
    assert!(longer.iter().all(|way| way.fits && way.n_nights.is_some()));
    // With the shortest of them the same wish is allowed.
    let then = named(
        "machine_strip_and_refinish",
        Goal::Restore,
        in_window(longer[0].window_min),
    );
    assert_ne!(plan(&corridor(), &then).verdict, Verdict::Refused);
}

/// The worked example of the trade for tanks: litres over the size of the tank, times the minutes of a filling (common
/// practice, no published source).
#[test]
fn a_tank_is_filled_as_often_as_what_is_laid_takes() {
    let wish = named("scrubber_dryer", Goal::Clean, Limits::default());
    let work = plan(&hall(), &wish).work.expect("work");
    let line = work
        .labour
        .iter()
        .find(|line| line.activity == "scrubber_dryer")
        .expect("a line");
    let machine = line
        .machine
        .as_ref()
        .and_then(|key| base().machine(key))
        .expect("a machine");
    let laid: f64 = work
        .steps
        .iter()
        .filter(|step| step.activity.as_deref() == Some("scrubber_dryer"))
        .map(|step| {
            let product = step.product.as_ref().and_then(|used| used.working);
            product.map_or(0.0, domain::quantity::Volume::l) + step.water.l()
        })
        .sum();
    let tank = machine.tank_l.map(domain::quantity::float).expect("a tank");
    let minutes = machine
        .fill_min
        .map(domain::quantity::float)
        .expect("minutes");
    assert!(laid > tank, "{laid} L");
    assert!((line.filling.minutes() - laid / tank * minutes).abs() < 1e-3);
    let told = work
        .basis
        .iter()
        .find(|row| row.id.starts_with("filling."))
        .expect("told");
    assert!((told.result - line.filling.hours()).abs() < 1e-9);
    // Rates that hold their filling have none of their own.
    let wish = named(
        "machine_strip_and_refinish",
        Goal::Restore,
        Limits::default(),
    );
    let strip = plan(&corridor(), &wish).work.expect("work");
    assert!(
        strip
            .labour
            .iter()
            .all(|line| line.filling == domain::quantity::Labour::ZERO)
    );
}

#[test]
fn trainees_take_a_third_longer_and_a_plan_says_why() {
    let of = |skill| {
        let limits = Limits {
            skill,
            ..Limits::default()
        };
        let wish = named("machine_strip_and_refinish", Goal::Restore, limits);
        plan(&corridor(), &wish).work.expect("work")
    };
    let (trainee, usual) = (of(Some(Skill::Trainee)), of(None));
    for (slow, usual) in trainee.labour.iter().zip(&usual.labour) {
        // 0.75 of the rate: common practice, no published source.
        assert!((slow.time.hours() * 0.75 - usual.time.hours()).abs() < 1e-6);
    }
    let told = trainee
        .basis
        .iter()
        .find(|row| row.id == "crew.skill")
        .expect("told");
    assert!((told.result - 0.75).abs() < 1e-12);
    assert!(usual.basis.iter().all(|row| !row.id.starts_with("crew.")));
}

#[test]
fn a_coated_floor_says_when_each_use_of_it_begins() {
    let wish = named(
        "machine_strip_and_refinish",
        Goal::Restore,
        Limits::default(),
    );
    let work = plan(&corridor(), &wish).work.expect("work");
    let at = |key: &str| {
        let event = work.time_line.events.iter().find(|event| event.key == key);
        event.map(|event| event.used_min).expect("an event")
    };
    // Walking, then furniture and wet cleaning, then burnishing, mats last: common practice, no published source.
    assert!(at("walk") < at("furniture"));
    assert!(at("furniture") <= at("wet_clean") && at("burnish") <= at("mats"));
    assert!(at("wet_clean") <= at("mats"));
}

proptest! {
    #![proptest_config(cases(48))]

    #[test]
    fn ways_are_few_and_never_say_what_they_do_not_hold(
        floor in any_floor(),
        process in any_process(),
        window_min in 30_i64..900,
    ) {
        let survey = Survey { film: film_for(&process), ..floor };
        let made = plan(&survey, &named(&process, Goal::Restore, in_window(window_min)));
        if let Some(fit) = made.window {
            prop_assert_eq!(fit.fits, fit.elapsed_min <= window_min);
            prop_assert!(fit.ways.len() <= 20);
            prop_assert_eq!(fit.fits, fit.n_nights == Some(1));
            for way in &fit.ways {
                let one = way.elapsed_min <= way.window_min;
                match way.kind {
                    WayKind::MoreNights | WayKind::LongerWindow => prop_assert!(way.fits && way.n_nights.is_some()),
                    _ => prop_assert_eq!(way.fits, one),
                }
                prop_assert!(way.kind != WayKind::LargerCrew || way.elapsed_min <= fit.elapsed_min);
            }
        }
    }
}

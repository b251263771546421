//! Worked plans whose figures were computed by hand before this code existed, to the cent and the minute.
//!
//! Inputs are common practice without a published source, so these check arithmetic and order of work, not the trade.

use crate::common::{corridor, golden_card, plan};
use domain::{
    plan::Verdict,
    quantity::{Area, Length, Volume},
    survey::{GivenWaits, Goal, Limits, Survey, Wish},
};

fn wish(gap_mm: i64, crew: Option<i64>) -> Wish {
    Wish {
        process: Some("machine_strip_and_refinish".to_owned()),
        limits: Limits {
            polish_coats: Some(4),
            edge_gap: Some(Length::from_mm(gap_mm)),
            crew_size: crew,
            window_min: Some(480),
            waits: GivenWaits {
                rinse_to_coat_min: Some(60),
                between_coats_min: Some(40),
                to_foot_min: Some(120),
                mop_to_foot_min: Some(20),
                ..GivenWaits::default()
            },
            ..Limits::default()
        },
        ..Wish::to(Goal::Restore)
    }
}

#[test]
fn golden_13_1_a_corridor_stripped_and_coated_to_the_wall() {
    let made = plan(&corridor(), &wish(0, None), &golden_card());
    assert_eq!(
        made.verdict,
        Verdict::AllowedWithWarnings,
        "{:?} {:?}",
        made.findings,
        made.questions
    );
    let work = made.work.expect("work");
    let hours = |activity: &str| {
        let line = work
            .labour
            .iter()
            .find(|line| line.activity == activity)
            .expect("a line");
        (line.time.hours() * 1e4).round() / 1e4
    };
    assert!((hours("dust_mop") - 0.2017).abs() < 1e-9);
    assert!((hours("strip_machine") - 9.4118).abs() < 1e-9);
    assert!((hours("edge_strip") - 3.04).abs() < 1e-9);
    assert!((hours("polish_coat") - 7.5294).abs() < 1e-9);
    let litres = |class: &str| {
        work.products
            .iter()
            .find(|line| line.class == class)
            .expect("a line")
    };
    let stripper = litres("stripper");
    assert_eq!(stripper.working, Volume::from_ml(60_000));
    assert_eq!(stripper.need, Volume::from_ml(12_000));
    assert_eq!(stripper.total, Volume::from_ml(13_200));
    assert_eq!(stripper.ordered, Volume::from_ml(15_000));
    let polish = litres("polish");
    assert_eq!(polish.need.ml_half_even(), 22_857);
    assert!((polish.total.l() - 25.14).abs() < 0.005);
    assert_eq!(polish.ordered, Volume::from_ml(30_000));
    assert_eq!(work.water.clean, Volume::from_ml(192_000));
    assert_eq!(work.water.slurry, Volume::from_ml(226_800));
    assert_eq!(work.cost.direct.text(), "561.47");
    assert_eq!(work.cost.net.text(), "698.72");
    let labour: i64 = work
        .cost
        .lines
        .iter()
        .filter(|line| line.kind.word() == "labour")
        .map(|line| line.amount.amount)
        .sum();
    assert_eq!(labour, 3_495_200);
    let allowance = work
        .cost
        .lines
        .iter()
        .find(|line| line.kind.word() == "allowance")
        .expect("a line");
    assert_eq!(allowance.amount.text(), "34.95");
    // 16.65 h from closing to walking on it.
    assert!((work.time_line.elapsed.hours() - 16.65).abs() < 0.005);
    let nights: Vec<_> = work
        .time_line
        .nights
        .iter()
        .map(|night| (night.work.len(), night.work_min))
        .collect();
    // Night 1 strips (7.51 h), night 2 holds three coats (6.99 h with the wait and its own set-up).
    assert_eq!(nights.len(), 3, "{:?}", work.time_line.nights);
    assert_eq!(work.time_line.nights[0].work, ["prepare"]);
    assert_eq!(work.time_line.nights[0].work_min, 451);
    assert_eq!(
        work.time_line.nights[1].work,
        ["coat 1", "coat 2", "coat 3"]
    );
    // Each night is set up and cleaned down, two operatives by an hour with its allowance: 33 min before what waits and coats
    // take (387).
    assert_eq!(work.time_line.nights[1].open_after_min, 420);
}

#[test]
fn golden_13_1_three_operatives_need_two_nights() {
    let made = plan(&corridor(), &wish(0, Some(3)), &golden_card());
    assert_eq!(made.work.expect("work").time_line.nights.len(), 2);
}

#[test]
fn golden_13_2_the_same_corridor_with_early_coats_ten_centimetres_short() {
    let made = plan(&corridor(), &wish(100, None), &golden_card());
    let work = made.work.expect("work");
    let polish = work
        .products
        .iter()
        .find(|line| line.class == "polish")
        .expect("a line");
    assert_eq!(polish.need.ml_half_even(), 22_305);
    assert!((polish.total.l() - 24.54).abs() < 0.005);
    assert_eq!(polish.ordered, Volume::from_ml(25_000));
    assert_eq!(work.cost.direct.text(), "540.47");
    assert!((work.time_line.elapsed.hours() - 16.65).abs() < 0.005);
    let gaps: Vec<i64> = work
        .steps
        .iter()
        .filter_map(|step| step.coat)
        .map(|coat| coat.gap.mm())
        .collect();
    assert_eq!(gaps, [100, 100, 100, 0]);
}

/// A floor that no night can hold is done in parts of equal area, each of which opens in time.
#[test]
fn a_floor_too_large_for_one_window_is_done_in_parts() {
    let large = Survey {
        area: Area::from_mm2(2_000_000_000),
        perimeter: Some(Length::from_mm(180_000)),
        ..corridor()
    };
    let made = plan(&large, &wish(100, None), &golden_card());
    assert_eq!(
        made.verdict,
        Verdict::AllowedWithWarnings,
        "{:?}",
        made.findings
    );
    let line = made.work.expect("work").time_line;
    assert!(line.nights.len() > 10, "{}", line.nights.len());
    assert!(line.nights.iter().all(|night| night.open_after_min <= 480));
    let parts = |name: &str| {
        let work = line.nights.iter().flat_map(|night| &night.work);
        work.filter(|work| work.starts_with(name)).count()
    };
    assert!(parts("prepare") > 5 && parts("coat 4") > 1);
    assert_eq!(
        line.nights.last().map(|night| night.leaves.as_str()),
        Some("the floor as planned")
    );
}

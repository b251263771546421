//! What readings and work say of a floor today.

use super::*;
use crate::programme::frame::MOST_BUILT;
use crate::{
    film::{Floor, state_at},
    programme::wear::{Film, Use},
    survey::{Survey, Traffic},
};

const STRIP: &str = "machine_strip_and_refinish";
const RECOAT: &str = "scrub_and_recoat";

fn base() -> &'static KnowledgeBase {
    KnowledgeBase::builtin().unwrap()
}

fn days_ago(days: i64) -> DateTime<Utc> {
    DateTime::from_timestamp(1_793_000_000, 0).unwrap() - TimeDelta::days(days)
}

fn reads(told: &[(i64, f64)]) -> Vec<Read> {
    let read = |&(days, value): &(i64, f64)| Read {
        at: days_ago(days),
        value,
    };
    told.iter().map(read).collect()
}

/// Work by days ago, process and m².
fn works(told: &[(i64, &str, i64)]) -> Vec<Done> {
    let done = |&(days, process, m2): &(i64, &str, i64)| Done {
        process: process.to_owned(),
        at: days_ago(days),
        area: Area::from_mm2(m2 * 1_000_000),
    };
    told.iter().map(done).collect()
}

/// A floor of 180 m², first surveyed 300 days ago, of whose film nobody told.
fn known<T>(done: &[Done], gloss: &[Read], grip: &[Read], ask: impl FnOnce(Known<'_>) -> T) -> T {
    let floor = Floor {
        base: base(),
        area: Area::from_mm2(180_000_000),
        traffic: None,
    };
    ask(Known {
        now: days_ago(0),
        area: floor.area,
        surveyed_at: days_ago(300),
        state: &state_at(floor, &[], days_ago(0)),
        done,
        gloss,
        grip,
    })
}

fn gloss(traffic: Traffic, done: &[(i64, &str, i64)], told: &[(i64, f64)]) -> GlossToday {
    let survey = Survey {
        traffic: Some(traffic),
        ..Survey::new("vinyl_composition_tile", Area::from_mm2(180_000_000))
    };
    let wear = Wear::of(base(), &survey, (Use::default(), Film::Polish)).unwrap();
    known(&works(done), &reads(told), &[], |known| {
        gloss_today(base(), &wear, known)
    })
}

fn grip(done: &[(i64, &str, i64)], told: &[(i64, f64)], survey: Option<f64>) -> Grip {
    known(&works(done), &[], &reads(told), |known| {
        grip_today(base(), known, survey)
    })
}

fn ptv(grip: &Grip) -> Option<f64> {
    grip.today.map(|today| today.ptv)
}

#[test]
fn readings_on_the_curve_of_the_class_give_its_figure_again() {
    for (traffic, a_day, kpass) in [
        (Traffic::Medium, 0.6, 110.8_f64),
        (Traffic::Heavy, 2.0, 172.3),
    ] {
        // 75 GU 120 days ago, falling towards 20.
        let on = |kpass: f64| -> Vec<(i64, f64)> {
            let read = |days: i64| {
                let passed = a_day * float(120 - days);
                (days, 20.0 + 55.0 * (-passed / kpass).exp())
            };
            [100, 80, 60, 40, 20, 5].map(read).into()
        };
        let found = gloss(traffic, &[(120, STRIP, 180)], &on(kpass));
        assert_eq!(found.n_counted, 6);
        assert!((found.gloss_kpass - kpass).abs() < 1e-6, "{found:?}");
        // A floor that dulls in half the traffic says so.
        let found = gloss(traffic, &[(120, STRIP, 180)], &on(kpass / 2.0));
        let times = found.gloss_kpass / kpass;
        assert!((0.4..0.65).contains(&times), "{found:?}");
    }
}

#[test]
fn work_on_a_part_changes_no_gloss_and_new_coats_begin_anew() {
    let told = [(90, 41.0), (60, 180.0), (30, 40.0)];
    let before = gloss(Traffic::Medium, &[], &told);
    assert_eq!((before.n_counted, before.unlikely.len()), (2, 1));
    let part = [(20, STRIP, 5), (20, "spray_buff", 5)];
    assert_eq!(gloss(Traffic::Medium, &part, &told), before);
    // A process that no action names lays a polish as well.
    for process in [STRIP, "recoat_wood_polish", "polish"] {
        assert!(base().process(process).unwrap().lays_polish);
        let anew = gloss(Traffic::Medium, &[(20, process, 180)], &told);
        assert_eq!((anew.n_counted, anew.unlikely.len()), (0, 0), "{process}");
        assert!(anew.state.gloss > 65.0, "{process}: {:?}", anew.state);
    }
}

#[test]
fn only_coats_over_the_whole_floor_renew_its_grip() {
    let low = [(40, 30.0), (39, 31.0)];
    let part = grip(&[(20, RECOAT, 2)], &low, None);
    assert_eq!(ptv(&part), Some(30.5));
    let parts = [(21, RECOAT, 100), (20, RECOAT, 80)];
    let whole = grip(&parts, &low, None);
    // Nobody read the new coats: nothing is taken, and what was low is told.
    assert_eq!((ptv(&whole), whole.low.len()), (None, 2));
    // Read since: the old coats tell nothing any more.
    let read = grip(&parts, &[(40, 30.0), (3, 48.0)], None);
    assert_eq!((ptv(&read), read.low.len()), (Some(48.0), 0));
}

#[test]
fn a_survey_tells_nothing_of_coats_laid_after_it() {
    let none: [(i64, &str, i64); 0] = [];
    assert_eq!(ptv(&grip(&none, &[], Some(33.0))), Some(33.0));
    assert_eq!(ptv(&grip(&[(20, RECOAT, 2)], &[], Some(33.0))), Some(33.0));
    let after = grip(&[(20, RECOAT, 180)], &[], Some(33.0));
    assert_eq!((ptv(&after), after.low.len()), (None, 1));
}

#[test]
fn old_readings_do_not_outvote_new_ones_and_no_low_one_is_lost() {
    let old: Vec<(i64, f64)> = (0..10).map(|n| (100 + n, 50.0)).collect();
    let new = [(5, 33.0), (3, 34.0), (2, 35.0)];
    let found = grip(&[], &[&old[..], &new[..]].concat(), None);
    assert_eq!((ptv(&found), found.today.unwrap().n_read), (Some(34.0), 3));
    assert!(found.low.is_empty(), "it shows in the mean: {found:?}");
    // Low once, and high since, without new coats: told. So is one that others outvote, and a low survey.
    let once = grip(&[], &[(100, 30.0), (3, 34.0), (2, 50.0)], Some(35.0));
    let low: Vec<f64> = once.low.iter().map(|read| read.value).collect();
    assert_eq!((ptv(&once), low), (Some(42.0), vec![30.0, 34.0, 35.0]));
}

#[test]
fn more_coats_than_a_model_holds_count_as_the_most_that_it_does() {
    let many = Coats {
        low: 48.0,
        likely: 50.0,
        high: 50.0,
    };
    assert_eq!(coats_between(many, MOST_BUILT), [(MOST_BUILT, 1.0)]);
}

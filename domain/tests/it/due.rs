//! What is due when: stories told by hand, with the day that a floor-care lead would write into the calendar.
//!
//! Intervals are those of the knowledge base (common practice, no published source); which day follows from them is reckoned
//! here on the calendar.

#![expect(clippy::expect_used, reason = "a test that cannot be set up must stop")]

use chrono::{Days, NaiveDate};
use chrono_tz::Tz;
use domain::{
    due::{CountedFrom, Done, Due, Past, Why, due, last_done},
    film::{Entry, EntryId, Event, Job, Word},
    id::CompletionId,
    knowledge::KnowledgeBase,
    plan::PlanInput,
    quantity::Area,
    stock::Stock,
    survey::{FilmCondition, FilmKind, Goal, Soil, Survey, Traffic, Wish},
};
use uuid::Uuid;

use crate::{
    common::{base, climate, corridor, golden_card, now},
    film::{FLOOR, day, film, job, told},
};

/// The calendar day of a day of a story.
fn date(n: u64) -> NaiveDate {
    now()
        .date_naive()
        .checked_add_days(Days::new(n))
        .expect("a day")
}

fn done(n: u64, process: &str, area: Area) -> Done {
    Done {
        process: process.to_owned(),
        at: day(n),
        area,
    }
}

/// The completion as the film's past has it.
fn laid(n: u64, process: &str, polish: i64) -> Entry {
    let job = Job {
        started_at: day(n),
        ..job(process, Some(polish))
    };
    Entry {
        id: EntryId::Completion(CompletionId::from_uuid(Uuid::from_u128(
            u128::from(n) + 1000,
        ))),
        at: day(n),
        counts: true,
        event: Event::Done(job),
    }
}

fn list_by(base: &KnowledgeBase, survey: &Survey, entries: &[Entry], done: &[Done]) -> Vec<Due> {
    let (climate, card, wish) = (climate(), golden_card(), Wish::to(Goal::Maintain));
    let input = PlanInput {
        survey,
        wish: &wish,
        climate: &climate,
        card: &card,
        country: "GB",
        base,
        own_products: &[],
        stock: Stock::NONE,
        climate_assumed: false,
        now: now(),
        zone: Tz::UTC,
    };
    let past = Past {
        entries,
        done,
        surveyed_at: day(0),
    };
    due(&input, past).expect("an answer")
}

fn list(survey: &Survey, entries: &[Entry], done: &[Done]) -> Vec<Due> {
    list_by(base(), survey, entries, done)
}

fn of<'d>(list: &'d [Due], process: &str) -> &'d Due {
    let found = list.iter().find(|due| due.process == process);
    found.expect("it is in the list")
}

/// Why, when, and from what it is counted.
fn told_of(due: &Due) -> (Why, NaiveDate, CountedFrom) {
    (due.why, due.due_on, due.counted_from)
}

/// A corridor under heavy traffic and ordinary soil.
fn floor() -> Survey {
    Survey {
        soil: Some(Soil::Normal),
        ..corridor()
    }
}

fn sound(n: u64, coats: i64) -> Entry {
    let state = film(FilmKind::Polish, Some(coats), FilmCondition::Sound);
    told(n, Word::Seen, state)
}

#[test]
fn what_nobody_reported_is_counted_from_the_first_survey() {
    let known = list(&floor(), &[sound(0, 6)], &[]);
    let recoat = of(&known, "scrub_and_recoat");
    // Heavy traffic: every 90 days, and six sound coats need nothing yet.
    assert_eq!(
        told_of(recoat),
        (Why::NeverDone, date(90), CountedFrom::FirstSurvey)
    );
    assert_eq!((recoat.interval_days, recoat.last_done_on), (90, None));
    // Of a film that nobody has looked at it is not known that it needs nothing.
    let unknown = list(&floor(), &[], &[]);
    assert_eq!(
        told_of(of(&unknown, "scrub_and_recoat")),
        (Why::NeverDone, date(0), CountedFrom::FirstSurvey)
    );
}

#[test]
fn of_processes_that_stand_in_for_one_another_one_recurs() {
    let keys = |list: &[Due]| -> Vec<String> {
        let mut keys: Vec<_> = list.iter().map(|due| due.process.clone()).collect();
        keys.sort();
        keys
    };
    // Polish under normal soil: a damp mop by the day, spray buffing, and new coats; nobody strips by the calendar.
    let never = list(&floor(), &[sound(0, 6)], &[]);
    assert_eq!(keys(&never), ["damp_mop", "scrub_and_recoat", "spray_buff"]);
    let routine: Vec<_> = never.iter().filter(|due| due.routine).collect();
    assert_eq!(routine.len(), 1);
    assert_eq!(routine[0].process, "damp_mop");
    // Whoever burnishes there burnishes again.
    let burnished = list(
        &floor(),
        &[sound(0, 6)],
        &[done(5, "burnish_polish", FLOOR)],
    );
    assert_eq!(
        keys(&burnished),
        ["burnish_polish", "damp_mop", "scrub_and_recoat"]
    );
    assert_eq!(
        told_of(of(&burnished, "burnish_polish")),
        (Why::Interval, date(12), CountedFrom::LastDone)
    );
}

#[test]
fn work_is_due_again_when_its_interval_is_over_and_new_coats_begin_upkeep_anew() {
    let entries = [sound(0, 6), laid(40, "scrub_and_recoat", 2)];
    let work = [
        done(30, "spray_buff", FLOOR),
        done(40, "scrub_and_recoat", FLOOR),
    ];
    let found = list(&floor(), &entries, &work);
    let recoat = of(&found, "scrub_and_recoat");
    assert_eq!(
        told_of(recoat),
        (Why::Interval, date(130), CountedFrom::LastDone)
    );
    assert_eq!(recoat.last_done_on, Some(date(40)));
    // Buffing every 14 days: from the new coats on, not from the last time before them.
    let buff = of(&found, "spray_buff");
    assert_eq!(
        told_of(buff),
        (Why::Interval, date(54), CountedFrom::LastCoat)
    );
    assert_eq!(buff.last_done_on, Some(date(30)));
}

#[test]
fn a_film_that_asks_for_work_does_not_wait_for_the_interval() {
    let scuffed = film(FilmKind::Polish, Some(5), FilmCondition::Scuffed);
    let soiled = film(FilmKind::Polish, Some(5), FilmCondition::Soiled);
    let yellowed = film(FilmKind::Polish, Some(5), FilmCondition::Yellowed);
    let recoated = [sound(0, 6), laid(1, "scrub_and_recoat", 2)];
    let work = [done(1, "scrub_and_recoat", FLOOR)];
    let seen = |state| {
        let entries = [
            recoated[0].clone(),
            recoated[1].clone(),
            told(10, Word::Seen, state),
        ];
        list(&floor(), &entries, &work)
    };
    let asked = (Why::Film, date(10), CountedFrom::FilmTold);
    assert_eq!(told_of(of(&seen(scuffed), "spray_buff")), asked);
    assert_eq!(told_of(of(&seen(soiled), "scrub_and_recoat")), asked);
    let found = seen(yellowed);
    assert_eq!(told_of(of(&found, "machine_strip_and_refinish")), asked);
    // Done, it asks no more.
    let entries = [recoated[0].clone(), told(10, Word::Seen, scuffed)];
    let buffed = list(&floor(), &entries, &[done(12, "spray_buff", FLOOR)]);
    assert_eq!(
        told_of(of(&buffed, "spray_buff")),
        (Why::Interval, date(26), CountedFrom::LastDone)
    );
}

#[test]
fn a_film_that_wears_faster_than_the_interval_asks_on_the_first_day_on_which_it_is_too_thin() {
    let mut worn = base().clone();
    // 7.3 coats a year are 0.02 a day: from three coats, fewer than one and a half are left by noon of the 75th day.
    let wear = worn.film.polish_wear.get_mut("heavy").expect("a row");
    *wear = [0.0, 7.3, 7.3];
    let found = list_by(&worn, &floor(), &[sound(0, 3)], &[]);
    let recoat = of(&found, "scrub_and_recoat");
    assert_eq!(
        told_of(recoat),
        (Why::Film, date(75), CountedFrom::FilmTold)
    );
}

#[test]
fn stripping_recurs_where_it_was_done_and_other_trades_never() {
    let entries = [sound(0, 6), laid(3, "machine_strip_and_refinish", 4)];
    let work = [done(3, "machine_strip_and_refinish", FLOOR)];
    let found = list(&floor(), &entries, &work);
    assert_eq!(
        told_of(of(&found, "machine_strip_and_refinish")),
        (Why::Interval, date(368), CountedFrom::LastDone)
    );
    let other_trades = base().processes.iter().filter(|process| process.specialist);
    let work: Vec<_> = other_trades
        .map(|process| done(1, &process.key, FLOOR))
        .collect();
    assert!(!work.is_empty());
    for material in base().materials.iter().map(|material| &material.key) {
        let found = list(&Survey::new(material, FLOOR), &[], &work);
        assert!(
            found
                .iter()
                .all(|due| work.iter().all(|done| done.process != due.process))
        );
    }
}

#[test]
fn a_part_of_a_floor_is_not_the_floor_and_nights_of_one_job_add_up() {
    let half = Area::from_mm2(FLOOR.mm2() / 2);
    let of = |work: &[Done]| last_done(base(), FLOOR, work).get("seal").copied();
    assert_eq!(of(&[done(1, "seal", half)]), None);
    assert_eq!(
        of(&[done(1, "seal", half), done(3, "seal", half)]),
        Some(day(3))
    );
    // Half a year later it is another job.
    assert_eq!(of(&[done(1, "seal", half), done(180, "seal", half)]), None);
    // A half that came after the whole takes nothing away from it.
    assert_eq!(
        of(&[done(9, "seal", half), done(1, "seal", FLOOR)]),
        Some(day(1))
    );
}

#[test]
fn every_floor_has_an_answer_and_no_date_lies_before_what_it_is_counted_from() {
    for material in &base().materials {
        for traffic in Traffic::ALL {
            for kind in FilmKind::ALL {
                for condition in FilmCondition::ALL {
                    let floor = Survey {
                        traffic: Some(*traffic),
                        ..Survey::new(&material.key, FLOOR)
                    };
                    let entries = [told(5, Word::Seen, film(*kind, Some(3), *condition))];
                    let found = list(&floor, &entries, &[]);
                    assert!(found.is_sorted_by_key(|due| due.due_on));
                    for due in &found {
                        assert!(due.due_on >= due.counted_from_on, "{due:?}");
                        assert!(due.interval_days >= 1 && due.last_done_on.is_none());
                        assert!(
                            base()
                                .process(&due.process)
                                .is_some_and(|row| !row.specialist)
                        );
                    }
                }
            }
        }
    }
}

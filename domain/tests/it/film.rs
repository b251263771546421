//! What lies on a floor at a moment: stories told by hand, with what a floor-care lead would say at their end.

#![expect(clippy::expect_used, reason = "a test that cannot be set up must stop")]

use chrono::{DateTime, Days, Utc};
use domain::{
    film::{Coats, Entry, EntryId, Event, Floor, Job, State, Told, Word, state_at},
    id::{CompletionId, ObservationId, PlanId},
    quantity::Area,
    survey::{FilmCondition, FilmKind, Traffic},
};
use uuid::Uuid;

use crate::common::{base, now};

/// A floor of 240 m² under heavy traffic.
pub(crate) const FLOOR: Area = Area::from_mm2(240_000_000);

pub(crate) fn floor() -> Floor<'static> {
    Floor {
        base: base(),
        area: FLOOR,
        traffic: Some(Traffic::Heavy),
    }
}

pub(crate) fn day(n: u64) -> DateTime<Utc> {
    now().checked_add_days(Days::new(n)).expect("a day")
}

pub(crate) fn told(n: u64, word: Word, told: Told) -> Entry {
    let id = ObservationId::from_uuid(Uuid::from_u128(n.into()));
    Entry {
        id: EntryId::Observation(id),
        at: day(n),
        counts: true,
        event: Event::Told(word, told),
    }
}

pub(crate) fn film(kind: FilmKind, coats: Option<i64>, condition: FilmCondition) -> Told {
    Told {
        kind: Some(kind),
        coats,
        condition: Some(condition),
        ..Told::default()
    }
}

pub(crate) fn job(process: &str, polish: Option<i64>) -> Job {
    Job {
        started_at: now(),
        process: process.to_owned(),
        plan: None,
        area: FLOOR,
        polish,
        seal: None,
        planned_polish: None,
        planned_seal: None,
    }
}

pub(crate) fn done(n: u64, job: Job) -> Entry {
    let id = CompletionId::from_uuid(Uuid::from_u128(n.into()));
    Entry {
        id: EntryId::Completion(id),
        at: day(n),
        counts: true,
        event: Event::Done(Job {
            started_at: day(n),
            ..job
        }),
    }
}

fn at(n: u64, entries: &[Entry]) -> State {
    state_at(floor(), entries, day(n))
}

fn codes(state: &State) -> Vec<&str> {
    state.contradictions.iter().map(|c| c.code).collect()
}

fn near(coats: Option<Coats>, [low, likely, high]: [f64; 3]) {
    let coats = coats.expect("counted");
    for (is, should) in [(coats.low, low), (coats.likely, likely), (coats.high, high)] {
        assert!((is - should).abs() < 1e-9, "{coats:?}");
    }
}

const STRIP: &str = "machine_strip_and_refinish";
const RECOAT: &str = "scrub_and_recoat";

#[test]
fn of_a_floor_of_which_nothing_was_said_nothing_is_known() {
    let state = at(0, &[]);
    assert_eq!(
        (state.kind, state.polish, state.condition),
        (None, None, None)
    );
    assert!(state.confidence.abs() < f64::EPSILON && state.basis.is_empty());
    let clean = at(1, &[done(0, job("dust_mop", None))]);
    assert_eq!((clean.kind, clean.basis.len()), (None, 0));
}

#[test]
fn a_survey_is_believed_as_it_stands_and_wears_from_then_on() {
    let survey = [told(
        0,
        Word::Survey,
        film(FilmKind::Polish, Some(6), FilmCondition::Sound),
    )];
    let state = at(0, &survey);
    near(state.polish, [5.0, 6.0, 7.0]);
    assert_eq!(state.film().coats, Some(6));
    assert_eq!(state.condition, Some(FilmCondition::Sound));
    // Heavy traffic: none to four coats a year, likely two; 73 days are a fifth of a year.
    let later = at(73, &survey);
    near(later.polish, [4.2, 5.6, 7.0]);
    // Ninety days halve what one is sure of.
    let old = at(90, &survey);
    assert!((old.confidence - 0.35).abs() < 1e-9, "{}", old.confidence);
    assert_eq!(old.condition, Some(FilmCondition::Sound));
    let older = at(91, &survey);
    assert_eq!(older.condition, None, "a sound floor may be worn by now");
    assert_eq!(
        (at(130, &survey).film().coats, at(180, &survey).film().coats),
        (Some(5), None)
    );
    assert_eq!(at(180, &survey).film().kind, Some(FilmKind::Polish));
}

#[test]
fn damage_does_not_heal_with_time() {
    let survey = [told(
        0,
        Word::Seen,
        film(FilmKind::Polish, Some(6), FilmCondition::Yellowed),
    )];
    assert_eq!(at(3_000, &survey).condition, Some(FilmCondition::Yellowed));
}

#[test]
fn a_strip_takes_everything_and_what_was_laid_is_there() {
    let story = [
        told(
            0,
            Word::Survey,
            film(FilmKind::SealAndPolish, Some(9), FilmCondition::Yellowed),
        ),
        done(10, job(STRIP, Some(4))),
    ];
    let state = at(10, &story);
    assert_eq!(state.kind, Some(FilmKind::Polish));
    near(state.polish, [4.0, 4.0, 4.0]);
    near(state.seal, [0.0, 0.0, 0.0]);
    assert_eq!(state.condition, Some(FilmCondition::Sound));
    assert!((state.confidence - 0.9).abs() < 1e-9);
    assert_eq!(state.stripped, Some((day(10), story[1].id)));
    assert_eq!(state.coated, state.stripped);
    let named: Vec<_> = state
        .basis
        .iter()
        .filter_map(|ground| ground.entry)
        .collect();
    assert_eq!(named, [story[1].id], "the survey says nothing any more");
    assert_eq!(at(9, &story).kind, Some(FilmKind::SealAndPolish));
    assert_eq!(at(40, &story).days_since(day(10)), 30);
}

#[test]
fn a_strip_without_coats_leaves_a_bare_floor_and_seals_are_told_apart() {
    let bare = at(1, &[done(1, job(STRIP, Some(0)))]);
    assert_eq!(
        (bare.kind, bare.condition, bare.coated),
        (Some(FilmKind::Bare), None, None)
    );
    let sealed = Job {
        seal: Some(2),
        ..job(STRIP, Some(3))
    };
    let sealed = at(1, &[done(1, sealed)]);
    assert_eq!(sealed.kind, Some(FilmKind::SealAndPolish));
    near(sealed.seal, [2.0, 2.0, 2.0]);
}

#[test]
fn a_recoat_takes_one_or_two_coats_and_lays_its_own() {
    let story = [
        told(
            0,
            Word::Measured,
            film(FilmKind::Polish, Some(5), FilmCondition::Soiled),
        ),
        done(0, job(RECOAT, Some(2))),
    ];
    // At the same moment work counts before the word of who looked at it.
    near(at(0, &story).polish, [5.0, 5.0, 5.0]);
    let story = [story[0].clone(), done(73, job(RECOAT, Some(2)))];
    // 5 less wear (4.2, 4.6, 5), less the scrub (2, 1, 1), and two coats.
    let state = at(73, &story);
    near(state.polish, [4.2, 5.6, 6.0]);
    assert_eq!(state.condition, Some(FilmCondition::Sound));
    assert!(codes(&state).is_empty());
}

#[test]
fn coats_that_nobody_reports_are_those_of_the_plan_else_the_usual_ones() {
    let bare = told(
        0,
        Word::Seen,
        film(FilmKind::Bare, None, FilmCondition::Sound),
    );
    let planned = Job {
        planned_polish: Some(3),
        ..job("polish", None)
    };
    let planned = at(1, &[bare.clone(), done(1, planned)]);
    near(planned.polish, [2.0, 3.0, 4.0]);
    assert!(
        (planned.confidence - 0.6).abs() < 1e-9,
        "{}",
        planned.confidence
    );
    // Heavy traffic gets four coats.
    let usual = at(1, &[bare.clone(), done(1, job("polish", None))]);
    near(usual.polish, [3.0, 4.0, 5.0]);
    assert!((usual.confidence - 0.4).abs() < 1e-9);
    let recoat = told(
        0,
        Word::Measured,
        film(FilmKind::Polish, Some(4), FilmCondition::Soiled),
    );
    let recoat = at(0, &[recoat, done(0, job(RECOAT, None))]);
    near(recoat.polish, [4.0, 4.0, 4.0]);
    let sealed = at(1, &[bare, done(1, job("seal", None))]);
    assert_eq!(sealed.kind, Some(FilmKind::Seal));
    near(sealed.seal, [1.0, 2.0, 3.0]);
}

#[test]
fn what_does_not_fit_is_told_until_somebody_looks_or_strips() {
    let bare = told(
        0,
        Word::Seen,
        film(FilmKind::Bare, None, FilmCondition::Sound),
    );
    let mut story = vec![bare, done(5, job(RECOAT, Some(1)))];
    assert_eq!(codes(&at(5, &story)), ["recoat_on_bare"]);
    assert_eq!(at(5, &story).kind, Some(FilmKind::Polish));
    story.push(told(
        6,
        Word::Seen,
        film(FilmKind::Polish, Some(1), FilmCondition::Sound),
    ));
    assert!(codes(&at(6, &story)).is_empty());
    story.push(told(
        7,
        Word::Told,
        film(FilmKind::Polish, Some(9), FilmCondition::Sound),
    ));
    assert_eq!(codes(&at(7, &story)), ["coats_differ"]);
    near(at(7, &story).polish, [7.0, 9.0, 11.0]);
    story.push(told(
        8,
        Word::Told,
        film(FilmKind::WaxOrOil, None, FilmCondition::Sound),
    ));
    assert_eq!(codes(&at(8, &story)), ["kind_differs"]);
    story.push(done(9, job("polish", Some(2))));
    assert_eq!(codes(&at(9, &story)), ["kind_differs", "coat_on_wax"]);
    assert_eq!(at(9, &story).kind, None);
    story.push(done(10, job(STRIP, Some(0))));
    assert!(codes(&at(10, &story)).is_empty());
    story.push(done(11, job(STRIP, Some(4))));
    assert_eq!(codes(&at(11, &story)), ["strip_of_bare"]);
}

#[test]
fn a_floor_that_is_done_in_parts_is_done_when_all_of_it_is() {
    let plan = Some(PlanId::from_uuid(Uuid::from_u128(7)));
    let night = |n, m2: i64| {
        let area = Area::from_mm2(m2 * 1_000_000);
        done(
            n,
            Job {
                plan,
                area,
                ..job(STRIP, Some(4))
            },
        )
    };
    let survey = told(
        0,
        Word::Survey,
        film(FilmKind::Polish, Some(8), FilmCondition::Worn),
    );
    let story = [survey, night(1, 80), night(2, 80), night(3, 80)];
    let first = at(1, &story[..2]);
    assert_eq!(codes(&first), ["part_only"]);
    let coats = first.polish.expect("counted");
    assert!(
        coats.low < 4.1 && coats.likely > 7.9 && coats.high > 8.9,
        "{coats:?}"
    );
    assert_eq!((first.condition, first.stripped), (None, None));
    let second = at(2, &story[..3]);
    assert!(second.polish.expect("counted").likely < 4.1);
    let third = at(3, &story);
    near(third.polish, [4.0, 4.0, 4.0]);
    assert!(codes(&third).is_empty());
    assert_eq!(third.stripped, Some((day(3), story[3].id)));
    // Another night's work by another plan is another job.
    let other = PlanId::from_uuid(Uuid::from_u128(8));
    let mut mixed = story.to_vec();
    if let Event::Done(job) = &mut mixed[3].event {
        job.plan = Some(other);
    }
    assert_eq!(codes(&at(3, &mixed)), ["part_only"]);
}

#[test]
fn of_words_at_one_moment_the_most_trusted_counts_last() {
    let seen = told(
        3,
        Word::Seen,
        film(FilmKind::Polish, Some(3), FilmCondition::Sound),
    );
    let measured = told(
        3,
        Word::Measured,
        film(FilmKind::Polish, Some(5), FilmCondition::Sound),
    );
    for story in [[seen.clone(), measured.clone()], [measured, seen]] {
        near(at(3, &story).polish, [5.0, 5.0, 5.0]);
    }
}

#[test]
fn what_a_word_leaves_out_stays_as_it_was() {
    let story = [
        told(
            0,
            Word::Measured,
            film(FilmKind::Polish, Some(5), FilmCondition::Sound),
        ),
        told(
            73,
            Word::Seen,
            film(FilmKind::Polish, None, FilmCondition::Soiled),
        ),
    ];
    let state = at(73, &story);
    near(state.polish, [4.2, 4.6, 5.0]);
    assert_eq!(state.condition, Some(FilmCondition::Soiled));
    assert!(
        state.confidence < 0.95 * 0.6,
        "the count is as old as it was"
    );
    let stripped = Told {
        stripped_on: Some(now().date_naive()),
        ..Told::default()
    };
    let state = at(74, &[told(74, Word::Document, stripped)]);
    assert_eq!(state.days_since(state.stripped.expect("told").0), 74);
    assert_eq!(state.kind, None);
}

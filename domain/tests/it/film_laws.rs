//! What holds of a film's state whatever happened to the floor.

use domain::{
    film::{Coats, Entry, Event, Job, State, Told, Word, state_at},
    id::PlanId,
    quantity::Area,
    survey::{FilmCondition, FilmKind},
};
use proptest::{prelude::*, sample::select};
use uuid::Uuid;

use crate::{
    film::{day, done, floor, job, told},
    floors::{any_process, cases},
};

/// Something that is said; days are few, so that many fall together.
fn any_word() -> impl Strategy<Value = Entry> {
    let words = [
        Word::Measured,
        Word::Seen,
        Word::Told,
        Word::Document,
        Word::Survey,
    ];
    (
        0_u64..6,
        select(words.to_vec()),
        prop::option::of(select(FilmKind::ALL)),
        prop::option::of(0_i64..15),
        prop::option::of(0_i64..4),
        prop::option::of(select(FilmCondition::ALL)),
        prop::bool::weighted(0.2),
    )
        .prop_map(|(n, word, kind, coats, seal_coats, condition, dated)| {
            let stripped_on = dated.then(|| day(0).date_naive());
            let said = Told {
                kind,
                coats,
                seal_coats,
                condition,
                stripped_on,
            };
            told(n * 20, word, said)
        })
}

fn any_job() -> impl Strategy<Value = Entry> {
    (
        0_u64..6,
        any_process(),
        prop::option::of(0_i64..6),
        prop::option::of(0_i64..3),
        prop::option::of(0_i64..6),
        prop::option::of(0_u128..2),
        select(vec![60_000_000_i64, 120_000_000, 240_000_000]),
    )
        .prop_map(|(n, process, polish, seal, planned, plan, mm2)| {
            let work = Job {
                plan: plan.map(|plan| PlanId::from_uuid(Uuid::from_u128(plan))),
                area: Area::from_mm2(mm2),
                seal,
                planned_polish: planned,
                ..job(&process, polish)
            };
            done(n * 20, work)
        })
}

fn any_story() -> impl Strategy<Value = Vec<Entry>> {
    let entry = prop_oneof![any_word(), any_job()];
    // Each record has an id of its own.
    prop::collection::vec(entry, 0..10).prop_map(|entries| {
        let named = (100_u128..).zip(entries);
        named.map(|(n, entry)| with_id(entry, n)).collect()
    })
}

fn with_id(entry: Entry, n: u128) -> Entry {
    use domain::{
        film::EntryId,
        id::{CompletionId, ObservationId},
    };
    let id = Uuid::from_u128(n);
    let id = match entry.id {
        EntryId::Observation(_) => EntryId::Observation(ObservationId::from_uuid(id)),
        EntryId::Completion(_) | EntryId::Surface(_) => {
            EntryId::Completion(CompletionId::from_uuid(id))
        }
    };
    Entry { id, ..entry }
}

fn sound(coats: Option<Coats>) -> bool {
    coats.is_none_or(|c| c.low >= 0.0 && c.low <= c.likely && c.likely <= c.high)
}

fn now(entries: &[Entry]) -> State {
    state_at(floor(), entries, day(120))
}

proptest! {
    #![proptest_config(cases(400))]

    #[test]
    fn the_order_in_which_records_arrive_changes_nothing(
        (story, other) in any_story().prop_flat_map(|story| (Just(story.clone()), Just(story).prop_shuffle())),
    ) {
        prop_assert_eq!(now(&story), now(&other));
    }

    #[test]
    fn what_does_not_count_changes_nothing(
        story in any_story(), extra in any_story(), later in any_story(),
    ) {
        let mut more: Vec<Entry> = extra
            .into_iter()
            .map(|entry| Entry { counts: false, ..entry })
            .collect();
        more.extend(later.into_iter().map(|entry| Entry { at: day(121), ..entry }));
        more.extend(story.iter().cloned());
        prop_assert_eq!(now(&story), now(&more));
    }

    #[test]
    fn a_strip_of_the_whole_floor_makes_what_went_before_mean_nothing(
        story in any_story(), coats in 0_i64..6, after in 0_u64..200,
    ) {
        let strip = done(121, job("machine_strip_and_refinish", Some(coats)));
        let mut all = story;
        all.push(strip.clone());
        let (told, fresh) = (
            state_at(floor(), &all, day(121 + after)),
            state_at(floor(), &[strip], day(121 + after)),
        );
        prop_assert_eq!(told.polish, fresh.polish);
        prop_assert_eq!((told.kind, told.seal, told.condition), (fresh.kind, fresh.seal, fresh.condition));
        prop_assert!((told.confidence - fresh.confidence).abs() < 1e-12);
        prop_assert_eq!(told.stripped, fresh.stripped);
    }

    #[test]
    fn coats_are_never_negative_and_their_interval_is_in_order(story in any_story(), n in 0_u64..400) {
        let state = state_at(floor(), &story, day(n));
        prop_assert!(sound(state.polish) && sound(state.seal), "{:?}", state);
        prop_assert!((0.0..=1.0).contains(&state.confidence));
        prop_assert!(state.film().coats.is_none_or(|coats| coats >= 0));
    }

    #[test]
    fn with_time_an_interval_grows_no_narrower_until_it_is_worn_off_and_trust_no_greater(
        story in any_story(), n in 120_u64..400, more in 1_u64..400,
    ) {
        let (early, late) = (state_at(floor(), &story, day(n)), state_at(floor(), &story, day(n + more)));
        let wider = |early: Option<Coats>, late: Option<Coats>| match (early, late) {
            (Some(early), Some(late)) => {
                late.width() >= early.width() - 1e-9 && late.likely <= early.likely + 1e-9
            }
            (early, late) => early == late,
        };
        prop_assert!(wider(early.polish, late.polish) && wider(early.seal, late.seal), "{:?} {:?}", early, late);
        prop_assert!(late.confidence <= early.confidence);
        prop_assert_eq!(early.kind, late.kind);
        if early.polish.is_some_and(|c| c.likely > 0.0) && early.kind == Some(FilmKind::Polish) {
            prop_assert!(late.polish.is_some_and(|c| early.polish.is_some_and(|e| c.likely < e.likely)));
        }
    }

    #[test]
    fn the_basis_names_records_that_count_and_no_others(story in any_story()) {
        let state = now(&story);
        for ground in state.basis.iter().filter(|ground| ground.entry.is_some()) {
            prop_assert!(story.iter().any(|entry| Some(entry.id) == ground.entry && entry.at == ground.at));
        }
        let touched = story.iter().any(|entry| matches!(entry.event, Event::Told(_, told) if told.kind.is_some()));
        prop_assert!(!touched || state.basis.iter().any(|ground| ground.entry.is_some()));
    }
}

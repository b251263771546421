//! Programmes for one floor, held to other ways of reckoning the same.

#![expect(clippy::expect_used, reason = "a test that cannot be set up must stop")]

use chrono::{DateTime, TimeDelta, Utc};
use chrono_tz::Tz;
use domain::{
    due::{Done, Past, due},
    film::{Entry, EntryId, Event, Floor, Told, Word, state_at},
    id::SurfaceId,
    plan::PlanInput,
    programme::{
        Act, Asked, Comparison, NotReckoned, Programme, Terms, compare,
        start::{Known, Read},
        wear::Use,
        worth::DiscountRate,
    },
    stock::Stock,
    survey::{Asbestos, Film, FilmCondition, FilmKind, Goal, Survey, Traffic, Wish},
};
use uuid::Uuid;

use crate::common::{base, climate, corridor, golden_card, now};

fn rate(share: f64) -> DiscountRate {
    DiscountRate::of(share).expect("a rate")
}

/// What a test tells of a floor beside its survey.
#[derive(Default)]
pub(crate) struct Story {
    pub(crate) gloss: Vec<(i64, f64)>,
    pub(crate) grip: Vec<(i64, f64)>,
    pub(crate) done: Vec<(i64, &'static str)>,
    pub(crate) told: Use,
    pub(crate) seal_coats: Option<i64>,
    pub(crate) below_share: Option<f64>,
    pub(crate) months: Option<u32>,
}

fn days_ago(days: i64) -> DateTime<Utc> {
    now() - TimeDelta::days(days)
}

/// A sound corridor of four coats, seen 40 days ago.
pub(crate) fn sound() -> Survey {
    let mut survey = corridor();
    survey.film.coats = Some(4);
    survey.film.condition = Some(FilmCondition::Sound);
    survey.traffic = Some(Traffic::Medium);
    survey
}

/// Values that were read so many days ago.
fn reads(told: &[(i64, f64)]) -> Vec<Read> {
    let read = |(days, value): &(i64, f64)| Read {
        at: days_ago(*days),
        value: *value,
    };
    told.iter().map(read).collect()
}

pub(crate) fn asked(survey: &Survey, story: &Story) -> Result<Comparison, NotReckoned> {
    let told = Told {
        kind: survey.film.kind,
        coats: survey.film.coats,
        seal_coats: story.seal_coats,
        stripped_on: None,
        condition: survey.film.condition,
    };
    let entries = [Entry {
        id: EntryId::Surface(SurfaceId::from_uuid(Uuid::from_u128(1))),
        at: days_ago(40),
        counts: true,
        event: Event::Told(Word::Survey, told),
    }];
    let floor = Floor {
        base: base(),
        area: survey.area,
        traffic: survey.traffic,
    };
    let state = state_at(floor, &entries, now());
    let done: Vec<Done> = story
        .done
        .iter()
        .map(|(days, process)| Done {
            process: (*process).to_owned(),
            at: days_ago(*days),
            area: survey.area,
        })
        .collect();
    let (gloss, grip) = (reads(&story.gloss), reads(&story.grip));
    let survey = Survey {
        film: state.film(),
        coated_at: state.coated_at(),
        ..survey.clone()
    };
    let (climate, card, wish) = (climate(), golden_card(), Wish::to(Goal::Maintain));
    let input = PlanInput {
        survey: &survey,
        wish: &wish,
        climate: &climate,
        card: &card,
        country: "GB",
        base: base(),
        own_products: &[],
        stock: Stock::NONE,
        climate_assumed: false,
        now: now(),
        zone: Tz::UTC,
    };
    let past = Past {
        entries: &entries,
        done: &done,
        surveyed_at: days_ago(40),
    };
    let due = due(&input, past).expect("dates");
    compare(Asked {
        input,
        known: Known {
            now: now(),
            area: survey.area,
            surveyed_at: days_ago(40),
            state: &state,
            done: &done,
            gloss: &gloss,
            grip: &grip,
        },
        told: story.told,
        due: &due,
        terms: Terms {
            months: story.months.unwrap_or(60),
            rate: rate(0.035),
            below_share: story.below_share.unwrap_or(0.1),
        },
    })
}

/// A programme with its name.
fn all(found: &Comparison) -> Vec<(&'static str, &Programme, f64)> {
    let names = ["best", "fixed", "longer", "leave", "wait"];
    let programmes = [
        &found.best,
        &found.fixed,
        &found.longer,
        &found.leave,
        &found.wait,
    ];
    let both = names.into_iter().zip(programmes).zip(found.objectives);
    both.filter_map(|((name, programme), weighed)| Some((name, programme.as_ref()?, weighed?)))
        .collect()
}

#[test]
fn the_best_costs_least_at_the_worth_that_keeps_the_gloss_and_keeps_it() {
    for traffic in [Traffic::Light, Traffic::Medium, Traffic::Heavy] {
        let survey = Survey {
            traffic: Some(traffic),
            ..sound()
        };
        let story = Story {
            grip: vec![(10, 45.0)],
            months: Some(36),
            ..Story::default()
        };
        let found = asked(&survey, &story).expect("reckoned");
        let best = found.best.as_ref().expect("a programme");
        // Under heavy traffic a month with new coats and no buffing ends below 60 GU: 0.70 of the way where 0.73 is asked for. So the
        // best that there is lies a little above what is allowed, and says so.
        let share = best.below_share();
        let is_kept = share <= 0.1 + 1e-9;
        assert_eq!(is_kept, traffic != Traffic::Heavy, "{traffic:?}: {share}");
        let least = found.objectives[0].expect("a figure");
        for (name, programme, weighed) in all(&found) {
            assert!(weighed >= least - 1e-6 * least, "{traffic:?}: {name}");
            // Adding months up by hand at 3.5 % gives the present cost again.
            let by_hand: f64 = programme
                .months
                .iter()
                .zip(0_u32..)
                .map(|(month, n)| month.cost * 1.035_f64.powf(-f64::from(n) / 12.0))
                .sum::<f64>()
                + programme.hand_back * 1.035_f64.powf(-3.0);
            let present = programme.present(rate(0.035));
            assert!((present - by_hand).abs() < 1e-6 * by_hand, "{name}");
            // Uniform present value of three years at 3.5 %: (1 - 1.035^-3) / 0.035 = 2.801637.
            let a_year = programme.a_year(rate(0.035)).expect("a figure");
            assert!(
                (a_year * 2.801_637 - present).abs() < 1e-6 * present,
                "{name}"
            );
            for month in &programme.months {
                let sum: f64 = month.acts.iter().sum();
                assert!((sum - 1.0).abs() < 1e-9, "{name}: {sum}");
            }
        }
    }
}

/// The expected gloss of a floor that is left alone falls as the exponential does; bands are only a way to hold it.
#[test]
fn left_alone_a_floor_falls_below_when_the_curve_does() {
    let survey = sound();
    // Stripped yesterday: 75 GU, known within 5.
    let story = Story {
        done: vec![(1, "machine_strip_and_refinish")],
        grip: vec![(0, 50.0)],
        months: Some(24),
        ..Story::default()
    };
    let found = asked(&survey, &story).expect("reckoned");
    let leave = found.leave.as_ref().expect("a programme");
    // 75 GU fall to 60 when 20 + 55 e^(-N/110.8) does: N = 110.8 ln(55/40) = 35.3 kpass, 58.8 days of 600 passes, 1.93 months.
    let half = leave.months.iter().position(|month| month.below >= 0.5);
    assert!(matches!(half, Some(2 | 3)), "{half:?}");
    assert!(leave.months[0].below < 0.02, "{}", leave.months[0].below);
    assert!(leave.months[8].below > 0.9);
    let all_but_falling = leave
        .months
        .windows(2)
        .all(|pair| pair[1].below >= pair[0].below - 1e-9);
    assert!(all_but_falling);
}

#[test]
fn no_saving_leads_below_the_grip_that_is_kept() {
    let survey = sound();
    // 37 today: a lane that is worn through would have 34, and stripping gives nothing back.
    let story = Story {
        grip: vec![(5, 37.0)],
        below_share: Some(1.0),
        months: Some(36),
        ..Story::default()
    };
    let found = asked(&survey, &story).expect("reckoned");
    let best = found.best.as_ref().expect("a programme");
    assert_eq!(best.unsafe_from, None);
    assert!(!best.may_wear_through);
    let leave = found.leave.as_ref().expect("a programme");
    let (from, most) = leave.unsafe_from.expect("worn through");
    assert!(from >= 1 && most > 0.9, "{from} {most}");
    // Nobody minds the looks here: only the grip makes the best cost more than nothing at all.
    assert!(best.present(rate(0.035)) > leave.present(rate(0.035)));
    // The same floor with grip to spare is left alone for nearly all of the time.
    let spare = Story {
        grip: vec![(5, 60.0)],
        ..story
    };
    let spare = asked(&survey, &spare).expect("reckoned");
    let best = spare.best.as_ref().expect("a programme");
    assert!(
        best.present(rate(0.035)) <= spare.leave.as_ref().expect("one").present(rate(0.035)) + 1.0
    );
}

#[test]
fn a_floor_below_the_grip_that_is_kept_gets_no_programme_at_any_price() {
    let story = Story {
        grip: vec![(5, 30.0), (4, 31.0)],
        ..Story::default()
    };
    let found = asked(&sound(), &story).expect("reckoned");
    assert_eq!(found.best, None);
    assert_eq!(found.wait, None);
    // Whatever the calendar does, it is done on a floor that is lost now.
    for programme in [&found.fixed, &found.longer, &found.leave] {
        let programme = programme.as_ref().expect("a programme");
        assert_eq!(programme.unsafe_from, Some((0, 1.0)));
    }
    // 35.5 today: taking film off is not credited with the half unit that is missing.
    let story = Story {
        grip: vec![(5, 35.5)],
        ..Story::default()
    };
    assert_eq!(asked(&sound(), &story).expect("reckoned").best, None);
    let grip = found.grip.expect("read");
    assert!((grip.ptv - 30.5).abs() < 1e-9 && grip.chance_below(36.0) > 0.99);
    let offered = found
        .offers
        .iter()
        .filter(|offer| offer.extra_now.is_some());
    assert_eq!(offered.count(), 0);
}

#[test]
fn readings_move_the_start_and_one_far_off_does_not() {
    let survey = sound();
    let gloss = |story: &Story| {
        let found = asked(&survey, story).expect("reckoned");
        found.look.expect("a polish").gloss
    };
    let prior = gloss(&Story::default());
    let dull = Story {
        gloss: vec![(2, 40.0), (1, 41.0), (1, 39.0)],
        ..Story::default()
    };
    let dull = gloss(&dull);
    assert_eq!((prior.n_counted, dull.n_counted), (0, 3));
    assert!((dull.state.gloss - 40.0).abs() < 3.0, "{:?}", dull.state);
    assert!(dull.state.gloss_variance < prior.state.gloss_variance / 20.0);
    let wild = Story {
        gloss: vec![(2, 40.0), (1, 41.0), (1, 180.0)],
        ..Story::default()
    };
    let wild = gloss(&wild);
    assert_eq!((wild.n_counted, wild.unlikely.len()), (2, 1));
    assert!((wild.state.gloss - 40.0).abs() < 3.0);
}

/// More passes, less matting: never cheaper to keep.
#[test]
fn a_lane_that_wears_faster_costs_more_to_keep() {
    let cost = |told: Use| {
        let story = Story {
            told,
            grip: vec![(1, 50.0)],
            months: Some(24),
            ..Story::default()
        };
        let found = asked(&sound(), &story).expect("reckoned");
        found.best.expect("a programme").present(rate(0.035))
    };
    let passes = |passes: f64, matting: f64| Use {
        passes_per_day: Some(passes),
        matting_m: Some(matting),
        target_gu: None,
    };
    let few = cost(passes(300.0, 4.6));
    let many = cost(passes(900.0, 4.6));
    let unmatted = cost(passes(300.0, 0.0));
    assert!(few < many && few < unmatted, "{few} {many} {unmatted}");
}

/// Wood is renewed by processes of its own, with hardly any water; a lane that is worn through is not handed back for nothing.
#[test]
fn polish_on_wood_is_renewed_at_a_cost() {
    let survey = Survey {
        film: Film {
            kind: Some(FilmKind::SealAndPolish),
            ..sound().film
        },
        traffic: Some(Traffic::Medium),
        ..Survey::new("hardwood", sound().area)
    };
    let found = asked(&survey, &Story::default()).expect("reckoned");
    let by = |act| found.offers.iter().find(|offer| offer.act == act);
    for (act, process) in [
        (Act::Buff, "buff_wood"),
        (Act::Recoat, "recoat_wood_polish"),
        (Act::Strip, "strip_wood_polish"),
    ] {
        let offer = by(act).expect("an offer");
        assert_eq!(offer.process.as_deref(), Some(process));
        assert!(offer.cost.is_some_and(|cost| cost > 0.0), "{offer:?}");
    }
    let leave = found.leave.as_ref().expect("a programme");
    let strip = by(Act::Strip).and_then(|offer| offer.cost).expect("a cost");
    assert!(leave.hand_back > 0.9 * strip, "{} {strip}", leave.hand_back);
}

#[test]
fn a_film_that_no_process_may_renew_gets_no_programme_that_costs_nothing() {
    let survey = Survey {
        asbestos: Asbestos::Confirmed,
        ..sound()
    };
    assert_eq!(
        asked(&survey, &Story::default()),
        Err(NotReckoned::NotRenewable)
    );
}

#[test]
fn what_nothing_is_known_of_is_not_reckoned() {
    let of = |kind: Option<FilmKind>| {
        let mut survey = sound();
        survey.film.kind = kind;
        survey.film.coats = None;
        asked(&survey, &Story::default()).err()
    };
    assert_eq!(of(Some(FilmKind::Bare)), Some(NotReckoned::Bare));
    let factory = of(Some(FilmKind::FactoryFinish));
    assert_eq!(factory, Some(NotReckoned::NotFollowed));
    assert_eq!(of(None), Some(NotReckoned::FilmUnknown));
    assert_eq!(Act::ALL.len(), 6);
}

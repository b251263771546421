//! Programmes for floors with another film than polish, held to hand reckoning, to calendars and to laws.

#![expect(clippy::expect_used, reason = "a test that cannot be set up must stop")]

use domain::{
    programme::{
        Act, Comparison, Limit, NotReckoned, Offer, Programme, passage::Passing, wear::Use,
        worth::DiscountRate,
    },
    survey::{Film, FilmCondition, FilmKind, Survey, Traffic},
};

use crate::programmes::{Story, asked, sound};

fn floor(material: &str, kind: FilmKind, condition: Option<FilmCondition>) -> Survey {
    Survey {
        film: Film {
            kind: Some(kind),
            coats: None,
            condition,
        },
        traffic: Some(Traffic::Medium),
        ..Survey::new(material, sound().area)
    }
}

fn lacquered() -> Survey {
    floor("hardwood", FilmKind::Seal, Some(FilmCondition::Sound))
}

fn counted(coats: i64) -> Story {
    Story {
        seal_coats: Some(coats),
        grip: vec![(5, 50.0)],
        months: Some(120),
        ..Story::default()
    }
}

fn offer(found: &Comparison, act: Act) -> &Offer {
    found
        .offers
        .iter()
        .find(|offer| offer.act == act)
        .expect("told")
}

fn present(programme: &Programme) -> f64 {
    programme.present(DiscountRate::of(0.035).expect("a rate"))
}

fn found(survey: &Survey, story: &Story) -> Comparison {
    asked(survey, story).expect("reckoned")
}

fn best(found: &Comparison) -> &Programme {
    found.best.as_ref().expect("a programme")
}

fn concrete() -> Survey {
    floor(
        "concrete_sealed",
        FilmKind::Seal,
        Some(FilmCondition::Sound),
    )
}

fn oiled(condition: Option<FilmCondition>) -> Survey {
    floor("hardwood_waxed", FilmKind::WaxOrOil, condition)
}

/// By hand, medium traffic: two coats laid and one screened off in 730 days; two coats in 730; one feed in 365.
#[test]
fn a_renewal_wears_off_over_its_usual_days() {
    let month = 365.25 / 12.0;
    for (survey, a_month) in [
        (lacquered(), month / 730.0),
        (concrete(), 2.0 * month / 730.0),
        (oiled(Some(FilmCondition::Sound)), month / 365.0),
    ] {
        let wear = found(&survey, &counted(3)).wear;
        assert!((wear.coats_per_month - a_month).abs() < 1e-9, "{wear:?}");
        let basis = wear.basis.last().expect("a reason");
        assert_eq!(basis.id, "film_wear");
        assert!(basis.source.starts_with("reckoned"), "{}", basis.source);
        // Without matting 3.3 times as much.
        let story = Story {
            told: Use {
                matting_m: Some(0.0),
                ..Use::default()
            },
            ..counted(3)
        };
        let bare = found(&survey, &story).wear.coats_per_month;
        assert!((bare / a_month - 3.3).abs() < 1e-9);
    }
}

#[test]
fn no_programme_that_is_offered_wears_a_film_through() {
    let mut n_allowed = 0;
    for (survey, story) in [
        (lacquered(), counted(3)),
        (lacquered(), Story::default()),
        (concrete(), counted(2)),
        (concrete(), Story::default()),
        (oiled(Some(FilmCondition::Sound)), Story::default()),
        (oiled(Some(FilmCondition::Worn)), Story::default()),
    ] {
        let found = found(&survey, &story);
        let kept = best(&found);
        assert!(kept.is_allowed() && !kept.may_wear_through, "{survey:?}");
        let least = found.objectives[0].expect("a figure");
        let others = [&found.fixed, &found.longer, &found.leave, &found.wait];
        for (other, weighed) in others.into_iter().zip(&found.objectives[1..]) {
            let Some(other) = other else { continue };
            let weighed = weighed.expect("a figure");
            // What wears through costs less at times; it is not offered, whatever it costs.
            if other.is_allowed() {
                n_allowed += 1;
                assert!(weighed >= least - 1e-6 * least, "{survey:?}");
            }
        }
        let leave = found.leave.as_ref().expect("a programme");
        let (from, most) = leave.thin_from.expect("worn through");
        assert!(from >= 1 && most > 0.9, "{from} {most}");
        assert!(
            leave
                .months
                .windows(2)
                .all(|pair| pair[1].below >= pair[0].below - 1e-9)
        );
    }
    assert!(n_allowed > 0);
}

/// A film that lasts for longer than is asked for is left alone, and nothing is saved by anything else.
#[test]
fn a_thick_film_is_left_alone() {
    let survey = Survey {
        traffic: Some(Traffic::Light),
        ..lacquered()
    };
    let story = Story {
        months: Some(12),
        ..counted(5)
    };
    let found = found(&survey, &story);
    let leave = found.leave.as_ref().expect("a programme");
    assert!(leave.is_allowed());
    assert!((best(&found).jobs()[0] - 12.0).abs() < 1e-9);
    assert!((present(best(&found)) - present(leave)).abs() < 1e-6);
}

/// By hand, as if wear were even and coats were known: from 2.945 coats down to one, then two coats at a time, discounted one by one.
#[test]
fn the_best_costs_about_what_renewals_at_the_last_coat_cost_by_hand() {
    let found = found(&concrete(), &counted(3));
    let price = offer(&found, Act::Recoat).cost.expect("a price");
    let a_month = found.wear.coats_per_month;
    let (mut film, mut by_hand) = (found.coats.likely, 0.0);
    for month in 0..120 {
        if film - a_month < 1.0 {
            by_hand += price * 1.035_f64.powf(-f64::from(month) / 12.0);
            film += 2.0;
        }
        film -= a_month;
    }
    let best = best(&found);
    let reckoned = present(best) - best.hand_back * 1.035_f64.powf(-10.0);
    let beside = reckoned / by_hand;
    assert!((0.9..1.15).contains(&beside), "{reckoned} {by_hand}");
}

#[test]
fn wood_is_sanded_only_where_its_seal_cannot_be_coated_again() {
    let whole = found(&lacquered(), &counted(3));
    let by = |found: &Comparison, act| offer(found, act).process.clone();
    assert_eq!(
        by(&whole, Act::Recoat).as_deref(),
        Some("screen_and_recoat_wood")
    );
    assert_eq!(by(&whole, Act::Strip).as_deref(), Some("sand_wood"));
    assert_eq!(offer(&whole, Act::Strip).cost, None);
    let strips = |found: &Comparison| best(found).jobs()[Act::ALL.len() - 1];
    assert!(strips(&whole) < 1e-9);
    let worn = Survey {
        film: Film {
            condition: Some(FilmCondition::Worn),
            ..lacquered().film
        },
        ..lacquered()
    };
    let worn = found(&worn, &Story::default());
    assert_eq!(offer(&worn, Act::Recoat).cost, None);
    assert!(offer(&worn, Act::Strip).cost.is_some_and(|cost| cost > 0.0));
    assert!((best(&worn).months[0].acts[Act::ALL.len() - 1] - 1.0).abs() < 1e-9);
    // Oil is fed again whether worn or not, and nothing takes it down.
    let oil = found(&oiled(Some(FilmCondition::Worn)), &Story::default());
    assert!(oil.offers.iter().all(|offer| offer.act != Act::Strip));
    assert!(offer(&oil, Act::Recoat).cost.is_some_and(|cost| cost > 0.0));
    assert!(oil.look.is_none() && oil.forecasts.iter().all(|one| one.what != Limit::Gloss));
}

#[test]
fn a_film_of_which_nobody_told_gets_no_programme() {
    let of = |survey: &Survey| asked(survey, &Story::default()).err();
    assert_eq!(of(&oiled(None)), Some(NotReckoned::FilmLeftUnknown));
    let unseen = floor("hardwood", FilmKind::Seal, None);
    assert_eq!(of(&unseen), Some(NotReckoned::FilmLeftUnknown));
    let peeling = floor("hardwood", FilmKind::Seal, Some(FilmCondition::Peeling));
    assert_eq!(of(&peeling), Some(NotReckoned::FilmLeftUnknown));
    // Below the grip that is kept there is none either, at whatever price.
    let story = Story {
        grip: vec![(5, 30.0)],
        ..counted(3)
    };
    assert_eq!(found(&lacquered(), &story).best, None);
    // What new coats do to a grip that just holds is not known: they are not credited and not blamed.
    let story = Story {
        grip: vec![(5, 36.5)],
        ..counted(3)
    };
    assert!(best(&found(&lacquered(), &story)).is_allowed());
}

#[test]
fn more_traffic_never_costs_less_and_more_coats_never_more() {
    let cost = |traffic: Traffic, coats: i64, told: Use| {
        let survey = Survey {
            traffic: Some(traffic),
            ..lacquered()
        };
        let story = Story {
            told,
            ..counted(coats)
        };
        present(best(&found(&survey, &story)))
    };
    let usual = Use::default();
    let rising = |costs: &[f64]| {
        let near = |pair: &[f64]| pair[1] >= pair[0] * (1.0 - 1e-9);
        assert!(costs.windows(2).all(near), "{costs:?}");
        assert!(costs[costs.len() - 1] > costs[0], "{costs:?}");
    };
    rising(&[Traffic::Light, Traffic::Medium, Traffic::Heavy].map(|t| cost(t, 3, usual)));
    rising(&[4, 3, 2].map(|coats| cost(Traffic::Medium, coats, usual)));
    let matted = |length| Use {
        matting_m: Some(length),
        ..usual
    };
    rising(&[6.1, 4.6, 1.5, 0.0].map(|length| cost(Traffic::Medium, 3, matted(length))));
}

/// Counted coats have dates: about (2.95 - 1) coats at 0.0417 a month, 47 months, for the middle one.
#[test]
fn a_seal_that_was_counted_has_dates() {
    let found = found(&lacquered(), &counted(3));
    let last = found
        .forecasts
        .iter()
        .find(|one| one.what == Limit::LastCoat);
    let passing = last.expect("told").passing.expect("dates");
    assert!(
        matches!(passing[1], Passing::In(1_200..=1_600)),
        "{passing:?}"
    );
}

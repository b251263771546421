//! What no row of the data files may ever lead to: laws across all processes, floors and wishes.

#![expect(
    clippy::expect_used,
    reason = "a law that cannot be put to the test must stop"
)]

use domain::{
    knowledge::LaysSeal,
    plan::{Plan, Verdict},
    quantity::{Area, Length},
    survey::{
        Asbestos, Consent, Film, FilmCondition, FilmKind, Goal, Limits, Soil, Surroundings, Survey,
        Traffic, Ventilation, Wish,
    },
};
use proptest::prelude::*;

use crate::{
    common::{base, climate, keys},
    floors::{
        any_climate, any_process, any_survey, any_wish, card, cases, film_for, named, plan_in,
    },
};

fn plan(survey: &Survey, wish: &Wish) -> Plan {
    plan_in(base(), survey, wish, &climate(), &card("GBP"))
}

/// A floor of which everything is known that anybody asks for.
fn known(material: &str, film: Film) -> Survey {
    Survey {
        perimeter: Some(Length::from_mm(40_000)),
        built_year: Some(2012),
        laid_on: chrono::NaiveDate::from_ymd_opt(2012, 5, 1),
        traffic: Some(Traffic::Medium),
        soil: Some(Soil::Normal),
        occupied: false,
        moisture_rh_pct: Some(60.0),
        ptv_wet: Some(50.0),
        gloss_loss_pct: Some(20.0),
        black_adhesive: Some(false),
        heritage_consent: Some(Consent::Given),
        film,
        surroundings: Surroundings {
            ventilation: Some(Ventilation::Natural),
            ignition_source: Some(false),
            ..Surroundings::default()
        },
        ..Survey::new(material, Area::from_mm2(100_000_000))
    }
}

#[test]
fn nothing_burnishes_strips_scrubs_dewaxes_or_sands_where_asbestos_is_confirmed() {
    let mut n_tried = 0;
    for process in &base().processes {
        let works_it = process.burnishes || process.strips || process.sands;
        if !(works_it || process.scrubs || process.dewaxes) {
            continue;
        }
        for material in &base().materials {
            for coats in [1, 3, 5, 9] {
                let film = Film {
                    coats: Some(coats),
                    ..film_for(&process.key)
                };
                let floor = Survey {
                    asbestos: Asbestos::Confirmed,
                    ..known(&material.key, film)
                };
                let plan = plan(
                    &floor,
                    &named(&process.key, Goal::Restore, Limits::default()),
                );
                let what = (&process.key, &material.key);
                assert_eq!(plan.verdict, Verdict::Refused, "{what:?}");
                n_tried += 1;
            }
        }
    }
    assert!(n_tried >= 500, "{n_tried}");
}

/// Where a floor-care lead has nothing to offer but cleaning, and why that is right.
fn is_past_us(material: &str, film: Film) -> bool {
    let row = base().material(material).expect("a material");
    let worn = matches!(
        film.condition,
        Some(condition) if !matches!(condition, FilmCondition::Sound | FilmCondition::Soiled)
    );
    let takes_seal = row.wood && row.seal != "never";
    // Nobody knows what it is; it swells at the first wet step, and its film is no seal on wood, which is screened or
    // sanded; its own wear coat cannot be renewed.
    !row.identified
        || (row.mop != "wet" && !(takes_seal && film.kind == Some(FilmKind::Seal)))
        || (row.factory_finished && worn)
}

#[test]
fn a_film_in_need_of_work_is_no_dead_end() {
    let mut ends = Vec::new();
    for material in &base().materials {
        for kind in [FilmKind::Seal, FilmKind::Polish, FilmKind::SealAndPolish] {
            for condition in FilmCondition::ALL {
                for coats in [1, 2, 4, 9, 10, 11, 12, 13, 15] {
                    let film = Film {
                        kind: Some(kind),
                        coats: Some(coats),
                        condition: Some(*condition),
                    };
                    if is_past_us(&material.key, film) {
                        continue;
                    }
                    let made = plan(&known(&material.key, film), &Wish::to(Goal::Restore));
                    let is_end = made.verdict == Verdict::Refused
                        && made.referral.is_none()
                        && keys(&made.instead).iter().all(|key| {
                            let row = base().process(key).expect("a process");
                            row.goals.iter().any(|goal| goal == "clean")
                        });
                    if is_end || !(matches!(made.verdict, Verdict::Refused) || made.work.is_some())
                    {
                        let rules: Vec<_> = made.findings.iter().map(|f| f.rule.as_str()).collect();
                        ends.push(format!(
                            "{} {} {} {coats}: {} {} {:?}",
                            material.key,
                            kind.word(),
                            condition.word(),
                            made.process,
                            made.verdict.word(),
                            &rules[..rules.len().min(3)]
                        ));
                    }
                }
            }
        }
    }
    assert!(ends.is_empty(), "{}\n{}", ends.len(), ends.join("\n"));
}

proptest! {
    #![proptest_config(cases(512))]

    #[test]
    fn nobody_floods_the_only_way_out_of_people(floor in any_survey(), process in any_process(), goal in prop::sample::select(Goal::ALL)) {
        let floor = Survey { sole_escape_route: true, occupied: true, ..floor };
        let made = plan(&floor, &named(&process, goal, Limits::default()));
        let row = base().process(&process).expect("a process");
        prop_assert!(made.work.is_none() || (row.wetness < 2 && !row.closes_floor), "{process}");
    }

    #[test]
    fn no_film_is_laid_on_one_that_nobody_has_looked_at(floor in any_survey(), wish in any_wish(), air in any_climate()) {
        let made = plan_in(base(), &floor, &wish, &air, &card("GBP"));
        if let Some(work) = &made.work {
            let row = base().process(&made.process).expect("a process");
            let lays = work.steps.iter().any(|step| step.coat.is_some()) || row.impregnates;
            let lies = matches!(floor.film.kind, Some(FilmKind::Seal | FilmKind::Polish | FilmKind::SealAndPolish));
            let unknown = floor.film.kind.is_none() || (lies && !row.strips && floor.film.condition.is_none());
            prop_assert!(!lays || !unknown, "{}", made.process);
            prop_assert!(!(row.lays_seal == LaysSeal::Always && floor.film.kind.is_none()));
        }
    }

    #[test]
    fn who_is_refused_a_process_is_offered_the_one_that_is_right(floor in any_survey(), process in any_process()) {
        let refused = plan(&floor, &named(&process, Goal::Restore, Limits::default()));
        prop_assume!(refused.verdict == Verdict::Refused);
        let right = plan(&floor, &Wish::to(Goal::Restore));
        if right.work.is_some() && right.process != process {
            prop_assert!(keys(&refused.instead).contains(&right.process.as_str()), "{} instead of {process}", right.process);
        }
    }
}

//! Of several processes that are right and allowed the one answers that is best by the stated criteria, in the order
//! that the caller may set, and no order leads past a refusal.
//!
//! Source of the stated order: common practice, no published source. Each claim is checked on the figures that the plan
//! itself shows of its candidates.

#![expect(clippy::expect_used, reason = "a test that cannot be set up must stop")]

use domain::{
    plan::{Candidate, DraftPlanError, Plan, Verdict},
    survey::{Criterion, Film, FilmCondition, FilmKind, Goal, Soil, Survey, Wish},
};

use crate::common::{corridor, golden_card, plan, try_plan};

/// Floors and goals for which more than one process is right and allowed.
fn open_choices() -> Vec<(Survey, Goal)> {
    let film = |coats, condition| Film {
        kind: Some(FilmKind::Polish),
        coats: Some(coats),
        condition: Some(condition),
    };
    vec![
        (
            Survey {
                soil: Some(Soil::Light),
                ..corridor()
            },
            Goal::Clean,
        ),
        (
            Survey {
                soil: Some(Soil::Light),
                ..corridor()
            },
            Goal::Maintain,
        ),
        (
            Survey {
                film: film(6, FilmCondition::Sound),
                gloss_loss_pct: Some(20.0),
                soil: Some(Soil::Light),
                ..corridor()
            },
            Goal::Maintain,
        ),
    ]
}

fn is_open(candidate: &Candidate) -> bool {
    let allowed = matches!(
        candidate.verdict,
        Verdict::Allowed | Verdict::AllowedWithWarnings
    );
    allowed && candidate.suits == Some(true)
}

/// The figure by which a criterion compares; lower is better.
fn figure(candidate: &Candidate, criterion: Criterion) -> i64 {
    let n = |count: usize| i64::try_from(count).expect("few");
    match criterion {
        Criterion::Safety => n(candidate.risk.safety),
        Criterion::Substrate => n(candidate.risk.substrate),
        Criterion::Warranty => n(candidate.risk.warranty),
        Criterion::Appearance => n(candidate.risk.appearance),
        Criterion::CostPerYear => candidate.net_per_year.expect("our own work").amount,
        Criterion::Downtime => candidate.closed_min.expect("our own work"),
        Criterion::Water => candidate.water.expect("our own work").ml_half_even(),
        Criterion::Voc => candidate.voc_g.unwrap_or(i64::MAX),
    }
}

fn wished(survey: &Survey, goal: Goal, priorities: &[Criterion]) -> Plan {
    let wish = Wish {
        priorities: priorities.to_vec(),
        ..Wish::to(goal)
    };
    plan(survey, &wish, &golden_card())
}

#[test]
fn the_first_criterion_decides_and_the_next_breaks_its_ties() {
    let mut n_turned = 0;
    for (survey, goal) in open_choices() {
        let stated = wished(&survey, goal, &[]);
        assert_eq!(stated.priorities, Criterion::STATED);
        for first in Criterion::ALL {
            for second in Criterion::ALL {
                let plan = wished(&survey, goal, &[*first, *second]);
                let open: Vec<&Candidate> =
                    plan.candidates.iter().filter(|one| is_open(one)).collect();
                assert!(open.len() > 1, "{goal:?} offers a choice");
                let chosen = open.first().expect("one");
                assert_eq!(chosen.process, plan.process);
                let key =
                    |candidate: &Candidate| (figure(candidate, *first), figure(candidate, *second));
                let best = open.iter().map(|one| key(one)).min().expect("one");
                assert_eq!(
                    key(chosen),
                    best,
                    "{first:?}, then {second:?}, for {goal:?}"
                );
                n_turned += usize::from(plan.process != stated.process);
            }
        }
    }
    assert!(n_turned > 0, "no order of criteria turned any choice");
}

#[test]
fn the_cheapest_process_is_not_chosen_where_it_is_refused() {
    // Recoating is cheaper than stripping, and a peeling film takes no new coat.
    let film = Film {
        condition: Some(FilmCondition::Peeling),
        ..corridor().film
    };
    let survey = Survey { film, ..corridor() };
    let of = |plan: &Plan, process: &str| {
        let found = plan.candidates.iter().find(|one| one.process == process);
        found.cloned().expect("a candidate")
    };
    for first in Criterion::ALL {
        let plan = wished(&survey, Goal::Restore, &[*first]);
        assert_eq!(plan.process, "machine_strip_and_refinish", "{first:?}");
        let (strip, recoat) = (of(&plan, &plan.process), of(&plan, "scrub_and_recoat"));
        assert_eq!(recoat.verdict, Verdict::Refused);
        let net = |one: &Candidate| one.net.expect("our own work").amount;
        assert!(net(&recoat) < net(&strip));
    }
}

#[test]
fn a_criterion_that_is_named_twice_counts_once() {
    let (survey, goal) = open_choices().swap_remove(0);
    let plan = wished(&survey, goal, &[Criterion::Water, Criterion::Water]);
    let expected = [
        Criterion::Water,
        Criterion::Safety,
        Criterion::Substrate,
        Criterion::Warranty,
        Criterion::CostPerYear,
        Criterion::Appearance,
    ];
    assert_eq!(plan.priorities, expected);
}

#[test]
fn a_wish_for_what_nobody_knows_is_refused_by_its_name() {
    let named = |wish: Wish| try_plan(&corridor(), &wish, &golden_card()).err();
    let restore = || Wish::to(Goal::Restore);
    let tool = || {
        Some(DraftPlanError::UnknownTool {
            key: "broomstick".to_owned(),
        })
    };
    let key = || Some("broomstick".to_owned());
    assert_eq!(
        named(Wish {
            machine: key(),
            ..restore()
        }),
        tool()
    );
    assert_eq!(
        named(Wish {
            pad: key(),
            ..restore()
        }),
        tool()
    );
    let unknown = DraftPlanError::UnknownProcess {
        key: "broomstick".to_owned(),
    };
    assert_eq!(
        named(Wish {
            process: key(),
            ..restore()
        }),
        Some(unknown)
    );
    let mut product = restore();
    product
        .products
        .insert("polish".to_owned(), "broomstick".to_owned());
    let unknown = DraftPlanError::UnknownProduct {
        class: "polish".to_owned(),
        key: "broomstick".to_owned(),
    };
    assert_eq!(named(product), Some(unknown));
}

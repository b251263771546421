//! Cautions: shown where the work or the floor calls for them and nowhere else, worst harm first, each with its reason.

use std::collections::BTreeSet;

use domain::{
    knowledge::Fact,
    plan::{CalledFor, Plan, Told},
};
use proptest::prelude::*;

use crate::{
    common::{base, climate},
    floors::{any_survey, any_wish, card, cases, plan_in},
    rules_are_watched::Scenario,
};

fn keys(plan: &Plan) -> Vec<&str> {
    let called = plan.cautions.iter();
    called.map(|called| called.caution.key.as_str()).collect()
}

fn rows() -> impl Iterator<Item = &'static str> {
    let lines = include_str!("cautions.txt").lines();
    lines.filter(|line| !line.is_empty() && !line.starts_with('#'))
}

#[test]
fn each_work_shows_its_cautions_in_order_and_no_others() {
    let card = card("GBP");
    let mut wrong = Vec::new();
    for line in rows() {
        let scenario = Scenario::read(line);
        let shown = keys(&scenario.plan(&card)).join(" ");
        if shown != scenario.expected {
            wrong.push(format!("{line}\n    is {shown}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_table_has_a_plan_with_each_caution_and_one_without() {
    let shown: Vec<BTreeSet<&str>> = rows()
        .filter_map(|line| line.rsplit('|').next())
        .map(|keys| keys.split_whitespace().collect())
        .collect();
    for caution in &base().cautions {
        let key = caution.key.as_str();
        let n_shown = shown.iter().filter(|keys| keys.contains(key)).count();
        assert!(n_shown > 0, "no plan shows {key}");
        let is_always = caution.when.is_always();
        assert_eq!(n_shown == shown.len(), is_always, "every plan shows {key}");
    }
}

#[test]
fn a_caution_tells_what_called_for_it() {
    let line = "damp_mop | vinyl_sheet | crew=1 zone=washroom | ";
    let plan = Scenario::read(line).plan(&card("GBP"));
    let because = |key: &str| -> Vec<(&str, Told)> {
        let called = plan.cautions.iter().filter(|row| row.caution.key == key);
        let facts = called.flat_map(|row| &row.because);
        facts
            .map(|one| (one.fact.name(), one.told.clone()))
            .collect()
    };
    assert_eq!(because("label_first"), []);
    let alone = [
        ("plan.crew_size", Told::Number(1.0)),
        ("survey.occupied", Told::Flag(false)),
    ];
    assert_eq!(because("lone_work"), alone);
    // Not that it is no spill: what does not hold called for nothing.
    let zone = [
        ("survey.zone", Told::Word("washroom".to_owned())),
        ("process.wetness", Told::Number(1.0)),
    ];
    assert_eq!(because("body_fluids"), zone);
}

/// Whether nothing but wetness or size called for it, which every mop and every floor has.
fn is_boilerplate(called: &CalledFor) -> bool {
    let common = [Fact::ProcessWetness, Fact::SurveyAreaM2];
    called.because.iter().all(|one| common.contains(&one.fact))
}

proptest! {
    #![proptest_config(cases(256))]

    #[test]
    fn every_caution_has_a_reason_and_the_worst_stands_first(floor in any_survey(), wish in any_wish()) {
        let plan = plan_in(base(), &floor, &wish, &climate(), &card("GBP"));
        let order: Vec<_> = plan.cautions.iter().map(|row| (row.caution.harm, row.caution.rank)).collect();
        prop_assert!(order.is_sorted_by(|a, b| a < b), "{order:?}");
        prop_assert!(keys(&plan).first() == Some(&"label_first"));
        for called in &plan.cautions {
            let may_be = ["label_first", "slip_cordon"].contains(&called.caution.key.as_str());
            prop_assert!(may_be || !is_boilerplate(called), "{}", called.caution.key);
        }
    }
}

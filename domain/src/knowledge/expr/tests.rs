//! Conditions: three-valued logic, what is missing, and what is refused.

use super::{Condition, Truth};
use crate::knowledge::fact::{Fact, Facts};

fn check(text: &str, facts: &Facts<'_>, expected: Truth) {
    assert_eq!(
        Condition::parse(text).expect(text).holds(facts),
        expected,
        "{text}"
    );
}

#[test]
fn an_unknown_fact_decides_nothing_by_itself() {
    // Kleene's strong three-valued logic: true or X is true, false and X is false.
    let mut facts = Facts::new();
    facts.set(Fact::MaterialPolish, "never");
    facts.set(Fact::ProcessLaysPolish, true);
    check(
        "material.polish == 'never' and process.lays_polish",
        &facts,
        Truth::True,
    );
    check("survey.built_year < 1990", &facts, Truth::Undecided);
    check(
        "survey.built_year < 1990 or process.lays_polish",
        &facts,
        Truth::True,
    );
    check(
        "survey.built_year < 1990 and not process.lays_polish",
        &facts,
        Truth::False,
    );
    check("not (survey.built_year < 1990)", &facts, Truth::Undecided);
    check("known(survey.built_year)", &facts, Truth::False);
    facts.set(Fact::SurveyBuiltYear, 1975.0);
    facts.set(Fact::SurveyAsbestosCutoff, 2000.0);
    check(
        "survey.built_year < survey.asbestos_cutoff",
        &facts,
        Truth::True,
    );
    check(
        "material.polish in ['yes', 'optional']",
        &facts,
        Truth::False,
    );
}

#[test]
fn only_facts_that_could_change_the_answer_are_missing() {
    let mut facts = Facts::new();
    facts.set(Fact::MaterialAsbestosEra, false);
    let condition = Condition::parse(
        "(material.asbestos_era and survey.built_year < 2000) or film.kind == 'polish'",
    );
    assert_eq!(
        condition.expect("parses").missing(&facts),
        vec![Fact::FilmKind]
    );
}

#[test]
fn a_slip_in_a_data_file_is_refused() {
    for text in [
        "material.polsh == 'never'",
        "material.polish == 'nevr'",
        "material.polish",
        "survey.built_year < 'old'",
        "survey.built_year <",
        "process.wetness and",
        "(process.strips",
        "process.strips process.scrubs",
        "film.kind in ['bare'",
        "survey.built_year < material.polish",
        "film.kind < 'bare'",
        "process.strips & process.scrubs",
    ] {
        assert!(Condition::parse(text).is_err(), "{text}");
    }
}

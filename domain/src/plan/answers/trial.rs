//! The answers that are tried, and how each is put into a survey.

use chrono::Duration;

use super::{super::PlanInput, Reply};
use crate::{
    knowledge::{Condition, Fact, FactType, Facts, KnowledgeBase},
    survey::{
        Asbestos, Consent, FilmCondition, FilmKind, Lead, Obstruction, Residue, Soil, Survey,
        Traffic, Ventilation,
    },
};

/// A value that is tried.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Trial {
    Word(&'static str),
    Number {
        value: f64,
        from: Option<(f64, bool)>,
        to: Option<(f64, bool)>,
    },
}

impl Trial {
    pub(super) fn reply(self) -> Reply {
        match self {
            Self::Word(word) => Reply::Words(vec![word]),
            Self::Number { from, to, .. } => Reply::Between { from, to },
        }
    }
}

/// The answers to a yes or no, as the survey's members are written.
const YES: &str = "true";
const NO: &str = "false";

/// The values of a fact that can lead to different plans: each word, yes and no; for a number each limit that the
/// knowledge base sets it, and a value on either side.
pub(super) fn trials(base: &KnowledgeBase, fact: Fact, floor: &Facts<'_>) -> Vec<Trial> {
    match fact.kind() {
        FactType::Word(words) => words.iter().map(|word| Trial::Word(word)).collect(),
        FactType::Number => numbers(&limits(base, fact, floor)),
        FactType::Flag => [YES, NO].map(Trial::Word).to_vec(),
        FactType::Key => Vec::new(),
    }
}

/// The limits that conditions of the knowledge base set to a number, rising, each once.
fn limits(base: &KnowledgeBase, fact: Fact, floor: &Facts<'_>) -> Vec<f64> {
    let mut limits = Vec::new();
    let of_rules = base.rules.iter().map(|rule| &rule.when);
    let of_processes = base.processes.iter().flat_map(|process| {
        let steps = process.steps.iter().map(|step| &step.when);
        steps.chain([&process.on, &process.suits])
    });
    of_rules
        .chain(of_processes)
        .for_each(|condition: &Condition| condition.limits(fact, floor, &mut limits));
    limits.sort_by(f64::total_cmp);
    limits.dedup();
    limits
}

/// A value below each limit, the limit, and a value above.
fn numbers(limits: &[f64]) -> Vec<Trial> {
    let mut trials = Vec::new();
    let mut below: Option<f64> = None;
    for limit in limits {
        let value = match below {
            Some(below) => f64::midpoint(below, *limit),
            None if *limit >= 1.0 => limit - 1.0,
            None => limit / 2.0,
        };
        trials.push(Trial::Number {
            value,
            from: below.map(|below| (below, false)),
            to: Some((*limit, false)),
        });
        trials.push(Trial::Number {
            value: *limit,
            from: Some((*limit, true)),
            to: Some((*limit, true)),
        });
        below = Some(*limit);
    }
    if let Some(limit) = below {
        trials.push(Trial::Number {
            value: limit + 1.0,
            from: Some((limit, false)),
            to: None,
        });
    }
    trials
}

/// The survey with these answers in it; `None` where one of them cannot be put into a survey.
pub(super) fn told(input: &PlanInput<'_>, answers: &[(Fact, Trial)]) -> Option<Survey> {
    let mut survey = input.survey.clone();
    for (fact, trial) in answers {
        match *trial {
            Trial::Word(word) => tell_word(&mut survey, *fact, word)?,
            Trial::Number { value, from, to } => {
                let exact = from.is_some() && from == to;
                tell_number(input, &mut survey, *fact, value, exact)?;
            }
        }
    }
    Some(survey)
}

fn tell_word(survey: &mut Survey, fact: Fact, word: &str) -> Option<()> {
    match fact {
        // That nobody has tested is what the question is about, and no answer to it.
        Fact::SurveyAsbestos => {
            survey.asbestos = Asbestos::of(word).filter(|found| *found != Asbestos::Untested)?;
        }
        Fact::SurveyLead => {
            survey.closer.lead = Lead::of(word).filter(|found| *found != Lead::Untested)?;
        }
        Fact::SurveyBlackAdhesive => survey.black_adhesive = Some(word == YES),
        Fact::SurveyIgnitionSource => survey.surroundings.ignition_source = Some(word == YES),
        Fact::SurveyVentilation => survey.surroundings.ventilation = Some(Ventilation::of(word)?),
        Fact::SurveyHeritageConsent => survey.heritage_consent = Some(Consent::of(word)?),
        Fact::SurveyResidue => survey.closer.residue = Some(Residue::of(word)?),
        Fact::SurveySoil => survey.soil = Some(Soil::of(word)?),
        Fact::SurveyTraffic => survey.traffic = Some(Traffic::of(word)?),
        Fact::SurveyObstruction => survey.obstruction = Some(Obstruction::of(word)?),
        Fact::FilmKind => survey.film.kind = Some(FilmKind::of(word)?),
        Fact::FilmCondition => survey.film.condition = Some(FilmCondition::of(word)?),
        _ => return None,
    }
    Some(())
}

fn tell_number(
    input: &PlanInput<'_>,
    survey: &mut Survey,
    fact: Fact,
    value: f64,
    exact: bool,
) -> Option<()> {
    match fact {
        Fact::SurveyBuiltYear => survey.built_year = Some(i16::try_from(whole(value)?).ok()?),
        // A day is too coarse for an hour that is exactly a limit.
        Fact::SurveyFloorAgeH if exact => return None,
        Fact::SurveyFloorAgeH => {
            let laid = input.now - Duration::hours(whole(value)?);
            survey.laid_on = Some(laid.date_naive().pred_opt()?);
        }
        Fact::SurveyMoistureRhPct => survey.moisture_rh_pct = Some(value),
        Fact::SurveyWearLayerMm => survey.closer.wear_layer_mm = Some(value),
        Fact::SurveyPtvWet => survey.ptv_wet = Some(value),
        Fact::SurveyGlossLossPct => survey.gloss_loss_pct = Some(value),
        Fact::FilmCoats => survey.film.coats = Some(whole(value)?),
        _ => return None,
    }
    Some(())
}

/// The whole number at or below a value.
fn whole(value: f64) -> Option<i64> {
    crate::quantity::whole(value.floor())
}

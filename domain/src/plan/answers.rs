//! What each answer to a question would lead to, found by planning with it, and which questions need not be asked.
//!
//! Rules say which facts are missing; that alone asks too much. Here each possible answer is put into the survey and the
//! floor is planned again, so a question carries the verdict, the process and the price that follow from each answer,
//! and a question none of whose answers changes anything is left out.

use chrono::Duration;

use super::{DraftPlanError, Plan, PlanInput, ProcessRef, Question, Verdict, choice};
use crate::{
    knowledge::{Condition, Fact, FactType, Facts, KnowledgeBase},
    money::Money,
    survey::{Asbestos, FilmCondition, FilmKind, Obstruction, Soil, Survey, Traffic},
};

/// How many combinations of answers are planned at most to find questions that need not be asked.
///
/// Beyond it all are asked: a question too many costs less than a late answer.
const MOST_COMBINATIONS: usize = 128;

/// An answer, or several that lead to the same.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// What is answered.
    pub is: Reply,
    /// What the plan then says.
    pub verdict: Verdict,
    /// The process that it is then about.
    pub process: ProcessRef,
    /// Price before tax, least and most over these answers, where the verdict then allows the work.
    pub net: Option<(Money, Money)>,
    /// The facts that are then still asked for.
    pub then_asks: Vec<String>,
}

/// The values of a fact that an answer stands for.
#[derive(Debug, Clone, PartialEq)]
pub enum Reply {
    /// One of these words.
    Words(Vec<&'static str>),
    /// A number in a range.
    Between {
        /// Its lower end and whether that belongs to it.
        from: Option<(f64, bool)>,
        /// Its upper end and whether that belongs to it.
        to: Option<(f64, bool)>,
    },
}

/// A value that is tried.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Trial {
    Word(&'static str),
    Number {
        value: f64,
        from: Option<(f64, bool)>,
        to: Option<(f64, bool)>,
    },
}

/// What a plan with an answer says.
#[derive(Debug, Clone, PartialEq)]
struct Outcome {
    verdict: Verdict,
    process: ProcessRef,
    net: Option<Money>,
    asks: Vec<String>,
}

impl Outcome {
    /// Whether the two call for the same work at about the same price: within a tenth.
    fn is_like(&self, other: &Self) -> bool {
        self.verdict == other.verdict
            && self.process == other.process
            && match (self.net, other.net) {
                (Some(one), Some(two)) => is_within_a_tenth(one, two),
                (one, two) => one.is_none() && two.is_none(),
            }
    }
}

fn is_within_a_tenth(one: Money, two: Money) -> bool {
    let (least, most) = (one.amount.min(two.amount), one.amount.max(two.amount));
    i128::from(most).saturating_mul(10) <= i128::from(least).saturating_mul(11)
}

/// Adds to each question of a plan what its answers would lead to, and leaves out those that need not be asked.
///
/// A question stays if some answer to it, whatever the answers to the others are, changes the verdict, the process or
/// moves the price by more than a tenth. The question that leaves the fewest others open comes first. The verdict is
/// never changed here.
///
/// # Errors
/// Those of [`super::draft_plan`].
pub fn lead_on(input: &PlanInput<'_>, mut plan: Plan) -> Result<Plan, DraftPlanError> {
    if plan.questions.is_empty() && plan.open_questions.is_empty() {
        return Ok(plan);
    }
    let floor = choice::floor(input)?;
    let mut trials = Vec::new();
    for question in &mut plan.questions {
        trials.push(answer_one(input, &floor, question)?);
    }
    let needed = needed(input, &plan.questions, &trials)?;
    let mut keep = needed.iter().copied();
    plan.questions
        .retain(|_question| keep.next().unwrap_or(true));
    plan.questions.sort_by_key(still_open);
    for question in &mut plan.open_questions {
        answer_one(input, &floor, question)?;
    }
    plan.open_questions.retain(moves_the_price);
    Ok(plan)
}

/// How many questions an answer leaves open in the mean, in thousandths; those that cannot be tried come last.
fn still_open(question: &Question) -> usize {
    let n = |answer: &Answer| match &answer.is {
        Reply::Words(words) => words.len(),
        Reply::Between { .. } => 1,
    };
    let left = |answer: &Answer| answer.then_asks.len().saturating_mul(n(answer));
    let answers = &question.answers;
    let all: usize = answers.iter().map(n).sum();
    let left: usize = answers.iter().map(left).sum();
    left.saturating_mul(1_000)
        .checked_div(all)
        .unwrap_or(usize::MAX)
}

/// Whether the answers to an open question differ in price by more than a tenth, or could not be tried.
fn moves_the_price(question: &Question) -> bool {
    let nets = || question.answers.iter().filter_map(|answer| answer.net);
    let least = nets()
        .map(|(least, _most)| least)
        .min_by_key(|net| net.amount);
    let most = nets()
        .map(|(_least, most)| most)
        .max_by_key(|net| net.amount);
    let verdicts_differ = question
        .answers
        .iter()
        .any(|answer| Some(answer.verdict) != question.answers.first().map(|first| first.verdict));
    match (least, most) {
        (Some(least), Some(most)) => verdicts_differ || !is_within_a_tenth(least, most),
        _ => true,
    }
}

/// Fills the answers of a question in; gives the values that were tried.
fn answer_one(
    input: &PlanInput<'_>,
    floor: &Facts<'_>,
    question: &mut Question,
) -> Result<Vec<Trial>, DraftPlanError> {
    let Some(fact) = Fact::named(&question.fact) else {
        return Ok(Vec::new());
    };
    let mut tried: Vec<Trial> = Vec::new();
    for trial in trials(input.base, fact, floor) {
        let Some(told) = told(input, &[(fact, trial)]) else {
            continue;
        };
        tried.push(trial);
        let found = outcome(input, &told)?;
        let same = |answer: &Answer| {
            answer.verdict == found.verdict
                && answer.process == found.process
                && answer.then_asks == found.asks
        };
        // Numbers are tried in rising order, so only neighbours belong together.
        let place = match trial {
            Trial::Word(_) => question.answers.iter().position(same),
            Trial::Number { .. } => question
                .answers
                .last()
                .filter(|answer| same(answer))
                .map(|_answer| question.answers.len().saturating_sub(1)),
        };
        if let Some(answer) = place.and_then(|place| question.answers.get_mut(place)) {
            widen(answer, trial, found.net);
        } else {
            question.answers.push(Answer {
                is: trial.reply(),
                verdict: found.verdict,
                process: found.process,
                net: found.net.map(|net| (net, net)),
                then_asks: found.asks,
            });
        }
    }
    Ok(tried)
}

/// Adds a value to an answer that leads to the same.
fn widen(answer: &mut Answer, trial: Trial, net: Option<Money>) {
    match (&mut answer.is, trial) {
        (Reply::Words(words), Trial::Word(word)) => words.push(word),
        (Reply::Between { to, .. }, Trial::Number { to: end, .. }) => *to = end,
        (Reply::Words(_) | Reply::Between { .. }, _) => {}
    }
    answer.net = match (answer.net, net) {
        (Some((least, most)), Some(net)) => Some((
            if net.amount < least.amount {
                net
            } else {
                least
            },
            if net.amount > most.amount { net } else { most },
        )),
        (known, net) => known.or_else(|| net.map(|net| (net, net))),
    };
}

impl Trial {
    fn reply(self) -> Reply {
        match self {
            Self::Word(word) => Reply::Words(vec![word]),
            Self::Number { from, to, .. } => Reply::Between { from, to },
        }
    }
}

/// Which questions matter: one whose answers change nothing, whatever the others are, does not.
fn needed(
    input: &PlanInput<'_>,
    questions: &[Question],
    trials: &[Vec<Trial>],
) -> Result<Vec<bool>, DraftPlanError> {
    let all = vec![true; questions.len()];
    let facts: Vec<Option<Fact>> = questions
        .iter()
        .map(|question| Fact::named(&question.fact))
        .collect();
    let n_values: Vec<usize> = trials.iter().map(|values| values.len().max(1)).collect();
    let n_all = n_values
        .iter()
        .try_fold(1_usize, |product, n| product.checked_mul(*n));
    let Some(n_all) = n_all.filter(|n| *n <= MOST_COMBINATIONS) else {
        return Ok(all);
    };
    let mut outcomes = Vec::with_capacity(n_all);
    for index in 0..n_all {
        let mut rest = index;
        let mut given = Vec::new();
        for ((fact, values), n) in facts.iter().zip(trials).zip(&n_values) {
            let value = values.get(rest.checked_rem(*n).unwrap_or(0));
            rest = rest.checked_div(*n).unwrap_or(0);
            if let (Some(fact), Some(value)) = (fact, value) {
                given.push((*fact, *value));
            }
        }
        let Some(told) = told(input, &given) else {
            return Ok(all);
        };
        outcomes.push(outcome(input, &told)?);
    }
    let mut needed = all.clone();
    let mut stride = 1_usize;
    for (place, n) in n_values.iter().enumerate() {
        let matters = trials.get(place).is_none_or(Vec::is_empty)
            || (0..n_all).any(|index| {
                let digit = index
                    .checked_div(stride)
                    .and_then(|quotient| quotient.checked_rem(*n))
                    .unwrap_or(0);
                let first = index.saturating_sub(digit.saturating_mul(stride));
                match (outcomes.get(index), outcomes.get(first)) {
                    (Some(here), Some(there)) => !here.is_like(there),
                    _ => true,
                }
            });
        if let Some(slot) = needed.get_mut(place) {
            *slot = matters;
        }
        stride = stride.saturating_mul(*n);
    }
    // Where no single answer matters the rules still wait for one: nothing is guessed.
    Ok(if needed.contains(&true) { needed } else { all })
}

/// The plan's outcome for a survey.
fn outcome(input: &PlanInput<'_>, survey: &Survey) -> Result<Outcome, DraftPlanError> {
    let plan = choice::choose(&PlanInput { survey, ..*input })?;
    Ok(Outcome {
        verdict: plan.verdict,
        process: ProcessRef {
            key: plan.process,
            name: plan.process_name,
        },
        net: plan.work.map(|work| work.cost.net),
        asks: plan
            .questions
            .into_iter()
            .map(|question| question.fact)
            .collect(),
    })
}

/// The values of a fact that can lead to different plans: each word; for a number each limit that the knowledge base
/// sets it, and a value on either side.
fn trials(base: &KnowledgeBase, fact: Fact, floor: &Facts<'_>) -> Vec<Trial> {
    match fact.kind() {
        FactType::Word(words) => words.iter().map(|word| Trial::Word(word)).collect(),
        FactType::Number => numbers(&limits(base, fact, floor)),
        FactType::Flag | FactType::Key => Vec::new(),
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
fn told(input: &PlanInput<'_>, answers: &[(Fact, Trial)]) -> Option<Survey> {
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

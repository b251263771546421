//! What each answer to a question would lead to, found by planning with it, and which questions need not be asked.
//!
//! Rules say which facts are missing; that alone asks too much. Here each possible answer is put into the survey and the
//! floor is planned again, so a question carries the verdict, the process and the price that follow from each answer,
//! and a question none of whose answers changes anything is left out.

mod trial;

use std::rc::Rc;

use trial::{Trial, told, trials};

use super::{
    DraftPlanError, Plan, PlanInput, ProcessRef, Question, Verdict, choice, fit::window_fit,
    waits::RoomAir,
};
use crate::{
    knowledge::{Fact, Facts},
    money::Money,
    survey::Survey,
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

/// Says whether the work of a plan fits the access window and which ways would make it fit, adds to each question what its answers would lead to, and leaves out those that need not be asked.
///
/// A question stays if some answer to it, whatever the answers to the others are, changes the verdict, the process or
/// moves the price by more than a tenth. The question that leaves the fewest others open comes first. The verdict is
/// never changed here.
///
/// # Errors
/// Those of [`super::draft_plan`].
pub fn lead_on(input: &PlanInput<'_>, mut plan: Plan) -> Result<Plan, DraftPlanError> {
    plan.window = window_fit(input, &plan)?;
    if plan.questions.is_empty() && plan.open_questions.is_empty() {
        return Ok(plan);
    }
    let (floor, room) = choice::floor(input)?;
    let known = (&floor, &room);
    let mut trials = Vec::new();
    for question in &mut plan.questions {
        trials.push(answer_one(input, known, question)?);
    }
    let needed = needed((input, &room), &plan.questions, &trials)?;
    let mut keep = needed.iter().copied();
    plan.questions
        .retain(|_question| keep.next().unwrap_or(true));
    plan.questions.sort_by_key(still_open);
    for question in &mut plan.open_questions {
        answer_one(input, known, question)?;
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
    (floor, room): (&Facts<'_>, &Rc<RoomAir>),
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
        let found = outcome((input, room), &told)?;
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

/// Which questions matter: one whose answers change nothing, whatever the others are, does not.
fn needed(
    (input, room): (&PlanInput<'_>, &Rc<RoomAir>),
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
        outcomes.push(outcome((input, room), &told)?);
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
fn outcome(
    (input, room): (&PlanInput<'_>, &Rc<RoomAir>),
    survey: &Survey,
) -> Result<Outcome, DraftPlanError> {
    let (plan, net) = choice::foresee(&PlanInput { survey, ..*input }, room)?;
    Ok(Outcome {
        verdict: plan.verdict,
        process: ProcessRef {
            key: plan.process,
            name: plan.process_name,
        },
        net,
        asks: plan
            .questions
            .into_iter()
            .map(|question| question.fact)
            .collect(),
    })
}

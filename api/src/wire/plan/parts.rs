//! The parts of a plan on the wire: rules that fired, facts that are missing, processes that were considered.

use domain::plan::{Answer, Candidate, Finding, Question, Referral, Reply};
use serde::Serialize;
use utoipa::ToSchema;

use super::answer_at::AnswerAtView;
use crate::wire::{money::MoneyView, number};

/// A key and its name for people.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct Named {
    /// The key.
    #[schema(max_length = 60)]
    pub(crate) key: String,
    /// The name.
    #[schema(max_length = 200)]
    pub(crate) name: String,
}

/// A rule that fired.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct FindingView {
    /// The rule's id; GET /v1/rules/{key} explains it.
    #[schema(max_length = 60)]
    rule: String,
    /// What it does: refuse, ask, warn, open or note.
    #[schema(max_length = 10)]
    severity: &'static str,
    /// What is at risk where it warns: safety, substrate, warranty, appearance or cost.
    #[schema(max_length = 20)]
    concern: &'static str,
    /// What it says.
    #[schema(max_length = 2000)]
    statement: String,
    /// Why.
    #[schema(max_length = 2000)]
    reason: String,
    /// What would clear it.
    #[schema(max_length = 2000)]
    clears: String,
    /// Where the rule comes from.
    #[schema(max_length = 500)]
    source: String,
    /// How far it can be trusted: published, as_quoted, common_practice or from_memory.
    #[schema(max_length = 20)]
    grade: &'static str,
}

impl From<&Finding> for FindingView {
    fn from(finding: &Finding) -> Self {
        Self {
            rule: finding.rule.clone(),
            severity: finding.severity.word(),
            concern: finding.concern.word(),
            statement: finding.statement.clone(),
            reason: finding.reason.clone(),
            clears: finding.clears.clone(),
            source: finding.source.clone(),
            grade: finding.grade.word(),
        }
    }
}

/// A fact that is missing.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct QuestionView {
    /// The fact.
    #[schema(max_length = 60)]
    fact: String,
    /// Where its answer goes.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    answer_at: Option<AnswerAtView>,
    /// The question.
    #[schema(max_length = 2000)]
    ask: String,
    /// How to find out.
    #[schema(max_length = 2000)]
    how_to_find_out: String,
    /// What the answers lead to, in general.
    #[schema(max_length = 2000)]
    leads_to: String,
    /// What each answer would lead to on this floor, found by planning with it; empty where the answer is no word or
    /// number, and in estimates.
    #[schema(max_items = 100)]
    answers: Vec<AnswerView>,
    /// The rules and processes whose answer hangs on it.
    #[schema(max_items = 100)]
    because: Vec<String>,
}

impl From<&Question> for QuestionView {
    fn from(question: &Question) -> Self {
        Self {
            fact: question.fact.clone(),
            answer_at: AnswerAtView::of(&question.fact),
            ask: question.ask.clone(),
            how_to_find_out: question.how.clone(),
            leads_to: question.leads_to.clone(),
            answers: question.answers.iter().map(AnswerView::from).collect(),
            because: question.because.clone(),
        }
    }
}

/// What an answer to a question would lead to: one of the words of `is`, or a number within the bounds that are given.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct AnswerView {
    /// The words, any of which leads to this.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 100)]
    is: Vec<&'static str>,
    /// Lower bound that belongs to the range.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    at_least: Option<f64>,
    /// Lower bound that does not belong to the range.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    more_than: Option<f64>,
    /// Upper bound that belongs to the range.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    at_most: Option<f64>,
    /// Upper bound that does not belong to the range.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    less_than: Option<f64>,
    /// The verdict that follows.
    #[schema(max_length = 30)]
    verdict: &'static str,
    /// The process that it is then about.
    process: Named,
    /// Lowest price before tax over these answers; null unless the work is then allowed.
    net_least: Option<MoneyView>,
    /// Highest price before tax over these answers; null unless the work is then allowed.
    net_most: Option<MoneyView>,
    /// The facts that are then still asked for.
    #[schema(max_items = 100)]
    then_asks: Vec<String>,
}

impl From<&Answer> for AnswerView {
    fn from(answer: &Answer) -> Self {
        let bound = |end: Option<(f64, bool)>, belongs: bool| {
            end.filter(|(_limit, within)| *within == belongs)
                .map(|(limit, _within)| limit)
        };
        let (is, from, to) = match &answer.is {
            Reply::Words(words) => (words.clone(), None, None),
            Reply::Between { from, to } => (Vec::new(), *from, *to),
        };
        Self {
            is,
            at_least: bound(from, true),
            more_than: bound(from, false),
            at_most: bound(to, true),
            less_than: bound(to, false),
            verdict: answer.verdict.word(),
            process: Named {
                key: answer.process.key.clone(),
                name: answer.process.name.clone(),
            },
            net_least: answer.net.map(|(least, _most)| least.into()),
            net_most: answer.net.map(|(_least, most)| most.into()),
            then_asks: answer.then_asks.clone(),
        }
    }
}

/// A trade that takes over.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ReferralView {
    /// Who.
    #[schema(max_length = 200)]
    trade: String,
    /// What they are handed.
    #[schema(max_items = 20)]
    hand_over: Vec<String>,
}

impl From<&Referral> for ReferralView {
    fn from(referral: &Referral) -> Self {
        Self {
            trade: referral.trade.clone(),
            hand_over: referral.hand_over.clone(),
        }
    }
}

/// A process that was considered.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct CandidateView {
    /// The process.
    process: Named,
    /// What the rules say of it.
    #[schema(max_length = 30)]
    verdict: &'static str,
    /// Whether it is the right choice for this floor and wish; null where a missing fact decides.
    suits: Option<bool>,
    /// Why, or why not.
    #[schema(max_length = 2000)]
    why: String,
    /// The rules that refuse it, ask for a fact or warn, hardest first.
    #[schema(max_items = 200)]
    rules: Vec<String>,
    /// Working time of all operatives in hours, without set-up and allowance. Not there, as the figures below, where
    /// another trade does the work: what that costs is not known here.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    labour_h: Option<f64>,
    /// Minutes from closing the floor to walking on it again, done in one go.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    elapsed_min: Option<i64>,
    /// Minutes for which the floor is closed: over all access windows where one was given.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    closed_min: Option<i64>,
    /// Price before tax.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    net: Option<MoneyView>,
    /// Price before tax a year, at the usual interval for the traffic.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    net_per_year: Option<MoneyView>,
    /// Days until it is due again, at this traffic.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 1)]
    due_again_days: Option<i64>,
    /// Clean water in litres, that for diluting included.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    water_l: Option<f64>,
    /// Solvent that goes into the air, in grams; by the middle of its class where a product's data sheet does not say.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    voc_g: Option<i64>,
    /// How many warnings there are, by what is at risk.
    risk: RiskView,
}

/// Warnings by what is at risk.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct RiskView {
    /// People.
    #[schema(minimum = 0)]
    safety: usize,
    /// The floor.
    #[schema(minimum = 0)]
    substrate: usize,
    /// A maker's word or a contract.
    #[schema(minimum = 0)]
    warranty: usize,
    /// The look of the floor.
    #[schema(minimum = 0)]
    appearance: usize,
}

impl From<&Candidate> for CandidateView {
    fn from(candidate: &Candidate) -> Self {
        Self {
            process: Named {
                key: candidate.process.clone(),
                name: candidate.name.clone(),
            },
            verdict: candidate.verdict.word(),
            suits: candidate.suits,
            why: candidate.why.clone(),
            rules: candidate.rules.clone(),
            labour_h: candidate.labour.map(number::hours),
            elapsed_min: candidate.elapsed_min,
            closed_min: candidate.closed_min,
            net: candidate.net.map(Into::into),
            net_per_year: candidate.net_per_year.map(Into::into),
            due_again_days: candidate.due_again_days,
            water_l: candidate.water.map(number::litres),
            voc_g: candidate.voc_g,
            risk: RiskView {
                safety: candidate.risk.safety,
                substrate: candidate.risk.substrate,
                warranty: candidate.risk.warranty,
                appearance: candidate.risk.appearance,
            },
        }
    }
}

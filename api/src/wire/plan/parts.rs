//! The parts of a plan on the wire: rules that fired, facts that are missing, processes that were considered.

use domain::plan::{Candidate, Finding, Question, Referral};
use serde::Serialize;
use utoipa::ToSchema;

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
    /// The question.
    #[schema(max_length = 2000)]
    ask: String,
    /// How to find out.
    #[schema(max_length = 2000)]
    how_to_find_out: String,
    /// What the answers lead to.
    #[schema(max_length = 2000)]
    leads_to: String,
    /// The rules and processes whose answer hangs on it.
    #[schema(max_items = 100)]
    because: Vec<String>,
}

impl From<&Question> for QuestionView {
    fn from(question: &Question) -> Self {
        Self {
            fact: question.fact.clone(),
            ask: question.ask.clone(),
            how_to_find_out: question.how.clone(),
            leads_to: question.leads_to.clone(),
            because: question.because.clone(),
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
    /// Working time of all operatives in hours, without set-up and allowance. Not there, as the three below, where
    /// another trade does the work: what that costs is not known here.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    labour_h: Option<f64>,
    /// Minutes from closing the floor to walking on it again.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0)]
    elapsed_min: Option<i64>,
    /// Price before tax.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    net: Option<MoneyView>,
    /// Price before tax a year, at the usual interval for the traffic.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    net_per_year: Option<MoneyView>,
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
            net: candidate.net.map(Into::into),
            net_per_year: candidate.net_per_year.map(Into::into),
        }
    }
}

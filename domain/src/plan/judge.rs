//! Puts every rule to a candidate: what fired, what must be asked, and the verdict that follows.

use super::{PlanInput, Referral, Verdict, answers::Answer};
use crate::{
    knowledge::{Concern, Fact, Facts, Grade, IfUnknown, KnowledgeBase, Rule, Severity, Truth},
    survey::MakerInstruction,
};

/// A rule that fired.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// The rule's id.
    pub rule: String,
    /// What it does.
    pub severity: Severity,
    /// What is at risk.
    pub concern: Concern,
    /// What it says.
    pub statement: String,
    /// Why.
    pub reason: String,
    /// What would clear it.
    pub clears: String,
    /// Where the rule comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

/// A fact that is missing.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// The fact's name.
    pub fact: String,
    /// The question.
    pub ask: String,
    /// How to find out.
    pub how: String,
    /// What the answers lead to.
    pub leads_to: String,
    /// The rules and processes whose answer hangs on it.
    pub because: Vec<String>,
    /// What each answer would lead to; empty until [`super::lead_on`] has worked it out.
    pub answers: Vec<Answer>,
}

/// What the rules say of one candidate.
#[derive(Debug, Clone)]
pub(super) struct Judgement<'a> {
    pub(super) verdict: Verdict,
    /// The rules that fired, hardest first.
    pub(super) fired: Vec<&'a Rule>,
    pub(super) questions: Vec<Question>,
    pub(super) open_questions: Vec<Question>,
    pub(super) referral: Option<Referral>,
}

/// Puts every rule to the facts of a candidate.
pub(super) fn judge<'a>(base: &'a KnowledgeBase, facts: &Facts<'_>) -> Judgement<'a> {
    let mut fired: Vec<&Rule> = Vec::new();
    let mut questions = Vec::new();
    let mut open_questions = Vec::new();
    let mut referral = None;
    for rule in &base.rules {
        match rule.when.holds(facts) {
            Truth::True => {
                fired.push(rule);
                let to = if rule.severity == Severity::Open {
                    &mut open_questions
                } else {
                    &mut questions
                };
                for fact in rule.asks.iter().filter_map(|name| Fact::named(name)) {
                    ask(base, to, fact, &rule.id);
                }
                referral = referral.or_else(|| refer(rule));
            }
            Truth::Undecided if rule.if_unknown == IfUnknown::Ask => {
                for fact in rule.when.missing(facts) {
                    ask(base, &mut questions, fact, &rule.id);
                }
            }
            Truth::False | Truth::Undecided => {}
        }
    }
    fired.sort_by_key(|rule| rule.severity);
    let has = |severity| fired.iter().any(|rule| rule.severity == severity);
    let verdict = if has(Severity::Refuse) {
        Verdict::Refused
    } else if !questions.is_empty() {
        Verdict::NeedsInformation
    } else if has(Severity::Warn) {
        Verdict::AllowedWithWarnings
    } else {
        Verdict::Allowed
    };
    Judgement {
        verdict,
        fired,
        questions,
        open_questions,
        referral,
    }
}

/// The rules that fired, as they are told; those that speak for the floor's maker cite what was read.
pub(super) fn findings(input: &PlanInput<'_>, fired: &[&Rule]) -> Vec<Finding> {
    let maker = input.survey.maker_instruction.as_ref();
    let cited = maker.map(MakerInstruction::citation);
    let told = fired.iter().map(|rule| finding(rule, cited.as_deref()));
    told.collect()
}

fn finding(rule: &Rule, maker: Option<&str>) -> Finding {
    let source = maker.filter(|_cited| rule.cites_maker);
    Finding {
        rule: rule.id.clone(),
        severity: rule.severity,
        concern: rule.concern.unwrap_or_default(),
        statement: rule.statement.clone(),
        reason: rule.reason.clone(),
        clears: rule.clears.clone(),
        source: source.unwrap_or(&rule.source).to_owned(),
        grade: rule.grade,
    }
}

fn refer(rule: &Rule) -> Option<Referral> {
    let trade = rule.referral.clone()?;
    Some(Referral {
        trade,
        hand_over: rule.hand_over.clone(),
    })
}

/// Asks for a fact once, however many rules or processes need it.
///
/// A fact that is worked out from another is asked for by that one; what no survey can tell is not asked for.
pub(super) fn ask(base: &KnowledgeBase, questions: &mut Vec<Question>, fact: Fact, because: &str) {
    let Some(fact) = fact.asked() else {
        return;
    };
    if let Some(asked) = questions
        .iter_mut()
        .find(|question| question.fact == fact.name())
    {
        if !asked.because.iter().any(|known| known == because) {
            asked.because.push(because.to_owned());
        }
        return;
    }
    let row = base.question(fact.name());
    questions.push(Question {
        fact: fact.name().to_owned(),
        ask: row.map_or_else(|| fact.meaning().to_owned(), |row| row.ask.clone()),
        how: row.map_or_else(String::new, |row| row.how.clone()),
        leads_to: row.map_or_else(String::new, |row| row.leads_to.clone()),
        because: vec![because.to_owned()],
        answers: Vec::new(),
    });
}

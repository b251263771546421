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

/// A fact that is missing, and the rules and processes whose answer hangs on it: a question that is not yet put into words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Asked<'a> {
    pub(super) fact: Fact,
    pub(super) because: Vec<&'a str>,
}

/// What the rules say of one candidate.
#[derive(Debug, Clone)]
pub(super) struct Judgement<'a> {
    pub(super) verdict: Verdict,
    /// The rules that fired, hardest first.
    pub(super) fired: Vec<&'a Rule>,
    pub(super) asked: Vec<Asked<'a>>,
    /// What would only narrow the cost.
    pub(super) asked_for_cost: Vec<Asked<'a>>,
    pub(super) referral: Option<Referral>,
}

/// The rules that the floor alone does not rule out, in the order of the data file: most rules speak of another kind of
/// floor, and are put aside once for all candidates.
pub(super) struct Docket<'a> {
    /// Each with what the floor alone says of it.
    rules: Vec<(&'a Rule, Truth)>,
}

impl<'a> Docket<'a> {
    /// The rules for a floor whose facts these are.
    pub(super) fn of(base: &'a KnowledgeBase, floor: &Facts<'_>) -> Self {
        let alone = floor.without_candidate();
        let put = base
            .rules
            .iter()
            .map(|rule| (rule, rule.when.holds(&alone)));
        Self {
            rules: put.filter(|(_, truth)| *truth != Truth::False).collect(),
        }
    }

    /// Puts them to the facts of a candidate.
    pub(super) fn judge(&self, facts: &Facts<'_>) -> Judgement<'a> {
        let put = self.rules.iter().map(|(rule, alone)| match alone {
            Truth::Undecided => (*rule, rule.when.holds(facts)),
            Truth::True | Truth::False => (*rule, *alone),
        });
        judge(put, facts)
    }
}

/// The judgement that follows from what the rules say.
fn judge<'a>(put: impl Iterator<Item = (&'a Rule, Truth)>, facts: &Facts<'_>) -> Judgement<'a> {
    let mut fired: Vec<&Rule> = Vec::new();
    let mut asked = Vec::new();
    let mut asked_for_cost = Vec::new();
    let mut referral = None;
    for (rule, truth) in put {
        match truth {
            Truth::True => {
                fired.push(rule);
                let to = if rule.severity == Severity::Open {
                    &mut asked_for_cost
                } else {
                    &mut asked
                };
                for fact in rule.asks.iter().filter_map(|name| Fact::named(name)) {
                    ask(to, fact, &rule.id);
                }
                referral = referral.or_else(|| refer(rule));
            }
            Truth::Undecided if rule.if_unknown == IfUnknown::Ask => {
                for fact in rule.when.missing(facts) {
                    ask(&mut asked, fact, &rule.id);
                }
            }
            Truth::False | Truth::Undecided => {}
        }
    }
    fired.sort_by_key(|rule| rule.severity);
    let has = |severity| fired.iter().any(|rule| rule.severity == severity);
    let verdict = if has(Severity::Refuse) {
        Verdict::Refused
    } else if !asked.is_empty() {
        Verdict::NeedsInformation
    } else if has(Severity::Warn) {
        Verdict::AllowedWithWarnings
    } else {
        Verdict::Allowed
    };
    Judgement {
        verdict,
        fired,
        asked,
        asked_for_cost,
        referral,
    }
}

/// The rules that would refuse with other facts and do not refuse with these.
pub(super) fn refusals_of(
    base: &KnowledgeBase,
    facts: &Facts<'_>,
    others: &Facts<'_>,
) -> Vec<Finding> {
    let refuses = |rule: &&Rule| {
        rule.severity == Severity::Refuse
            && rule.when.holds(others) == Truth::True
            && rule.when.holds(facts) != Truth::True
    };
    let rules = base.rules.iter().filter(refuses);
    rules.map(|rule| finding(rule, None)).collect()
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
pub(super) fn ask<'a>(asked: &mut Vec<Asked<'a>>, fact: Fact, because: &'a str) {
    let Some(fact) = fact.asked() else {
        return;
    };
    let known = asked.iter_mut().find(|known| known.fact == fact);
    if let Some(known) = known {
        if !known.because.contains(&because) {
            known.because.push(because);
        }
    } else {
        asked.push(Asked {
            fact,
            because: vec![because],
        });
    }
}

/// What is asked, in words.
pub(super) fn in_words(base: &KnowledgeBase, asked: &[Asked<'_>]) -> Vec<Question> {
    let told = asked.iter().map(|asked| {
        let fact = asked.fact;
        let row = base.question(fact.name());
        Question {
            fact: fact.name().to_owned(),
            ask: row.map_or_else(|| fact.meaning().to_owned(), |row| row.ask.clone()),
            how: row.map_or_else(String::new, |row| row.how.clone()),
            leads_to: row.map_or_else(String::new, |row| row.leads_to.clone()),
            because: asked.because.iter().map(|&rule| rule.to_owned()).collect(),
            answers: Vec::new(),
        }
    });
    told.collect()
}

#[cfg(test)]
mod tests {
    use super::{super::facts, Docket, judge};
    use crate::knowledge::{Facts, KnowledgeBase};

    #[test]
    fn rules_that_the_floor_rules_out_would_have_said_nothing() {
        let base = KnowledgeBase::builtin().expect("usable");
        let mut n_put = 0;
        for material in &base.materials {
            let mut floor = Facts::new();
            facts::of_material(&mut floor, base, material).expect("usable");
            let docket = Docket::of(base, &floor);
            n_put += docket.rules.len();
            for process in &base.processes {
                let mut known = floor.clone();
                facts::add_process(&mut known, process, false);
                let all = base.rules.iter();
                let all = all.map(|rule| (rule, rule.when.holds(&known)));
                let (all, put) = (judge(all, &known), docket.judge(&known));
                let ids = |fired: &[&crate::knowledge::Rule]| -> Vec<String> {
                    fired.iter().map(|rule| rule.id.clone()).collect()
                };
                assert_eq!(
                    ids(&put.fired),
                    ids(&all.fired),
                    "{} {}",
                    material.key,
                    process.key
                );
                assert_eq!(put.verdict, all.verdict);
                assert_eq!(put.asked, all.asked);
                assert_eq!(put.asked_for_cost, all.asked_for_cost);
            }
        }
        assert!(n_put < base.rules.len() * base.materials.len());
    }
}

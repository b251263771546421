//! The small language in which data files say when a rule, a step or a choice applies.
//!
//! `material.polish == 'never' and process.lays_polish`. Facts may be unknown, so a condition is true, false or
//! *undecided*, by Kleene's three-valued logic: an unknown fact never makes a condition true or false on its own.
//! Conditions are parsed and type-checked when the knowledge base is read; evaluating one cannot fail.

mod parse;
mod sorted;

use serde::Deserialize;

use crate::knowledge::fact::{Fact, FactType, Facts, Value};

/// What a condition says of a floor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Truth {
    /// It holds.
    True,
    /// It does not hold.
    False,
    /// It depends on a fact that is not known.
    Undecided,
}

impl Truth {
    const fn of(flag: bool) -> Self {
        if flag { Self::True } else { Self::False }
    }

    const fn not(self) -> Self {
        match self {
            Self::True => Self::False,
            Self::False => Self::True,
            Self::Undecided => Self::Undecided,
        }
    }
}

/// Why a condition in a data file was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{problem} in `{text}`")]
pub struct ExprError {
    /// The condition as written.
    pub text: String,
    /// What is wrong with it.
    pub problem: String,
}

#[derive(Debug, Clone, PartialEq)]
enum Node {
    All(Vec<Node>),
    Any(Vec<Node>),
    Not(Box<Node>),
    Flag(Fact),
    Known(Fact),
    Compare(Fact, Comparison, Operand),
    OneOf(Fact, Vec<String>),
    Always,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Comparison {
    Less,
    LessOrEqual,
    More,
    MoreOrEqual,
    Equal,
    NotEqual,
}

#[derive(Debug, Clone, PartialEq)]
enum Operand {
    Fact(Fact),
    Number(f64),
    Word(String),
}

/// A condition that was read and type-checked.
#[derive(Debug, Clone, PartialEq)]
pub struct Condition {
    /// As it was written.
    node: Node,
    /// The same, what a candidate decides before what the floor does.
    sorted: Node,
    text: String,
}

impl Condition {
    /// The condition that always holds.
    pub fn always() -> Self {
        Self {
            node: Node::Always,
            sorted: Node::Always,
            text: String::new(),
        }
    }

    /// Whether it always holds, whatever is known.
    pub fn is_always(&self) -> bool {
        matches!(self.node, Node::Always)
    }

    /// Reads a condition.
    ///
    /// # Errors
    /// [`ExprError`] for a syntax error, a fact that is not in the registry, or a comparison of unlike types.
    pub fn parse(text: &str) -> Result<Self, ExprError> {
        let fail = |problem: String| ExprError {
            text: text.to_owned(),
            problem,
        };
        let node = parse::parse(text).map_err(fail)?;
        Ok(Self {
            sorted: sorted::candidate_first(&node),
            node,
            text: text.to_owned(),
        })
    }

    /// The condition as it was written.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// What it says, given what is known.
    pub fn holds(&self, facts: &Facts<'_>) -> Truth {
        // Order does not change what is true: what is likeliest to decide is asked first. What is put to a candidate is what
        // the floor has left open.
        if facts.awaits_candidate() {
            eval(&self.node, facts)
        } else {
            eval(&self.sorted, facts)
        }
    }

    /// The facts that it speaks of, in the order of writing, each once.
    pub fn facts(&self) -> Vec<Fact> {
        let mut found = Vec::new();
        collect(&self.node, &mut found);
        found
    }

    /// The facts because of which it holds, in the order of writing; none where it does not.
    pub fn because(&self, facts: &Facts<'_>) -> Vec<Fact> {
        let mut found = Vec::new();
        because(&self.node, facts, Truth::True, &mut found);
        found
    }

    /// Adds the numbers that it compares a fact with, other facts' values among them where these are known.
    pub fn limits(&self, fact: Fact, facts: &Facts<'_>, found: &mut Vec<f64>) {
        limits(&self.node, fact, facts, found);
    }

    /// The facts outside `known(..)` that may leave it undecided. What stands beside the `known(..)` of its own fact cannot.
    pub fn may_hang_on(&self) -> Vec<Fact> {
        let mut found = Vec::new();
        unguarded(&self.node, &[], &mut found);
        found.retain(|fact| fact.may_be_unknown());
        found
    }

    /// The keys of the knowledge base that it names, each with its fact.
    pub fn keys(&self) -> Vec<(Fact, &str)> {
        let mut found = Vec::new();
        keys(&self.node, &mut found);
        found
    }

    /// The unknown facts because of which it is undecided, in the order of writing.
    pub fn missing(&self, facts: &Facts<'_>) -> Vec<Fact> {
        let mut found = Vec::new();
        undecided(&self.node, facts, &mut found);
        found
    }
}

fn eval(node: &Node, facts: &Facts<'_>) -> Truth {
    match node {
        Node::Always => Truth::True,
        Node::All(parts) => {
            let mut all = Truth::True;
            for part in parts {
                match eval(part, facts) {
                    Truth::False => return Truth::False,
                    Truth::Undecided => all = Truth::Undecided,
                    Truth::True => {}
                }
            }
            all
        }
        Node::Any(parts) => {
            let mut any = Truth::False;
            for part in parts {
                match eval(part, facts) {
                    Truth::True => return Truth::True,
                    Truth::Undecided => any = Truth::Undecided,
                    Truth::False => {}
                }
            }
            any
        }
        Node::Not(part) => eval(part, facts).not(),
        Node::Known(fact) if facts.may_become_known(*fact) => Truth::Undecided,
        Node::Known(fact) => Truth::of(!facts.get(*fact).is_unknown()),
        Node::Flag(fact) => match facts.get(*fact) {
            Value::Flag(flag) => Truth::of(flag),
            Value::Unknown | Value::Number(_) | Value::Word(_) => Truth::Undecided,
        },
        Node::OneOf(fact, words) => match facts.get(*fact) {
            Value::Word(word) => Truth::of(words.iter().any(|w| w == word)),
            Value::Unknown | Value::Number(_) | Value::Flag(_) => Truth::Undecided,
        },
        Node::Compare(fact, comparison, operand) => {
            let right = match operand {
                Operand::Fact(other) => facts.get(*other),
                Operand::Number(number) => Value::Number(*number),
                Operand::Word(word) => Value::Word(word),
            };
            compare(facts.get(*fact), *comparison, right)
        }
    }
}

#[expect(
    clippy::float_cmp,
    reason = "data files compare with numbers that were written, not computed"
)]
fn compare(left: Value<'_>, comparison: Comparison, right: Value<'_>) -> Truth {
    match (left, right) {
        (Value::Number(a), Value::Number(b)) => Truth::of(match comparison {
            Comparison::Less => a < b,
            Comparison::LessOrEqual => a <= b,
            Comparison::More => a > b,
            Comparison::MoreOrEqual => a >= b,
            Comparison::Equal => a == b,
            Comparison::NotEqual => a != b,
        }),
        (Value::Word(a), Value::Word(b)) => match comparison {
            Comparison::Equal => Truth::of(a == b),
            Comparison::NotEqual => Truth::of(a != b),
            _ => Truth::Undecided,
        },
        _ => Truth::Undecided,
    }
}

fn collect(node: &Node, found: &mut Vec<Fact>) {
    match node {
        Node::Always => {}
        Node::All(parts) | Node::Any(parts) => {
            for part in parts {
                collect(part, found);
            }
        }
        Node::Not(part) => collect(part, found),
        Node::Flag(fact) | Node::Known(fact) | Node::OneOf(fact, _) => add(*fact, found),
        Node::Compare(fact, _, operand) => {
            add(*fact, found);
            if let Operand::Fact(other) = operand {
                add(*other, found);
            }
        }
    }
}

/// Walks only into parts that make it what is wanted.
fn because(node: &Node, facts: &Facts<'_>, wanted: Truth, found: &mut Vec<Fact>) {
    if eval(node, facts) != wanted {
        return;
    }
    match node {
        Node::All(parts) | Node::Any(parts) => {
            for part in parts {
                because(part, facts, wanted, found);
            }
        }
        Node::Not(part) => because(part, facts, wanted.not(), found),
        _ => collect(node, found),
    }
}

fn limits(node: &Node, fact: Fact, facts: &Facts<'_>, found: &mut Vec<f64>) {
    match node {
        Node::All(parts) | Node::Any(parts) => {
            for part in parts {
                limits(part, fact, facts, found);
            }
        }
        Node::Not(part) => limits(part, fact, facts, found),
        Node::Compare(left, _, Operand::Number(number)) if *left == fact => found.push(*number),
        Node::Compare(left, _, Operand::Fact(right)) if *left == fact || *right == fact => {
            let other = if *left == fact { *right } else { *left };
            if let Value::Number(number) = facts.get(other) {
                found.push(number);
            }
        }
        Node::Compare(..) | Node::Flag(_) | Node::Known(_) | Node::OneOf(..) | Node::Always => {}
    }
}

fn unguarded(node: &Node, guards: &[Fact], found: &mut Vec<Fact>) {
    match node {
        Node::Always | Node::Known(_) => {}
        Node::All(parts) => {
            let known = parts.iter().filter_map(|part| match part {
                Node::Known(fact) => Some(*fact),
                _ => None,
            });
            let guards: Vec<Fact> = guards.iter().copied().chain(known).collect();
            for part in parts {
                unguarded(part, &guards, found);
            }
        }
        Node::Any(parts) => parts.iter().for_each(|part| unguarded(part, guards, found)),
        Node::Not(part) => unguarded(part, guards, found),
        Node::Flag(_) | Node::Compare(..) | Node::OneOf(..) => {
            let mut named = Vec::new();
            collect(node, &mut named);
            for fact in named.into_iter().filter(|fact| !guards.contains(fact)) {
                add(fact, found);
            }
        }
    }
}

fn keys<'n>(node: &'n Node, found: &mut Vec<(Fact, &'n str)>) {
    match node {
        Node::All(parts) | Node::Any(parts) => parts.iter().for_each(|part| keys(part, found)),
        Node::Not(part) => keys(part, found),
        Node::Compare(fact, _, Operand::Word(word)) if fact.kind() == FactType::Key => {
            found.push((*fact, word));
        }
        Node::OneOf(fact, words) if fact.kind() == FactType::Key => {
            found.extend(words.iter().map(|word| (*fact, word.as_str())));
        }
        Node::Compare(..) | Node::OneOf(..) | Node::Flag(_) | Node::Known(_) | Node::Always => {}
    }
}

fn add(fact: Fact, found: &mut Vec<Fact>) {
    if !found.contains(&fact) {
        found.push(fact);
    }
}

/// Walks only into parts that are undecided: a fact that could not change the answer is not asked for.
fn undecided(node: &Node, facts: &Facts<'_>, found: &mut Vec<Fact>) {
    if eval(node, facts) != Truth::Undecided {
        return;
    }
    match node {
        Node::All(parts) | Node::Any(parts) => {
            for part in parts {
                undecided(part, facts, found);
            }
        }
        Node::Not(part) => undecided(part, facts, found),
        _ => {
            let mut named = Vec::new();
            collect(node, &mut named);
            for fact in named {
                if facts.get(fact).is_unknown() && !found.contains(&fact) {
                    found.push(fact);
                }
            }
        }
    }
}

impl TryFrom<String> for Condition {
    type Error = ExprError;

    fn try_from(text: String) -> Result<Self, ExprError> {
        Self::parse(&text)
    }
}

impl<'de> Deserialize<'de> for Condition {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        Self::parse(&text).map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests;

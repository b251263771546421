//! What can hurt people, floors and waters in this work, worst first, each with what called for it.

use crate::knowledge::{Caution, Fact, Facts, KnowledgeBase, Truth, Value};

/// What a fact said.
#[derive(Debug, Clone, PartialEq)]
pub enum Told {
    /// Yes or no.
    Flag(bool),
    /// A number in the unit that the fact's name carries.
    Number(f64),
    /// A word.
    Word(String),
}

/// A fact because of which a caution is shown.
#[derive(Debug, Clone, PartialEq)]
pub struct Because {
    /// The fact.
    pub fact: Fact,
    /// What it said.
    pub told: Told,
}

/// A caution that the work or the floor calls for.
#[derive(Debug, Clone, PartialEq)]
pub struct CalledFor {
    /// What to mind.
    pub caution: Caution,
    /// What called for it; empty for what is always shown.
    pub because: Vec<Because>,
}

/// The cautions that these facts call for, in the order in which they are shown.
pub(super) fn called_for(base: &KnowledgeBase, facts: &Facts<'_>) -> Vec<CalledFor> {
    let rows = base.cautions.iter();
    rows.filter(|caution| caution.when.holds(facts) == Truth::True)
        .map(|caution| CalledFor {
            caution: caution.clone(),
            because: because(caution, facts),
        })
        .collect()
}

fn because(caution: &Caution, facts: &Facts<'_>) -> Vec<Because> {
    let named = caution.when.because(facts).into_iter();
    named
        .filter_map(|fact| {
            let told = match facts.get(fact) {
                Value::Unknown => return None,
                Value::Flag(flag) => Told::Flag(flag),
                Value::Number(number) => Told::Number(number),
                Value::Word(word) => Told::Word(word.to_owned()),
            };
            Some(Because { fact, told })
        })
        .collect()
}

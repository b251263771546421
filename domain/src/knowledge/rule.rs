//! Rules, the questions they ask, and cautions.

use serde::Deserialize;

use super::{evidence::Grade, expr::Condition};
use crate::words::words;

/// What a rule does when it fires.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// The process is refused.
    Refuse,
    /// A fact is asked for before anything is decided.
    Ask,
    /// The process goes on with a warning.
    Warn,
    /// A fact is missing that only moves the cost.
    Open,
    /// Something worth knowing.
    Note,
}

impl Severity {
    /// All of them, hardest first.
    pub const ALL: &'static [Self] = &[Self::Refuse, Self::Ask, Self::Warn, Self::Open, Self::Note];

    /// The word on the wire and in the data files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Refuse => "refuse",
            Self::Ask => "ask",
            Self::Warn => "warn",
            Self::Open => "open",
            Self::Note => "note",
        }
    }
}

/// What happens when an unknown fact leaves a rule undecided.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum IfUnknown {
    /// Nothing: the rule did not fire.
    #[default]
    Ignore,
    /// The fact is asked for, and the answer waits.
    Ask,
}

/// What is at risk where a rule warns.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Concern {
    /// People.
    Safety,
    /// The floor and what lies on it.
    #[default]
    Substrate,
    /// A maker's word or a contract.
    Warranty,
    /// The look of the floor.
    Appearance,
    /// Money or time.
    Cost,
}

impl Concern {
    /// All of them.
    pub const ALL: &'static [Self] = &[
        Self::Safety,
        Self::Substrate,
        Self::Warranty,
        Self::Appearance,
        Self::Cost,
    ];

    /// The word on the wire and in the data files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Safety => "safety",
            Self::Substrate => "substrate",
            Self::Warranty => "warranty",
            Self::Appearance => "appearance",
            Self::Cost => "cost",
        }
    }
}

/// A rule: when it fires, what it says and why.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rule {
    /// Its stable id.
    pub id: String,
    /// What it does when it fires.
    pub severity: Severity,
    /// What is at risk; a warning always says.
    pub concern: Option<Concern>,
    /// When it fires.
    pub when: Condition,
    /// What happens when that is undecided.
    #[serde(default)]
    pub if_unknown: IfUnknown,
    /// The facts that it asks for when it fires.
    #[serde(default)]
    pub asks: Vec<String>,
    /// What it says.
    pub statement: String,
    /// Why.
    pub reason: String,
    /// What would clear it.
    pub clears: String,
    /// The trade that takes over, for refusals that need one.
    pub referral: Option<String>,
    /// What that trade is handed.
    #[serde(default)]
    pub hand_over: Vec<String>,
    /// Whether what it finds is told with the instruction of the floor's maker as its source.
    #[serde(default)]
    pub cites_maker: bool,
    /// Where the rule comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

/// What is asked when a fact is missing.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Question {
    /// The fact's name.
    pub fact: String,
    /// The question.
    pub ask: String,
    /// How to find out.
    pub how: String,
    /// What the answers lead to.
    pub leads_to: String,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

words! {
    /// What the thing that a caution warns of does, worst first.
    Harm {
        /// No harm of its own: it stands before all others.
        First "first",
        /// It kills.
        Life "life",
        /// It makes ill.
        Health "health",
        /// It injures.
        Injury "injury",
        /// It spoils things.
        Property "property",
        /// It spoils water, soil or air.
        Environment "environment",
    }
}

/// A caution.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Caution {
    /// The word that names it everywhere.
    pub key: String,
    /// What it keeps off; the worst is shown first.
    #[serde(deserialize_with = "harm")]
    pub harm: Harm,
    /// Its place among those of one harm: lower is shown first.
    pub rank: u8,
    /// What it says.
    pub text: String,
    /// When the work or the floor calls for it.
    #[serde(default = "Condition::always")]
    pub when: Condition,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

fn harm<'de, D: serde::Deserializer<'de>>(deserializer: D) -> Result<Harm, D::Error> {
    let word = String::deserialize(deserializer)?;
    Harm::of(&word).ok_or_else(|| serde::de::Error::custom(format!("no harm is named {word}")))
}

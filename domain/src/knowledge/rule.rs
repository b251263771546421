//! Rules, the questions they ask, and cautions.

use serde::Deserialize;

use super::{evidence::Grade, expr::Condition};

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

/// A rule: when it fires, what it says and why.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rule {
    /// Its stable id.
    pub id: String,
    /// What it does when it fires.
    pub severity: Severity,
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

/// A caution.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Caution {
    /// The word that names it everywhere.
    pub key: String,
    /// Lower is shown first.
    pub rank: u8,
    /// What it says.
    pub text: String,
    /// When the work calls for it.
    pub when: Condition,
    /// Where the row comes from.
    pub source: String,
    /// How far it can be trusted.
    pub grade: Grade,
}

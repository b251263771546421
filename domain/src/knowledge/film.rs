//! What processes and time do to a film, and how far each kind of word about it is trusted.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::evidence::Grade;
use crate::{
    film::Word,
    survey::{FilmCondition, Traffic},
};

/// How much of a film a process takes away.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Takes {
    /// Nothing.
    Nothing,
    /// All of it.
    All,
    /// All of the polish; a seal below it stays.
    Polish,
    /// Coats of its top: least, likely, most.
    Coats([f64; 3]),
}

#[derive(Deserialize)]
#[serde(untagged)]
enum TakesText {
    Word(String),
    Coats([f64; 3]),
}

impl<'de> Deserialize<'de> for Takes {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        match TakesText::deserialize(deserializer)? {
            TakesText::Word(word) if word == "nothing" => Ok(Self::Nothing),
            TakesText::Word(word) if word == "all" => Ok(Self::All),
            TakesText::Word(word) if word == "polish" => Ok(Self::Polish),
            TakesText::Word(word) => Err(serde::de::Error::custom(format!(
                "`{word}` is neither `nothing` nor `all` nor `polish`"
            ))),
            TakesText::Coats(coats) => Ok(Self::Coats(coats)),
        }
    }
}

/// What a process does to the film, apart from the coats that it lays.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FilmEffect {
    /// How much of it is gone afterwards.
    pub takes: Takes,
    /// The condition of the film afterwards; as before where nothing is said.
    pub after: Option<String>,
}

impl FilmEffect {
    /// The condition of the film afterwards.
    pub fn condition(&self) -> Option<FilmCondition> {
        self.after.as_deref().and_then(FilmCondition::of)
    }
}

/// How far a kind of word is trusted when it is given.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Trust {
    /// From 0 (nobody knows) to 1 (certain).
    pub confidence: f64,
    /// By how many coats a count can be wrong either way.
    pub spread: u8,
}

/// How films change with time.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FilmFigures {
    /// Coats of polish worn off in a year, by traffic: least, likely, most.
    pub polish_wear: BTreeMap<String, [f64; 3]>,
    /// Coats of an uncovered seal worn off in a year, by traffic: least, likely, most.
    pub seal_wear: BTreeMap<String, [f64; 3]>,
    /// Days in which confidence halves, by traffic.
    pub half_life_days: BTreeMap<String, f64>,
    /// Conditions that change unseen, so that an old word of them says nothing.
    pub lapses: Vec<String>,
    /// Below this confidence nobody knows how many coats there are.
    pub least_confidence: f64,
    /// Coats that a recoat lays where nobody says: least, likely, most.
    pub usual_recoat: [f64; 3],
    /// Days within which work on parts of a floor counts as one job.
    pub job_days: i64,
    /// How far each kind of word is trusted.
    pub word: BTreeMap<String, Trust>,
    /// Where the figures come from.
    pub source: String,
    /// How far they can be trusted.
    pub grade: Grade,
}

impl FilmFigures {
    /// How far a kind of word is trusted; not at all where the figures say nothing of it.
    pub fn trust(&self, word: Word) -> Trust {
        const NONE: Trust = Trust {
            confidence: 0.0,
            spread: u8::MAX,
        };
        self.word.get(word.word()).copied().unwrap_or(NONE)
    }

    /// Whether an old word of this condition says nothing.
    pub fn lapses(&self, condition: FilmCondition) -> bool {
        self.lapses.iter().any(|word| word == condition.word())
    }

    /// Everything that is missing or cannot be.
    pub(super) fn faults(&self) -> Vec<String> {
        let mut faults = Vec::new();
        for traffic in Traffic::ALL.iter().map(|traffic| traffic.word()) {
            for (name, wear) in [
                ("polish_wear", &self.polish_wear),
                ("seal_wear", &self.seal_wear),
            ] {
                if !wear.get(traffic).is_some_and(in_order) {
                    faults.push(format!("film: {name} of {traffic}"));
                }
            }
            if !self.half_life_days.get(traffic).is_some_and(|d| *d > 0.0) {
                faults.push(format!("film: half_life_days of {traffic}"));
            }
        }
        for word in Word::ALL {
            let known = self.word.get(word.word());
            if !known.is_some_and(|trust| (0.0..=1.0).contains(&trust.confidence)) {
                faults.push(format!("film: word {}", word.word()));
            }
        }
        if let Some(word) = self
            .lapses
            .iter()
            .find(|word| FilmCondition::of(word).is_none())
        {
            faults.push(format!("film: lapses: no condition is named {word}"));
        }
        if !in_order(&self.usual_recoat) {
            faults.push("film: usual_recoat".to_owned());
        }
        faults
    }
}

/// Whether three figures are least, likely and most.
pub(super) fn in_order([least, likely, most]: &[f64; 3]) -> bool {
    *least >= 0.0 && least <= likely && likely <= most
}

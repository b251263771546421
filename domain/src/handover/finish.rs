//! What the finish text of a building file means: a material of the knowledge base, with how sure that is and which
//! words it rests on.
//!
//! The dictionary of the knowledge base is the only source. A text that is in it word for word is certain; a longer text
//! is read by the dictionary words in it, and each word beside them that nobody knows makes it less certain.

use std::collections::{BTreeMap, BTreeSet};

use super::text::is_placeholder;
use crate::knowledge::{Finish, KnowledgeBase, Material, Says, folded};

/// A finish word of the caller's own; it comes before the dictionary.
pub type Synonym = Finish;

/// From which confidence on a reading is taken, in %.
pub const THRESHOLD_PCT: u8 = 75;
/// What a word of which nobody knows what it says takes away, in %.
const UNKNOWN_WORD_PCT: u8 = 30;
/// What words that say nothing, or words in another order, take away, in %.
const LOOSE_PCT: u8 = 5;
/// The most words of a text that are looked at.
const MAX_WORDS: usize = 40;
/// The most coverings that one text may name.
const MAX_PARTS: usize = 8;

/// What a finish text means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FinishSense<'k> {
    /// A hard floor of this material.
    Hard(&'k Material),
    /// A soft floor.
    Soft,
    /// Several coverings in one space.
    Mixed,
    /// Something was written that tells nothing.
    NotTold,
    /// It is not known well enough.
    Unknown,
}

/// A reading of a finish text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FinishMatch<'k> {
    /// What it means.
    pub sense: FinishSense<'k>,
    /// How sure that is, in %: 100 for a word of the dictionary, below [`THRESHOLD_PCT`] for what is not taken.
    pub confidence_pct: u8,
    /// The words that it rests on, or that speak against it.
    pub words: Vec<String>,
}

impl FinishMatch<'_> {
    const fn nothing(sense: FinishSense<'_>, words: Vec<String>) -> FinishMatch<'_> {
        FinishMatch {
            sense,
            confidence_pct: 0,
            words,
        }
    }
}

/// Reads a finish text; `label` is the name that it stood under, `own` the words of the caller's own, which win.
pub fn match_finish<'k>(
    base: &'k KnowledgeBase,
    own: &[Synonym],
    text: &str,
    label: &str,
) -> FinishMatch<'k> {
    FinishReader::new(base, own).read(text, label)
}

/// What a row of the dictionary means; `None` for a material that is not there.
fn sense_of<'k>(base: &'k KnowledgeBase, means: &str) -> Option<FinishSense<'k>> {
    match means {
        "soft" => Some(FinishSense::Soft),
        "mixed" => Some(FinishSense::Mixed),
        key => base.material(key).map(FinishSense::Hard),
    }
}

/// The words of a text: letters and digits, the plural's S taken off.
fn words(text: &str) -> Vec<String> {
    let parts = text.split(|c: char| !c.is_alphanumeric());
    let parts = parts.filter(|part| !part.is_empty()).take(MAX_WORDS);
    parts.map(|part| singular(part).to_owned()).collect()
}

fn singular(word: &str) -> &str {
    match word.strip_suffix('S') {
        Some(stem) if stem.len() > 3 && !stem.ends_with('S') => stem,
        _ => word,
    }
}

/// The dictionary with its rows taken apart once, for all the texts of a file.
#[derive(Debug)]
pub struct FinishReader<'k> {
    /// What is known word for word; nothing for a word of the caller's own that means what is not there.
    exact: BTreeMap<String, Option<FinishSense<'k>>>,
    /// The words of each row that say anything, the caller's own rows first.
    rows: Vec<(Vec<String>, FinishSense<'k>)>,
    /// Words that say nothing.
    nothing: BTreeSet<String>,
    /// Words that make a reading uncertain.
    doubt: BTreeSet<String>,
}

impl<'k> FinishReader<'k> {
    /// A reader by the dictionary of the knowledge base and by the words of the caller's own, which win.
    pub fn new(base: &'k KnowledgeBase, own: &[Synonym]) -> Self {
        let asides = |what: Says| {
            let rows = base
                .finish_asides
                .iter()
                .filter(move |row| row.says == what);
            let words = rows.flat_map(|row| row.words.iter());
            words.map(|word| singular(word).to_owned()).collect()
        };
        let mut reader = Self {
            exact: BTreeMap::new(),
            rows: Vec::new(),
            nothing: asides(Says::Nothing),
            doubt: asides(Says::Doubt),
        };
        for row in own.iter().chain(&base.finishes) {
            let sense = sense_of(base, &row.means);
            reader.exact.entry(folded(&row.word)).or_insert(sense);
            let mut wanted = words(&row.word);
            wanted.retain(|word| !reader.nothing.contains(word));
            if let Some(sense) = sense.filter(|_| !wanted.is_empty()) {
                reader.rows.push((wanted, sense));
            }
        }
        reader
    }

    /// Reads a finish text; `label` is the name that it stood under.
    pub fn read(&self, text: &str, label: &str) -> FinishMatch<'k> {
        let word = folded(text);
        if word.is_empty() || is_placeholder(text, label) {
            return FinishMatch::nothing(FinishSense::NotTold, Vec::new());
        }
        if let Some(sense) = self.exact.get(&word).copied().flatten() {
            return FinishMatch {
                sense,
                confidence_pct: 100,
                words: vec![word],
            };
        }
        let whole = self.phrase(&word);
        if whole.confidence_pct >= THRESHOLD_PCT {
            return whole;
        }
        self.parts(&word).unwrap_or(whole)
    }

    /// A text with several parts: all must be known; where they mean different things the floor is mixed.
    fn parts(&self, text: &str) -> Option<FinishMatch<'k>> {
        let text = text.replace(" AND ", "/").replace(" WITH ", "/");
        let parts = text.split(['/', '+', '&', ',', ';', '|']).map(str::trim);
        let parts = parts.filter(|part| !part.is_empty());
        let parts: Vec<&str> = parts.take(MAX_PARTS + 1).collect();
        if parts.len() < 2 || parts.len() > MAX_PARTS {
            return None;
        }
        let read: Vec<FinishMatch<'k>> = parts.iter().map(|part| self.phrase(part)).collect();
        let confidence_pct = read.iter().map(|one| one.confidence_pct).min()?;
        let first = read.first()?.sense;
        if confidence_pct < THRESHOLD_PCT {
            return None;
        }
        let same = read.iter().all(|one| one.sense == first);
        Some(FinishMatch {
            sense: if same { first } else { FinishSense::Mixed },
            confidence_pct,
            words: read.into_iter().flat_map(|one| one.words).collect(),
        })
    }

    /// A text of one part: the longest row of the dictionary of which every word is in it.
    fn phrase(&self, text: &str) -> FinishMatch<'k> {
        let all = words(text);
        let doubt: Vec<String> = all
            .iter()
            .filter(|word| self.doubt.contains(*word))
            .cloned()
            .collect();
        let is_code = |word: &str| word.chars().any(|c| c.is_ascii_digit());
        let bare: Vec<&str> = all
            .iter()
            .map(String::as_str)
            .filter(|word| !self.nothing.contains(*word) && !is_code(word))
            .collect();
        let is_there = |word: &String| bare.contains(&word.as_str());
        let fitting = self
            .rows
            .iter()
            .filter(|(wanted, _)| wanted.iter().all(is_there));
        // Of rows that are as long the first counts: the caller's own stand before the dictionary's.
        let best = fitting.fold(
            None,
            |best: Option<&(Vec<String>, FinishSense<'k>)>, row| match best {
                Some(best) if best.0.len() >= row.0.len() => Some(best),
                _ => Some(row),
            },
        );
        let Some((found, sense)) = best else {
            return FinishMatch::nothing(FinishSense::Unknown, doubt);
        };
        let left = bare
            .iter()
            .filter(|word| !found.iter().any(|one| one == *word));
        let unknown = u8::try_from(left.count()).unwrap_or(u8::MAX);
        let loose = u8::from(all != *found).saturating_mul(LOOSE_PCT);
        let against = unknown
            .saturating_mul(UNKNOWN_WORD_PCT)
            .saturating_add(loose);
        let confidence_pct = if doubt.is_empty() {
            100_u8.saturating_sub(against)
        } else {
            0
        };
        FinishMatch {
            sense: if confidence_pct < THRESHOLD_PCT {
                FinishSense::Unknown
            } else {
                *sense
            },
            confidence_pct,
            words: if doubt.is_empty() {
                found.clone()
            } else {
                doubt
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::{FinishSense, Synonym, THRESHOLD_PCT, match_finish};
    use crate::knowledge::KnowledgeBase;

    fn read(text: &str) -> (String, u8) {
        read_with(&[], text)
    }

    fn read_with(own: &[Synonym], text: &str) -> (String, u8) {
        let base = KnowledgeBase::builtin().unwrap();
        let found = match_finish(base, own, text, "FloorCovering");
        let sense = match found.sense {
            FinishSense::Hard(material) => material.key.clone(),
            other => format!("{other:?}").to_lowercase(),
        };
        (sense, found.confidence_pct)
    }

    #[test]
    fn the_words_of_building_files_are_read_and_none_is_guessed() {
        // Common practice, no published source: what each word means on the floor plans of the trade.
        let cases = [
            ("VINYL COMPOSITION TILE ", "vinyl_composition_tile", 100),
            (
                "Vinyl composition tiles, grey",
                "vinyl_composition_tile",
                95,
            ),
            ("VCT-1", "vinyl_composition_tile", 95),
            ("Concrete, sealed", "concrete_sealed", 95),
            ("CERAMIC FLOOR TILE 12x12", "ceramic_tile", 95),
            ("CARPET TILES", "soft", 100),
            ("VCT / CARPET", "mixed", 100),
            ("Sheet vinyl and ceramic tile", "mixed", 100),
            ("VINYL SHEET/SHEET VINYL", "vinyl_sheet", 95),
            ("n/a", "nottold", 0),
            ("Floor Covering", "nottold", 0),
            ("VINYL", "unknown", 0),
            ("TERRAZZO", "unknown", 0),
            ("CONCRETE PAVER", "unknown", 65),
            ("RUBBER BASE", "unknown", 0),
            ("Laminate, marble effect", "unknown", 0),
            ("VCT / XYZ", "unknown", 65),
        ];
        for (text, sense, pct) in cases {
            assert_eq!(read(text), (sense.to_owned(), pct), "{text}");
        }
    }

    #[test]
    fn words_of_ones_own_come_first() {
        let own = [
            ("FB-07", "rubber"),
            ("VCT", "soft"),
            ("MAGIC", "no_such_material"),
        ];
        let own = own.map(|(word, means)| Synonym {
            word: word.to_owned(),
            means: means.to_owned(),
        });
        assert_eq!(read_with(&own, " fb-07 ").0, "rubber");
        assert_eq!(read_with(&own, "VCT").0, "soft");
        assert_eq!(read_with(&own, "grey vct").0, "soft");
        assert_eq!(read_with(&own, "MAGIC").0, "unknown");
    }

    proptest! {
        #[test]
        fn what_is_not_certain_enough_is_unknown(text in "[A-Za-z0-9 /,&-]{0,60}") {
            let (sense, pct) = read(&text);
            let open = sense == "unknown" || sense == "nottold";
            prop_assert_eq!(open, pct < THRESHOLD_PCT);
        }
    }
}

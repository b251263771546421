//! What lies on a floor at any moment: a fold of what was told, seen and done, in the order in which it happened.
//!
//! [`state_at`] sorts the entries itself, so the order in which they became known changes nothing. What a process does
//! to a film, how fast a film wears and how far a word is trusted are data of the knowledge base.

mod coats;
mod entry;
mod fold;
mod layers;
mod say;

use chrono::{DateTime, Utc};

pub use coats::Coats;
pub use entry::{Entry, EntryId, Event, Job, Told};

use crate::{
    knowledge::{KnowledgeBase, LaysSeal, Process, Takes},
    quantity::{Area, whole},
    survey::{Film, FilmCondition, FilmKind, Traffic},
    words::words,
};

words! {
    /// Where a word about a film comes from; decides how far it is trusted.
    Word {
        /// Coats were counted on a cut or a wear-through, or measured where a gauge reads.
        Measured "measured",
        /// Somebody looked.
        Seen "seen",
        /// Somebody said so.
        Told "told",
        /// It stands in a document.
        Document "document",
        /// It stands in the survey of the surface.
        Survey "survey",
        /// A completion reports the coats that were laid.
        Reported "reported",
        /// A completion says nothing of coats; its plan does.
        Planned "planned",
        /// Nobody says how many coats were laid: as many as usual.
        Usual "usual",
    }
}

/// The floor whose film it is.
#[derive(Debug, Clone, Copy)]
pub struct Floor<'a> {
    /// What is known of processes, wear and trust.
    pub base: &'a KnowledgeBase,
    /// Its area, of which work may have been done on a part.
    pub area: Area,
    /// Its traffic; medium where nobody says.
    pub traffic: Option<Traffic>,
}

impl Floor<'_> {
    /// The word of its traffic.
    fn traffic(&self) -> &'static str {
        self.traffic.unwrap_or(Traffic::Medium).word()
    }
}

/// What lies on a floor at a moment.
#[derive(Debug, Clone, PartialEq)]
pub struct State {
    /// The moment.
    pub at: DateTime<Utc>,
    /// The kind of film; `None` if nobody knows.
    pub kind: Option<FilmKind>,
    /// Its condition; `None` if nobody knows, or if what was known is too old.
    pub condition: Option<FilmCondition>,
    /// Coats of polish; `None` if nobody counted.
    pub polish: Option<Coats>,
    /// Coats of seal; `None` if nobody counted.
    pub seal: Option<Coats>,
    /// When the whole floor was last stripped, and the entry that says so.
    pub stripped: Option<(DateTime<Utc>, EntryId)>,
    /// When a coat was last laid, and the entry that says so.
    pub coated: Option<(DateTime<Utc>, EntryId)>,
    /// From 0 (nobody knows) to 1 (certain); halves in the half-life of the traffic.
    pub confidence: f64,
    /// What does not fit together and nobody has settled by looking since.
    pub contradictions: Vec<Contradiction>,
    /// What it rests on, in the order of happening; last the wear that was taken off.
    pub basis: Vec<Ground>,
    /// Below this confidence coats count as unknown.
    least_confidence: f64,
}

/// Two things about a film that cannot both be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Contradiction {
    /// What kind of contradiction; a stable word.
    pub code: &'static str,
    /// What does not fit.
    pub statement: String,
    /// The entry that does not fit with those before it.
    pub entry: EntryId,
}

/// Something that a state rests on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ground {
    /// The entry; `None` for wear.
    pub entry: Option<EntryId>,
    /// When it happened.
    pub at: DateTime<Utc>,
    /// How it is known; `None` for wear.
    pub word: Option<Word>,
    /// What it says.
    pub statement: String,
    /// Where the figures in it come from, where they are ours.
    pub source: Option<String>,
}

impl State {
    /// The film as planning takes it: the likely count in whole coats, unknown where confidence is too low for one.
    pub fn film(&self) -> Film {
        let known = self.confidence >= self.least_confidence;
        let coats = self.polish.filter(|_count| known);
        Film {
            kind: self.kind,
            coats: coats.and_then(|coats| whole(coats.likely)),
            condition: self.condition,
        }
    }

    /// Coats of seal, where somebody counted them and confidence is not too low for a count.
    pub fn seal_counted(&self) -> Option<Coats> {
        let known = self.confidence >= self.least_confidence;
        self.seal.filter(|_count| known)
    }

    /// When the last coat was laid of those that still lie there.
    pub fn coated_at(&self) -> Option<DateTime<Utc>> {
        let stripped = self.stripped.map(|(at, _)| at);
        let coated = self.coated.map(|(at, _)| at);
        coated.filter(|coated| stripped.is_none_or(|stripped| stripped <= *coated))
    }

    /// Days from a moment to this state's.
    pub fn days_since(&self, moment: DateTime<Utc>) -> i64 {
        self.at.signed_duration_since(moment).num_days().max(0)
    }
}

/// What lies on a floor at a moment, by everything that happened up to it.
///
/// Entries that do not count any more, later ones, and work that leaves the film alone change nothing. Of two at the same
/// moment work counts before a word, a strip before a coat, the less trusted word before the more trusted one; two
/// surveys count in the order of their recording, and other two that are alike in all of that in the order of what they
/// say.
pub fn state_at(floor: Floor<'_>, entries: &[Entry], at: DateTime<Utc>) -> State {
    let mut counting: Vec<&Entry> = entries
        .iter()
        .filter(|entry| entry.counts && entry.at <= at && changes_film(floor.base, &entry.event))
        .collect();
    counting.sort_by_cached_key(|entry| entry::order(floor, entry));
    let start = counting.first().map_or(at, |entry| entry.at);
    let mut fold = fold::Fold::new(floor, start);
    for entry in counting {
        fold.take(entry);
    }
    fold.finish(at)
}

/// Whether an event can change what lies on a floor.
fn changes_film(base: &KnowledgeBase, event: &Event) -> bool {
    match event {
        Event::Told(..) => true,
        Event::Done(job) => base.process(&job.process).is_some_and(touches_film),
    }
}

/// Whether a process takes something off a film, lays some or changes its condition.
pub fn touches_film(process: &Process) -> bool {
    process.film.takes != Takes::Nothing
        || process.film.after.is_some()
        || process.lays_polish
        || process.lays_seal != LaysSeal::Never
}

/// What a word says, in one sentence.
pub fn describe(word: Word, told: &Told) -> String {
    say::told(word, told)
}

//! What becomes of each space of a file beside what is registered: a pure function.

use std::collections::BTreeMap;

use super::{
    Concern, ExternalName, FinishMatch, FinishReader, FinishSense, FoundFinish, FoundSpace,
    Handover, MAX_FINISHES, Place, Remark, SpaceKind, Synonym,
};
use crate::{
    knowledge::KnowledgeBase,
    quantity::{Area, Length},
    words::words,
};

words! {
    /// What becomes of a space.
    Fate {
        /// It is registered.
        Created "created",
        /// It was registered and says something else now.
        Updated "updated",
        /// It was registered and says the same.
        Unchanged "unchanged",
        /// It is not a hard floor to be cared for.
        OutOfScope "out_of_scope",
        /// Somebody has to decide something first.
        NeedsAttention "needs_attention",
    }
    /// Why a space is not registered, beside what [`Concern`] tells.
    Reason {
        /// Its floor is soft.
        SoftFloor "soft_floor",
        /// It is a roof or lies outside.
        NotAFloor "not_a_floor",
        /// It has several coverings: one surface for each, with its own area.
        FinishMixed "finish_mixed",
        /// Its finish is not in the dictionary, or not certain enough.
        FinishUnknown "finish_unknown",
        /// Nothing says what its floor is made of.
        FinishNotTold "finish_not_told",
        /// There is no material with the key that the file tells.
        MaterialUnknown "material_unknown",
        /// The file names a surface that the site does not have.
        SurfaceUnknown "surface_unknown",
        /// It has no name in another system, so it could not be found again.
        ExternalMissing "external_missing",
        /// The file and somebody at the register have both changed the same since the last file.
        ChangedByBoth "changed_by_both",
        /// The surface that would come of it is refused by the rules of the register.
        Refused "refused",
    }
}

/// A surface as it is registered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Registered {
    /// Its name in the other system.
    pub external: ExternalName,
    /// What people call it.
    pub name: String,
    /// Its storey.
    pub storey: String,
    /// The key of its material.
    pub material: String,
    /// Its area.
    pub area: Area,
    /// The length of its edge.
    pub perimeter: Option<Length>,
}

/// Why something became of a space.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Why {
    /// The reason's word: of [`Reason`] or of a [`Concern`].
    pub code: &'static str,
    /// In words.
    pub detail: String,
    /// Where it stands.
    pub place: Place,
}

/// What becomes of one space.
#[derive(Debug, Clone, PartialEq)]
pub struct Decided {
    /// The space, by its index.
    pub index: usize,
    /// What becomes of it.
    pub fate: Fate,
    /// What its surface says afterwards; `None` where none is registered.
    pub surface: Option<Registered>,
    /// How sure the finish is, in %, where one was read.
    pub finish_pct: Option<u8>,
    /// The words that the finish rests on.
    pub finish_words: Vec<String>,
    /// Every reason for which it is not registered.
    pub why: Vec<Why>,
}

/// How many spaces had which fate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// All of them: the sum of the others.
    pub total: usize,
    /// Registered.
    pub created: usize,
    /// Changed.
    pub updated: usize,
    /// Left as they were.
    pub unchanged: usize,
    /// Not for this service.
    pub out_of_scope: usize,
    /// Waiting for somebody.
    pub needs_attention: usize,
}

impl Counts {
    /// Counts one more.
    pub fn add(&mut self, fate: Fate) {
        let count = match fate {
            Fate::Created => &mut self.created,
            Fate::Updated => &mut self.updated,
            Fate::Unchanged => &mut self.unchanged,
            Fate::OutOfScope => &mut self.out_of_scope,
            Fate::NeedsAttention => &mut self.needs_attention,
        };
        *count = count.saturating_add(1);
        self.total = self.total.saturating_add(1);
    }
}

/// What becomes of a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Reconciled {
    /// Each space, in the order of the file.
    pub rows: Vec<Decided>,
    /// How many there are of each fate.
    pub counts: Counts,
}

/// Decides what becomes of each space; `registered` are the surfaces that have the external names of spaces, `own` the
/// caller's own finish words.
pub fn reconcile(
    base: &KnowledgeBase,
    own: &[Synonym],
    found: &Handover,
    registered: &[Registered],
) -> Reconciled {
    let known: BTreeMap<&ExternalName, &Registered> =
        registered.iter().map(|row| (&row.external, row)).collect();
    let mut dictionary = Dictionary {
        reader: FinishReader::new(base, own),
        read: BTreeMap::new(),
    };
    let mut counts = Counts::default();
    let mut rows = Vec::with_capacity(found.spaces.len());
    for (index, space) in found.spaces.iter().enumerate() {
        let before = space
            .external
            .as_ref()
            .and_then(|name| known.get(name).copied());
        let decided = Judge {
            base,
            space,
            before,
        }
        .decide(index, &mut dictionary);
        counts.add(decided.fate);
        rows.push(decided);
    }
    Reconciled { rows, counts }
}

/// The dictionary with what was read by it: rooms of a building mostly have one of a few finishes.
struct Dictionary<'k, 'f> {
    reader: FinishReader<'k>,
    read: BTreeMap<(&'f str, &'f str), FinishMatch<'k>>,
}

impl<'k, 'f> Dictionary<'k, 'f> {
    /// A reading, or nothing once a file has had more different texts than are read.
    fn read(&mut self, finish: &'f FoundFinish) -> Option<FinishMatch<'k>> {
        let key = (finish.text.as_str(), finish.label.as_str());
        if let Some(read) = self.read.get(&key) {
            return Some(read.clone());
        }
        if self.read.len() >= MAX_FINISHES {
            return None;
        }
        let read = self.reader.read(key.0, key.1);
        self.read.insert(key, read.clone());
        Some(read)
    }
}

struct Judge<'a> {
    base: &'a KnowledgeBase,
    space: &'a FoundSpace,
    before: Option<&'a Registered>,
}

impl<'a> Judge<'a> {
    fn decide(&self, index: usize, dictionary: &mut Dictionary<'a, 'a>) -> Decided {
        let space = self.space;
        let mut decided = Decided {
            index,
            fate: Fate::NeedsAttention,
            surface: None,
            finish_pct: None,
            finish_words: Vec::new(),
            why: Vec::new(),
        };
        if space.kind != SpaceKind::Floor {
            let detail = format!(
                "It is part of the {}, not a floor to be cared for.",
                space.kind.word()
            );
            decided.fate = Fate::OutOfScope;
            decided.why.push(self.why(Reason::NotAFloor, detail));
            return decided;
        }
        let material = self.material(&mut decided, dictionary);
        if decided
            .why
            .iter()
            .any(|why| why.code == Reason::SoftFloor.word())
        {
            decided.fate = Fate::OutOfScope;
            return decided;
        }
        // What is registered has a name already.
        let has_name =
            |remark: &&Remark| remark.concern == Concern::NameMissing && self.before.is_some();
        let blocking = space
            .remarks
            .iter()
            .filter(|remark| remark.concern.blocks() && !has_name(remark));
        decided.why.extend(blocking.map(|remark| Why {
            code: remark.concern.word(),
            detail: remark.detail.clone(),
            place: remark.place.clone(),
        }));
        if let (Some(surface), None) = (&space.surface, self.before) {
            let id: String = surface.id.chars().take(60).collect();
            let detail = format!("The site has no surface `{}`.", id.escape_debug());
            decided.why.push(self.why(Reason::SurfaceUnknown, detail));
        } else if space.external.is_none() {
            let detail = "The file gives it no id, so a second import could not find it again.";
            decided
                .why
                .push(self.why(Reason::ExternalMissing, detail.to_owned()));
        }
        if let (true, Some(surface)) = (decided.why.is_empty(), self.surface(material)) {
            decided.fate = match self.before {
                None => Fate::Created,
                Some(before) if *before == surface => Fate::Unchanged,
                Some(_) => Fate::Updated,
            };
            decided.surface = Some(surface);
        }
        decided
    }

    /// The key of the material that is told, or by the finish, else the one that is registered; `None` with the reason told.
    fn material(
        &self,
        decided: &mut Decided,
        dictionary: &mut Dictionary<'a, 'a>,
    ) -> Option<String> {
        let before = || self.before.map(|row| row.material.clone());
        if let Some(key) = &self.space.material {
            if self.base.material(key).is_some() || before().as_ref() == Some(key) {
                return Some(key.clone());
            }
            let detail = format!("No material is named `{key}`.");
            decided.why.push(self.why(Reason::MaterialUnknown, detail));
            return None;
        }
        let Some(finish) = &self.space.finish else {
            if self.before.is_none() {
                let detail = "Nothing says what the floor is made of.".to_owned();
                decided.why.push(self.why(Reason::FinishNotTold, detail));
            }
            return before();
        };
        // Which of two finishes is meant is for somebody to say.
        let differ = |remark: &Remark| remark.concern == Concern::FinishesDiffer;
        if self.space.remarks.iter().any(differ) {
            return None;
        }
        let Some(read) = dictionary.read(finish) else {
            let detail = format!(
                "The file has more than {MAX_FINISHES} different finishes: send it in parts."
            );
            decided.why.push(self.why(Reason::FinishUnknown, detail));
            return None;
        };
        decided.finish_pct = Some(read.confidence_pct);
        decided.finish_words = read.words;
        let text = &finish.text;
        let (reason, detail) = match read.sense {
            FinishSense::Hard(material) => return Some(material.key.clone()),
            FinishSense::NotTold if self.before.is_some() => return before(),
            FinishSense::NotTold => (
                Reason::FinishNotTold,
                format!("`{text}` tells nothing of the floor."),
            ),
            FinishSense::Soft => (Reason::SoftFloor, format!("`{text}` is a soft floor.")),
            FinishSense::Mixed => {
                let detail = format!(
                    "`{text}` names several coverings: split the space into one surface for each."
                );
                (Reason::FinishMixed, detail)
            }
            FinishSense::Unknown => {
                let detail = format!(
                    "`{text}` is not in the dictionary of finishes, or not certain enough."
                );
                (Reason::FinishUnknown, detail)
            }
        };
        decided.why.push(Why {
            code: reason.word(),
            detail,
            place: finish.place.clone(),
        });
        None
    }

    /// What the surface says afterwards: what the file leaves open stays as it was.
    fn surface(&self, material: Option<String>) -> Option<Registered> {
        let space = self.space;
        let before = self.before;
        let drawn = space.outline.as_ref();
        let area = drawn.map(crate::geometry::Outline::area).or(space.area)?;
        let edge = drawn
            .map(crate::geometry::Outline::edge)
            .or(space.perimeter);
        Some(Registered {
            external: space.external.clone()?,
            name: match before {
                Some(row) if space.title().is_empty() => row.name.clone(),
                _ => space.title(),
            },
            storey: space
                .storey
                .clone()
                .or_else(|| before.map(|row| row.storey.clone()))
                .unwrap_or_default(),
            material: material?,
            area,
            perimeter: edge.or_else(|| before.and_then(|row| row.perimeter)),
        })
    }

    fn why(&self, reason: Reason, detail: String) -> Why {
        Why {
            code: reason.word(),
            detail,
            place: self.space.place.clone(),
        }
    }
}

impl Concern {
    /// The words of everything that may stand as a reason.
    pub fn reasons() -> impl Iterator<Item = &'static str> {
        let of_file = Self::ALL
            .iter()
            .filter(|one| one.blocks())
            .map(|one| one.word());
        Reason::ALL.iter().map(|one| one.word()).chain(of_file)
    }
}

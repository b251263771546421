//! What lies on a floor, coat by coat, and what work and wear do to it.

use super::{Coats, Floor, Word, entry::Job, entry::Told};
use crate::{
    knowledge::{LaysSeal, Process, Takes, Trust},
    quantity::float,
    survey::{FilmCondition, FilmKind},
};

/// What lies on a floor.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Layers {
    pub(super) kind: Option<FilmKind>,
    pub(super) polish: Option<Coats>,
    pub(super) seal: Option<Coats>,
    pub(super) condition: Option<FilmCondition>,
}

/// What a job laid, and how that is known.
#[derive(Debug, Clone, Copy)]
pub(super) struct Laid {
    pub(super) polish: Coats,
    pub(super) seal: Coats,
    pub(super) word: Word,
}

impl Laid {
    /// By the report, else by the plan, else as usual.
    pub(super) fn of(floor: Floor<'_>, process: &Process, job: &Job) -> Self {
        let figures = &floor.base.film;
        let counted = |count, word| Coats::counted(count, figures.trust(word).spread);
        let lays_seal = process.lays_seal == LaysSeal::Always;
        // A report that counts one of the two layers leaves none of the other unsaid, unless the process always lays it.
        let said = job.polish.is_some() || job.seal.is_some();
        let polish = match (job.polish, job.planned_polish) {
            (Some(count), _) => (counted(count, Word::Reported), Word::Reported),
            (None, Some(count)) if process.lays_polish => {
                (counted(count, Word::Planned), Word::Planned)
            }
            (None, _) if !process.lays_polish || said => (Coats::NONE, Word::Reported),
            (None, _) if process.recoat => (Coats::of(figures.usual_recoat), Word::Usual),
            (None, _) => {
                let usual = floor.base.factors.coats.get(floor.traffic()).copied();
                (counted(usual.unwrap_or(3), Word::Usual), Word::Usual)
            }
        };
        let seal = match (job.seal, job.planned_seal) {
            (Some(count), _) => (counted(count, Word::Reported), Word::Reported),
            (None, Some(count)) => (counted(count, Word::Planned), Word::Planned),
            (None, None) if lays_seal => {
                let usual = floor.base.factors.seal_coats;
                (counted(usual, Word::Usual), Word::Usual)
            }
            (None, None) => (Coats::NONE, Word::Reported),
        };
        let trust = |word| figures.trust(word).confidence;
        let word = if trust(seal.1) < trust(polish.1) {
            seal.1
        } else {
            polish.1
        };
        Self {
            polish: polish.0,
            seal: seal.0,
            word,
        }
    }

    /// Whether any coat was laid.
    pub(super) fn any(self) -> bool {
        self.polish.high > 0.0 || self.seal.high > 0.0
    }
}

impl Layers {
    /// A floor with nothing on it.
    const BARE: Self = Self {
        kind: Some(FilmKind::Bare),
        polish: Some(Coats::NONE),
        seal: Some(Coats::NONE),
        condition: None,
    };

    /// After `days` of traffic: what lies on top wears.
    #[must_use]
    pub(super) fn worn(self, floor: Floor<'_>, days: f64) -> Self {
        let figures = &floor.base.film;
        let years = days.max(0.0) / 365.0;
        let less = |coats: Option<Coats>, rates: Option<&[f64; 3]>| {
            coats.map(|coats| rates.map_or(coats, |rates| coats.less(*rates, years)))
        };
        let traffic = floor.traffic();
        match self.kind {
            Some(FilmKind::Polish | FilmKind::SealAndPolish) => Self {
                polish: less(self.polish, figures.polish_wear.get(traffic)),
                ..self
            },
            Some(FilmKind::Seal) => Self {
                seal: less(self.seal, figures.seal_wear.get(traffic)),
                ..self
            },
            Some(FilmKind::Bare | FilmKind::FactoryFinish | FilmKind::WaxOrOil) | None => self,
        }
    }

    /// After a process took what it takes and a job laid what it laid.
    #[must_use]
    pub(super) fn after(self, process: &Process, laid: Laid) -> Self {
        let left = match process.film.takes {
            Takes::Nothing => self,
            Takes::All => Self::BARE,
            Takes::Polish => self.without_polish(),
            Takes::Coats(coats) if self.kind == Some(FilmKind::Seal) => Self {
                seal: self.seal.map(|seal| seal.less(coats, 1.0)),
                ..self
            },
            Takes::Coats(coats) => Self {
                polish: self.polish.map(|polish| polish.less(coats, 1.0)),
                ..self
            },
        };
        let condition = process.film.condition().or(left.condition);
        let kind = left.kind_under(laid);
        Self {
            kind,
            polish: left.polish.map(|coats| coats.plus(laid.polish)),
            seal: left.seal.map(|coats| coats.plus(laid.seal)),
            condition: condition.filter(|_state| kind != Some(FilmKind::Bare)),
        }
    }

    /// What is left once the polish is off: its seal; where nobody told of one, nobody knows what lies below.
    fn without_polish(self) -> Self {
        let kind = match self.kind {
            Some(FilmKind::Polish) => None,
            Some(FilmKind::SealAndPolish) => Some(FilmKind::Seal),
            other => other,
        };
        Self {
            kind,
            polish: Some(Coats::NONE),
            ..self
        }
    }

    /// The kind of film once `laid` lies on this one; what lies on wax is anybody's guess.
    fn kind_under(self, laid: Laid) -> Option<FilmKind> {
        use FilmKind as K;
        let (seal, polish) = (laid.seal.high > 0.0, laid.polish.high > 0.0);
        match (self.kind, seal, polish) {
            (kind, false, false) => kind,
            (Some(K::WaxOrOil), _, _) | (None, true, false) => None,
            // Whatever lies below: the top is a polish.
            (Some(K::Bare | K::FactoryFinish | K::Polish) | None, false, true) => Some(K::Polish),
            (Some(K::Bare | K::FactoryFinish | K::Seal), true, false) => Some(K::Seal),
            (_, true, true)
            | (Some(K::Seal | K::SealAndPolish), false, true)
            | (Some(K::Polish | K::SealAndPolish), true, false) => Some(K::SealAndPolish),
        }
    }

    /// What is true of a floor of which one part is this and another is `other`.
    #[must_use]
    pub(super) fn or(self, other: Self, mostly_other: bool) -> Self {
        let coats = |one: Option<Coats>, two: Option<Coats>| Some(one?.or(two?, mostly_other));
        Self {
            kind: self.kind.filter(|_kind| self.kind == other.kind),
            polish: coats(self.polish, other.polish),
            seal: coats(self.seal, other.seal),
            condition: self
                .condition
                .filter(|_c| self.condition == other.condition),
        }
    }

    /// What is known once `told` is believed: what it does not say stays as it was, unless the kind makes it impossible.
    #[must_use]
    pub(super) fn told(self, told: &Told, trust: Trust) -> Self {
        let kind = told.kind.or(self.kind);
        let same = told.kind.is_none() || told.kind == self.kind;
        let (polished, sealed) = (has_polish(kind), has_seal(kind));
        let coats = |count: Option<i64>, there: Option<bool>, before: Option<Coats>| {
            if there == Some(false) {
                Some(Coats::NONE)
            } else if let Some(count) = count {
                Some(Coats::counted(count, trust.spread))
            } else {
                before.filter(|_count| same)
            }
        };
        let condition = told
            .condition
            .or_else(|| self.condition.filter(|_state| same))
            .filter(|_state| kind != Some(FilmKind::Bare));
        Self {
            kind,
            polish: coats(told.coats, polished, self.polish),
            seal: coats(told.seal_coats, sealed, self.seal),
            condition,
        }
    }

    /// Whether `told` leaves nothing open that these layers could still say.
    pub(super) fn settled_by(told: &Told) -> bool {
        told.kind.is_some() && (told.coats.is_some() || has_polish(told.kind) == Some(false))
    }

    /// In what `told` cannot be true of these layers.
    pub(super) fn denied_by(self, told: &Told, trust: Trust) -> Option<Denied> {
        let (known, said) = (self.kind?, told.kind?);
        if known != said {
            return Some(Denied::Kind(known, said));
        }
        let (coats, count) = (
            self.polish?,
            told.coats.filter(|_| has_polish(told.kind) == Some(true))?,
        );
        let spread = f64::from(trust.spread);
        let fits = float(count) + spread >= coats.low && float(count) - spread <= coats.high;
        (!fits).then_some(Denied::Coats(coats, count))
    }
}

/// What a word denies.
#[derive(Debug, Clone, Copy)]
pub(super) enum Denied {
    /// The kind that was known, and the one that is said.
    Kind(FilmKind, FilmKind),
    /// The coats that were known, and the count that is said.
    Coats(Coats, i64),
}

fn has_polish(kind: Option<FilmKind>) -> Option<bool> {
    kind.map(|kind| matches!(kind, FilmKind::Polish | FilmKind::SealAndPolish))
}

fn has_seal(kind: Option<FilmKind>) -> Option<bool> {
    kind.map(|kind| matches!(kind, FilmKind::Seal | FilmKind::SealAndPolish))
}

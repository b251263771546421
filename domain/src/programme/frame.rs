//! Which film a programme is reckoned for: in what it is counted, how thin it may become, and what renews it.

use super::{act::Act, price::Prices, wear::Film};
use crate::{
    film::{Coats, State},
    knowledge::{Coating, KnowledgeBase, LaysSeal, Process, Takes},
    quantity::{float, whole},
    survey::{FilmKind, Traffic},
};

/// Units of a coat of a film that wears slowly: with whole coats, chance would wear more of it than traffic.
const TENTHS: u8 = 10;
/// More coats in the lane than these count as these.
const MOST_COATS: u8 = 6;
/// More coats beside the lane than these count as these; the rules refuse more.
pub(super) const MOST_BUILT: u8 = 12;

/// What a renewal does to a film that is no polish, in units.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Renewal {
    /// What it takes off the top first.
    pub(super) takes: u8,
    /// What it lays.
    pub(super) adds: u8,
}

/// A film as the model holds it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Frame {
    /// How many units make a coat.
    pub(super) units: u8,
    /// The most units in the lane.
    pub(super) most: u8,
    /// The fewest units that are allowed; none for a polish, whose floor wears on without harm.
    pub(super) least: u8,
    /// Units of a film laid anew.
    pub(super) full: u8,
    /// Units with which a floor is handed back.
    pub(super) hand_back: u8,
    /// The renewal of a film other than polish, whose gloss and build-up are not followed.
    pub(super) renewal: Option<Renewal>,
}

impl Frame {
    /// A polish, of which so many coats are laid anew.
    pub(super) fn polish(base: &KnowledgeBase, full: u8) -> Self {
        Self {
            units: 1,
            most: MOST_COATS,
            least: 0,
            full: full.min(MOST_COATS),
            hand_back: base.programme.hand_back.coats,
            renewal: None,
        }
    }

    /// Whether gloss and build-up are followed.
    pub(super) const fn shines(self) -> bool {
        self.renewal.is_none()
    }

    /// The most units that are told apart where a floor begins.
    pub(super) fn most_counted(self) -> u8 {
        if self.shines() { MOST_BUILT } else { self.most }
    }

    /// Whether so little is left that the floor asks for work, whatever its gloss.
    pub(super) fn is_thin(self, coats: u8) -> bool {
        coats < self.least.max(1)
    }

    /// Units of a count of coats.
    pub(super) fn of_coats(self, coats: Coats) -> Coats {
        let units = f64::from(self.units);
        Coats {
            low: coats.low * units,
            likely: coats.likely * units,
            high: coats.high * units,
        }
    }
}

/// A film other than polish, with the process that renews it.
pub(super) struct Coated<'a> {
    pub(super) frame: Frame,
    /// How it wears.
    pub(super) film: Film<'a>,
    pub(super) row: &'a Coating,
}

impl<'a> Coated<'a> {
    /// What the knowledge base knows of a film of this kind; `None` where it or its renewal is missing, or a renewal adds nothing.
    pub(super) fn of(base: &'a KnowledgeBase, kind: FilmKind, prices: &Prices<'a>) -> Option<Self> {
        let row = base.programme.coating(kind)?;
        let process = prices.process(Act::Recoat)?;
        let adds = row.renewal_coats.or_else(|| laid(base, process))?;
        let takes = match process.film.takes {
            Takes::Nothing => 0.0,
            Takes::Coats([_, likely, _]) => likely,
            Takes::All | Takes::Polish => return None,
        };
        let anew = prices.process(Act::Strip);
        let full = anew.and_then(|process| laid(base, process)).unwrap_or(adds);
        let frame = Frame {
            units: TENTHS,
            most: units(f64::from(MOST_COATS))?,
            least: units(row.least_coats)?,
            full: units(full)?,
            hand_back: units(row.hand_back_coats)?,
            renewal: Some(Renewal {
                takes: units(takes)?,
                adds: units(adds)?,
            }),
        };
        (adds > takes).then_some(Self {
            frame,
            film: Film::Coating {
                coats: adds - takes,
                over: process,
            },
            row,
        })
    }

    /// The coats in the lane: as counted, else as the condition that was told makes likely; and whether they were counted.
    pub(super) fn coats(&self, state: &State) -> Option<(Coats, bool)> {
        if let Some(counted) = state.seal_counted().filter(|_| self.row.counted) {
            return Some((counted, true));
        }
        let left = self.row.left.get(state.condition?.word())?;
        let [low, likely, high] = *left;
        Some((Coats { low, likely, high }, false))
    }
}

/// Coats that a process lays, where it lays any that are counted.
fn laid(base: &KnowledgeBase, process: &Process) -> Option<f64> {
    let usual = process.seal_coats.unwrap_or(base.factors.seal_coats);
    (process.lays_seal == LaysSeal::Always).then(|| float(usual))
}

fn units(coats: f64) -> Option<u8> {
    let most = f64::from(MOST_COATS);
    let units = whole(coats.clamp(0.0, most) * f64::from(TENTHS))?;
    u8::try_from(units).ok()
}

/// Days from one renewal to the next by traffic, as the knowledge base has it.
pub(super) fn interval(process: &Process, traffic: Traffic) -> Option<f64> {
    let days = process.interval_days.get(traffic.word())?;
    (*days > 0).then(|| float(*days))
}

//! A floor as a Markov model: the gloss of its lane, the coats left there, and the coats that have built up beside it.
//!
//! A month is a step: an action is taken at its beginning, then a month of traffic wears the lane. Coats beside the lane do not wear;
//! they decide how long stripping takes and when no coat may be added. Gloss is a share of the way from as dull as traffic makes it (0)
//! to a polish just laid (1), kept in bands that meet at the gloss that is asked for. Between the middles of two bands chance decides, so that
//! the expected gloss is exact; wear varies from month to month by three nodes of a normal distribution (Gauss-Hermite).

#![expect(
    clippy::indexing_slicing,
    reason = "bands and spots are numbered by the model itself, and its tables are as long as there are"
)]

use std::collections::BTreeMap;

use super::{
    act::Act,
    frame::{Frame, MOST_BUILT, Renewal},
    policy::{Fault, Model, Way},
    price::{Price, Prices},
    wear::{MONTH_DAYS, Wear},
};
use crate::{
    knowledge::{GlossFigures, KnowledgeBase},
    plan::recoat_of,
    survey::{FilmCondition, FilmKind, Traffic},
};

/// Bands of gloss below what is asked for, and as many above.
const HALF: u8 = 4;
/// A state of a floor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Spot {
    /// The band of gloss, the dullest first.
    pub(super) band: u8,
    /// Units of film in the lane; whole coats of a polish.
    pub(super) coats: u8,
    /// Coats beside it; one where build-up is not followed.
    pub(super) built: u8,
}

/// The bands of gloss between dull (0) and new (1).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bands {
    /// What is asked for, from above 0 to below 1.
    target: f64,
}

impl Bands {
    pub(super) fn of(gloss: &GlossFigures, target_gu: f64) -> Self {
        Self {
            target: share_of(gloss, target_gu).clamp(0.05, 0.95),
        }
    }

    /// Where a band begins.
    pub(super) fn begins(self, band: u8) -> f64 {
        if band <= HALF {
            self.target * f64::from(band) / f64::from(HALF)
        } else {
            self.target + (1.0 - self.target) * f64::from(band - HALF) / f64::from(HALF)
        }
    }

    /// The middle of a band.
    pub(super) fn middle(self, band: u8) -> f64 {
        self.begins(band).midpoint(self.begins(band + 1))
    }

    /// The bands on both sides of a gloss, with chances that give it in the mean; the outer ones beyond their middles.
    fn around(self, gloss: f64) -> [(u8, f64); 2] {
        let mut low = 0;
        while low + 2 < 2 * HALF && gloss >= self.middle(low + 1) {
            low += 1;
        }
        let (from, to) = (self.middle(low), self.middle(low + 1));
        let upper = ((gloss - from) / (to - from)).clamp(0.0, 1.0);
        [(low, 1.0 - upper), (low + 1, upper)]
    }

    pub(super) const ALL: std::ops::Range<u8> = 0..2 * HALF;

    /// The bands of a film: the brightest alone where gloss is not followed.
    pub(super) const fn followed(frame: Frame) -> std::ops::Range<u8> {
        if frame.shines() {
            Self::ALL
        } else {
            2 * HALF - 1..2 * HALF
        }
    }
}

/// Gloss units as a share of the way from dull to new.
pub(super) fn share_of(gloss: &GlossFigures, gu: f64) -> f64 {
    (gu - gloss.worn_gu) / (gloss.new_gu - gloss.worn_gu)
}

/// A floor as a model.
#[derive(Debug)]
pub(super) struct Lane {
    pub(super) bands: Bands,
    pub(super) frame: Frame,
    pub(super) spots: Vec<Spot>,
    numbers: BTreeMap<Spot, usize>,
    /// By state and action; `None` where it is not offered.
    pub(super) prices: Vec<Vec<Option<Price>>>,
    /// At cash costs, without any thought of grip.
    pub(super) model: Model,
}

/// What a model is made from.
#[derive(Debug, Clone, Copy)]
pub(super) struct Made<'a> {
    pub(super) base: &'a KnowledgeBase,
    pub(super) wear: &'a Wear,
    pub(super) prices: &'a Prices<'a>,
    pub(super) frame: Frame,
    pub(super) target_gu: f64,
    /// What lies on the floor.
    pub(super) kind: FilmKind,
    /// The class that was surveyed.
    pub(super) traffic: Option<Traffic>,
}

impl Lane {
    pub(super) fn new(made: Made<'_>) -> Result<Self, Fault> {
        let bands = Bands::of(&made.base.programme.gloss, made.target_gu);
        let frame = made.frame;
        let mut spots = Vec::new();
        let followed = if frame.shines() { MOST_BUILT } else { 1 };
        for built in 1..=followed {
            let most = if frame.shines() { built } else { frame.most };
            for coats in 0..=most.min(frame.most) {
                let bands = Bands::followed(frame);
                spots.extend(bands.map(|band| Spot { band, coats, built }));
            }
        }
        let numbers: BTreeMap<Spot, usize> = spots.iter().copied().zip(0..).collect();
        let prices: Vec<Vec<Option<Price>>> = spots
            .iter()
            .map(|spot| {
                Act::ALL
                    .iter()
                    .map(|act| price(made, *act, *spot))
                    .collect()
            })
            .collect();
        let way = |spot: Spot, act: Act, price: Price| Way {
            cost: price.cost,
            next: months_end(made, bands, spot, act)
                .into_iter()
                .map(|(spot, chance)| (numbers.get(&spot).copied().unwrap_or(0), chance))
                .collect(),
        };
        let ways = spots.iter().zip(&prices).map(|(spot, prices)| {
            let offered = Act::ALL.iter().zip(prices);
            offered
                .map(|(act, price)| price.map(|price| way(*spot, *act, price)))
                .collect()
        });
        let model = Model::of(ways.collect())?;
        Ok(Self {
            bands,
            frame,
            spots,
            numbers,
            prices,
            model,
        })
    }

    /// The number of a spot; of the nearest where there is none like it.
    pub(super) fn number(&self, spot: Spot) -> usize {
        let built = spot.built.clamp(1, MOST_BUILT);
        let top = 2 * HALF - 1;
        let held = if self.frame.shines() {
            Spot {
                band: spot.band.min(top),
                coats: spot.coats.min(built).min(self.frame.most),
                built,
            }
        } else {
            Spot {
                band: top,
                coats: spot.coats.min(self.frame.most),
                built: 1,
            }
        };
        self.numbers.get(&held).copied().unwrap_or(0)
    }

    /// Whether a floor looks worse than asked for: duller, or worn through in the lane; thinner than allowed where gloss is not followed.
    pub(super) fn is_below(&self, state: usize) -> bool {
        let spot = self.spots[state];
        spot.band < HALF || self.frame.is_thin(spot.coats)
    }

    /// Whether any state offers an action.
    pub(super) fn offers(&self, act: Act) -> bool {
        self.dearest(act).is_some()
    }

    /// What an action costs where it costs most; `None` where no state offers it.
    fn dearest(&self, act: Act) -> Option<f64> {
        let offered = self.prices.iter().filter_map(|row| row[act.number()]);
        offered.map(|price| price.cost).max_by(f64::total_cmp)
    }

    /// What it costs to hand the floor back: the cheapest single action after which it looks as asked for, with enough film in its
    /// lane, in a state that is allowed; nothing where it does already, and stripping where no cheaper one would do.
    pub(super) fn hand_back(&self, state: usize, made: Made<'_>, safe: &[bool]) -> f64 {
        let spot = self.spots[state];
        let serves = |act: Act| {
            let (gloss, left) = at_once(made, self.bands, spot, act);
            let shown = gloss >= self.bands.target - 1e-9;
            // A single buffing: more of them in one day bring back no more.
            let kept = safe[self.number(left)];
            shown && kept && left.coats >= self.frame.hand_back && act.buffs() <= 1
        };
        let offered = Act::ALL.iter().zip(&self.prices[state]);
        let enough = offered
            .filter(|(act, _)| serves(**act))
            .filter_map(|(_, price)| price.map(|price| price.cost));
        let strip = || {
            let here = self.prices[state][Act::Strip.number()].map(|price| price.cost);
            here.or_else(|| self.dearest(Act::Strip)).unwrap_or(0.0)
        };
        enough.min_by(f64::total_cmp).unwrap_or_else(strip)
    }
}

/// What an action costs in a state; `None` where it is not offered.
fn price(made: Made<'_>, act: Act, spot: Spot) -> Option<Price> {
    let worn = made.frame.is_thin(spot.coats);
    let condition = if worn {
        FilmCondition::Worn
    } else if spot.band < HALF || !made.frame.shines() {
        FilmCondition::Scuffed
    } else {
        FilmCondition::Sound
    };
    let on = |coats: u8| made.prices.of(act, (coats, condition));
    match act {
        Act::Leave => Some(Price {
            cost: 0.0,
            hours: 0.0,
            asks: false,
        }),
        // Another film is renewed as long as it can be: what takes it down takes of the floor too.
        _ if let_go(made, act, (spot, condition)) => None,
        // The planner is told of coats of polish only.
        _ if !made.frame.shines() => on(1),
        Act::Strip => on(spot.built),
        // What shows where the lane is worn through is the floor: neither a pad nor a coat on top makes that even.
        _ if spot.coats == 0 => None,
        Act::Recoat => {
            // The rules see what has built up; the coats that are laid follow from the lane.
            on(spot.built)?;
            on(spot.coats)
        }
        Act::Buff | Act::BuffTwice | Act::BuffFour => {
            on(spot.built)?;
            let once = on(spot.coats)?;
            let times = f64::from(act.buffs());
            Some(Price {
                cost: once.cost * times,
                hours: once.hours * times,
                ..once
            })
        }
    }
}

/// Whether an action does not suit a film other than polish, or takes more off its top than is there.
fn let_go(made: Made<'_>, act: Act, (spot, condition): (Spot, FilmCondition)) -> bool {
    made.frame.renewal.is_some_and(|renewal| {
        let lacks =
            act == Act::Recoat && condition != FilmCondition::Worn && spot.coats < renewal.takes;
        lacks || !made.prices.suits(act, condition)
    })
}

/// Gloss and coats right after the first work of an action.
fn at_once(made: Made<'_>, bands: Bands, spot: Spot, act: Act) -> (f64, Spot) {
    let figures = &made.base.programme.gloss;
    let gloss = bands.middle(spot.band);
    match act {
        Act::Leave => (gloss, spot),
        Act::Buff | Act::BuffTwice | Act::BuffFour => {
            (gloss + figures.buff_restores * (1.0 - gloss), spot)
        }
        Act::Recoat if made.frame.shines() => (figures.recoat_share, recoated(made.frame, spot)),
        Act::Recoat => (gloss, recoated(made.frame, spot)),
        Act::Strip => {
            let full = made.frame.full;
            let built = if made.frame.shines() { full } else { 1 };
            let left = Spot {
                coats: full,
                built: built.min(MOST_BUILT),
                ..spot
            };
            (1.0, left)
        }
    }
}

/// What lies there after a renewal.
fn recoated(frame: Frame, spot: Spot) -> Spot {
    if let Some(Renewal { takes, adds }) = frame.renewal {
        let coats = spot.coats.saturating_sub(takes).saturating_add(adds);
        return Spot {
            coats: coats.min(frame.most),
            ..spot
        };
    }
    let laid = u8::try_from(recoat_of(Some(i64::from(spot.coats)))).unwrap_or(1);
    let with = |coats: u8| coats.saturating_sub(1) + laid;
    Spot {
        coats: with(spot.coats).min(frame.most),
        built: with(spot.built).min(MOST_BUILT),
        ..spot
    }
}

/// The states at the end of a month that begins with an action, and their chances.
fn months_end(made: Made<'_>, bands: Bands, spot: Spot, act: Act) -> BTreeMap<Spot, f64> {
    let figures = &made.base.programme;
    let decay = made.wear.kpass(MONTH_DAYS) / made.wear.gloss_kpass;
    let reach = 3.0_f64.sqrt() * figures.doubt.month;
    let mut found = BTreeMap::new();
    for (node, chance) in [
        (1.0 - reach, 1.0 / 6.0),
        (1.0, 2.0 / 3.0),
        (1.0 + reach, 1.0 / 6.0),
    ] {
        let (mut gloss, left) = at_once(made, bands, spot, act);
        let parts = act.buffs().max(1);
        let kept = (-decay * node / f64::from(parts)).exp();
        gloss *= kept;
        for _ in 1..parts {
            gloss = (gloss + figures.gloss.buff_restores * (1.0 - gloss)) * kept;
        }
        let buffed = f64::from(act.buffs()) * figures.gloss.buff_um / figures.film.coat_um;
        let worn = (made.wear.coats_per_month * node + buffed) * f64::from(made.frame.units);
        let whole = crate::quantity::whole(worn.floor()).unwrap_or(0);
        let whole = u8::try_from(whole).unwrap_or(u8::MAX);
        let part = worn - worn.floor();
        for (off, share) in [(whole, 1.0 - part), (whole.saturating_add(1), part)] {
            let around = if made.frame.shines() {
                bands.around(gloss)
            } else {
                [(spot.band, 1.0), (spot.band, 0.0)]
            };
            for (band, lies) in around {
                let end = Spot {
                    band,
                    coats: left.coats.saturating_sub(off),
                    ..left
                };
                let chance = chance * share * lies;
                if chance > 0.0 {
                    *found.entry(end).or_insert(0.0) += chance;
                }
            }
        }
    }
    found
}

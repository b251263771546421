//! How fast a film dries at each humidity that the air of a room may come to.

use std::{cell::OnceCell, ops::RangeInclusive};

use crate::physics::{
    drying::{FilmState, Floor, film_state_from},
    psychrometrics::{Air, AirReading, saturation_pressure_pa, vapour_pressure_pa},
};

/// Humidities at which the evaporation is worked out; between them it is taken as straight (to 0.1 % of the rate).
const N_NODES: usize = 16;
/// The pieces between them, to reckon with.
const N_STEPS: f64 = 15.0;
/// How finely the film's temperature is found there, in K: far below what the straight pieces leave open.
const NODE_K: f64 = 1e-4;
/// The driest air that is followed, as a share.
const DRIEST: f64 = 0.01;

/// Evaporation by the humidity ratio of the room's air: falling, and straight between nodes, each found when the room
/// first comes to it.
#[derive(Debug, Clone)]
pub(super) struct Rates {
    air: Air,
    floor: Floor,
    /// Humidity ratio of the air that comes in, in kg/kg.
    pub(super) supply: f64,
    low: f64,
    step: f64,
    nodes: [OnceCell<FilmState>; N_NODES],
}

impl Rates {
    pub(super) fn between(air: &Air, floor: &Floor, supply: f64) -> Self {
        let ratio_of = |share| with_humidity(air, share).map_or(0.0, |air| air.humidity_ratio());
        let high = ratio_of(1.0);
        let supply = supply.clamp(ratio_of(DRIEST), high);
        let low = supply.min(air.humidity_ratio());
        Self {
            air: *air,
            floor: *floor,
            supply,
            low,
            step: (high - low) / N_STEPS,
            nodes: Default::default(),
        }
    }

    /// The humidity ratio at which the air holds no more.
    pub(super) fn high(&self) -> f64 {
        self.low + self.step * N_STEPS
    }

    /// A film in balance at a node; without heat or rate beyond the last.
    fn node(&self, index: usize) -> FilmState {
        let find = || self.film_at(index);
        self.nodes
            .get(index)
            .map_or(FilmState::NONE, |node| *node.get_or_init(find))
    }

    fn film_at(&self, index: usize) -> FilmState {
        let ratio = (0..index).fold(self.low, |ratio, _step| ratio + self.step);
        let air = air_of(&self.air, ratio);
        // A film in moister air is warmer, so each is looked for above the one before.
        let coldest_c = match index.checked_sub(1) {
            Some(before) => self.node(before).temperature_c,
            None => air.map_or(-100.0, |air| air.dew_point_c()),
        };
        let found = air.map(|air| film_state_from(coldest_c, &air, &self.floor, NODE_K));
        found.unwrap_or(FilmState {
            temperature_c: coldest_c,
            ..FilmState::NONE
        })
    }

    /// Where a humidity ratio lies, counted in pieces from the driest; what is drier counts as the driest.
    pub(super) fn place(&self, ratio: f64) -> f64 {
        if self.step > 0.0 {
            (ratio - self.low).max(0.0) / self.step
        } else {
            0.0
        }
    }

    /// The piece of a place; beyond the last node all is as there.
    pub(super) fn piece(&self, place: f64) -> Piece {
        let rate = |index: usize| self.node(index).rate_kg_m2_s;
        let mut from = 0.0;
        for index in 1..N_NODES {
            if place <= from + 1.0 {
                let here = rate(index.saturating_sub(1));
                let falls = if self.step > 0.0 {
                    here - rate(index)
                } else {
                    0.0
                };
                return Piece {
                    places: from..=from + 1.0,
                    rate: here,
                    falls,
                    fall: falls / self.step.max(f64::MIN_POSITIVE),
                };
            }
            from += 1.0;
        }
        Piece {
            places: from..=f64::INFINITY,
            rate: rate(N_NODES.saturating_sub(1)),
            falls: 0.0,
            fall: 0.0,
        }
    }
}

/// Evaporation between two nodes.
pub(super) struct Piece {
    /// Where it lies.
    places: RangeInclusive<f64>,
    /// The rate where it begins.
    rate: f64,
    /// By how much that falls until it ends.
    falls: f64,
    /// The same for each kg/kg.
    fall: f64,
}

impl Piece {
    pub(super) fn holds(&self, place: f64) -> bool {
        self.places.contains(&place)
    }

    /// The rate at a place of it, and by how much it falls for each kg/kg.
    pub(super) fn at(&self, place: f64) -> (f64, f64) {
        let rate = self.rate - self.falls * (place - self.places.start());
        (rate, self.fall)
    }
}

/// This air with another humidity ratio in kg/kg, as far as there is such air.
fn air_of(air: &Air, ratio: f64) -> Option<Air> {
    let pressure_pa = vapour_pressure_pa(ratio, air.pressure_pa());
    let share = pressure_pa / saturation_pressure_pa(air.temperature_c());
    with_humidity(air, share.clamp(DRIEST, 1.0))
}

/// This air with another relative humidity; `None` for a share outside its range.
fn with_humidity(air: &Air, relative_humidity: f64) -> Option<Air> {
    let reading = AirReading {
        relative_humidity,
        ..*air.reading()
    };
    Air::new(reading).ok()
}

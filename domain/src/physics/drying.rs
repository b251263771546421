//! How long a wet film takes: a polish coat until the next may go on, a rinse film until the floor is dry.
//!
//! A film cools itself while it dries, so its temperature comes first, from a balance of air, floor and evaporation;
//! the rate at that temperature gives the time. The model is ours and unvalidated (±40 % at best without local
//! logs): it may lengthen a label's time and never shorten it, which is the planner's rule, not this module's.
//! It knows no skinning, no porous floor that drinks the first coat, no underfloor heating and no sunlight.

use thiserror::Error;

use super::evaporation::{StillAir, speed_doubt};
use super::psychrometrics::Air;
use super::range::{self, RefusedValues, check_all};
use super::root::falling_root_within;

#[cfg(test)]
mod tests;

/// Spread of the dry-time factor on the log scale, before anything is learnt at a site.
pub const DRY_FACTOR_SIGMA: f64 = 0.35;
/// Share of a coat's water at which drying leaves the constant rate.
pub(super) const CRITICAL_SHARE: f64 = 0.40;
/// Share of a coat's water at which the next coat may go on.
const RECOAT_SHARE: f64 = 0.02;
/// The 80th percentile of the standard normal.
const Z80: f64 = 0.8416;
/// Latent heat of water in a film near room temperature, in J/kg.
const LATENT_HEAT_J_KG: f64 = 2.45e6;
/// Heat exchange of the film with the room by radiation, in W/m² K.
const RADIATIVE_W_M2_K: f64 = 5.2;
/// Heat exchange of a film that does not evaporate with still air, in W/m² K.
const NATURAL_CONVECTION_W_M2_K: f64 = 3.0;
/// Specific heat of air, in J/kg K.
const AIR_HEAT_J_KG_K: f64 = 1_006.0;
/// Lewis relation: heat transfer over mass transfer and specific heat.
const LEWIS: f64 = 0.9;
/// A median beyond this is no wait that anybody plans, in s.
pub(super) const LONGEST_S: f64 = 7.0 * 86_400.0;

/// How readily a floor feeds heat into a cooling film over tens of minutes (our estimate from effusivity).
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FloorConductance {
    /// Stone, ceramic, terrazzo, concrete: 40 W/m² K.
    Stone,
    /// Resilient covering on a slab: 25 W/m² K.
    Resilient,
    /// Timber: 10 W/m² K.
    Timber,
    /// A value of one's own in W/m² K, from 0.5 to 500.
    Other(f64),
}

impl FloorConductance {
    /// In W/m² K.
    pub const fn w_m2_k(self) -> f64 {
        match self {
            Self::Stone => 40.0,
            Self::Resilient => 25.0,
            Self::Timber => 10.0,
            Self::Other(value) => value,
        }
    }
}

/// The floor under a film.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Floor {
    temperature_c: f64,
    conductance: FloorConductance,
}

impl Floor {
    /// Accepts a floor temperature in °C and a conductance.
    ///
    /// # Errors
    /// [`RefusedValues`] for a temperature outside -20 to 60 °C or a conductance outside 0.5 to 500 W/m² K.
    pub fn new(temperature_c: f64, conductance: FloorConductance) -> Result<Self, RefusedValues> {
        check_all(&[
            (range::FLOOR_TEMPERATURE, temperature_c),
            (range::FLOOR_CONDUCTANCE, conductance.w_m2_k()),
        ])?;
        Ok(Self {
            temperature_c,
            conductance,
        })
    }

    /// Surface temperature in °C.
    pub const fn temperature_c(&self) -> f64 {
        self.temperature_c
    }

    /// Heat it feeds into a film.
    pub const fn conductance(&self) -> FloorConductance {
        self.conductance
    }
}

/// What is known of a film; [`WetFilm::new`] checks it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WetFilmReading {
    /// A water-based coat by its wet thickness.
    CoatThickness {
        /// Wet thickness in µm, from 1 to 2000; 1000 over the spreading rate in m²/L.
        thickness_um: f64,
        /// Wet density in kg/m³, from 700 to 2500.
        density_kg_m3: f64,
        /// Share of the mass that is water, from 0.01 to 1.
        water_mass_fraction: f64,
    },
    /// A water-based coat by its wet mass.
    CoatMass {
        /// Wet mass in g/m², from 0.1 to 5000.
        mass_g_m2: f64,
        /// Share of the mass that is water, from 0.01 to 1.
        water_mass_fraction: f64,
    },
    /// A film of rinse water, which dries to nothing at a constant rate.
    Water {
        /// Mass in g/m², from 0.1 to 5000.
        mass_g_m2: f64,
    },
}

/// A wet film: the water that must leave it, and how much of the way the constant rate lasts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WetFilm {
    water_kg_m2: f64,
    /// Time to the goal over the time at constant rate.
    path: f64,
}

impl WetFilm {
    /// Accepts a film.
    ///
    /// # Errors
    /// [`RefusedValues`] names every reading outside its range.
    pub fn new(reading: WetFilmReading) -> Result<Self, RefusedValues> {
        // Two periods: constant rate down to the critical share, then a decay of first order to the recoat share.
        let two_periods =
            (1.0 - CRITICAL_SHARE) + CRITICAL_SHARE * (CRITICAL_SHARE / RECOAT_SHARE).ln();
        match reading {
            WetFilmReading::CoatThickness {
                thickness_um,
                density_kg_m3,
                water_mass_fraction,
            } => {
                check_all(&[
                    (range::FILM_THICKNESS, thickness_um),
                    (range::FILM_DENSITY, density_kg_m3),
                    (range::WATER_FRACTION, water_mass_fraction),
                ])?;
                let water_kg_m2 = thickness_um * 1e-6 * density_kg_m3 * water_mass_fraction;
                Ok(Self {
                    water_kg_m2,
                    path: two_periods,
                })
            }
            WetFilmReading::CoatMass {
                mass_g_m2,
                water_mass_fraction,
            } => {
                check_all(&[
                    (range::FILM_MASS, mass_g_m2),
                    (range::WATER_FRACTION, water_mass_fraction),
                ])?;
                Ok(Self {
                    water_kg_m2: mass_g_m2 * 1e-3 * water_mass_fraction,
                    path: two_periods,
                })
            }
            WetFilmReading::Water { mass_g_m2 } => {
                check_all(&[(range::FILM_MASS, mass_g_m2)])?;
                Ok(Self {
                    water_kg_m2: mass_g_m2 * 1e-3,
                    path: 1.0,
                })
            }
        }
    }

    /// Water in the film when it is laid, in kg/m².
    pub const fn water_kg_m2(&self) -> f64 {
        self.water_kg_m2
    }

    /// The film of this share of its thickness.
    #[must_use]
    pub fn thinned_to(&self, share: f64) -> Self {
        Self {
            water_kg_m2: self.water_kg_m2 * share,
            path: self.path,
        }
    }

    /// Time to the goal over the time at constant rate.
    pub(super) const fn path(&self) -> f64 {
        self.path
    }

    /// Whether it dries ever more slowly towards its end, as a coat does and water does not.
    pub(super) fn slows(&self) -> bool {
        self.path > 1.0
    }
}

/// How long a film takes, and why.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DryTime {
    /// Median in s: to the next coat, or to dryness for a film of water.
    pub p50_s: f64,
    /// 80th percentile in s, the wait to plan with.
    pub p80_s: f64,
    /// Evaporation at the constant rate, in kg/m² s.
    pub rate_kg_m2_s: f64,
    /// Temperature of the film while it dries, in °C.
    pub film_c: f64,
    /// Dew point of the air, in °C.
    pub dew_point_c: f64,
}

impl DryTime {
    /// The time where jobs have told by which multiple such films differ from the model, and how far the next may turn out from
    /// that, as the standard deviation of the logarithm: in the place of the spread before anything is learnt. What is
    /// uncertain of moving air stays.
    #[must_use]
    pub fn learnt(&self, multiple: f64, sigma: f64) -> Self {
        let spread = (self.p80_s / self.p50_s).ln() / Z80;
        let of_air = (spread.powi(2) - DRY_FACTOR_SIGMA.powi(2)).max(0.0);
        let p50_s = self.p50_s * multiple;
        Self {
            p50_s,
            p80_s: p50_s * (Z80 * sigma.hypot(of_air.sqrt())).exp(),
            ..*self
        }
    }

    /// 20th percentile in s. What is uncertain of moving air only makes drying slower, so it does not count here.
    pub fn p20_s(&self) -> f64 {
        self.p50_s * (-Z80 * DRY_FACTOR_SIGMA).exp()
    }
}

/// Why a film does not dry.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DoesNotDryReason {
    /// The air gives water to the film.
    Condenses,
    /// The median lies beyond seven days.
    TooSlow,
}

/// This film does not dry in this air on this floor.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[error("the film at {film_c:.1} °C does not dry in air with a dew point of {dew_point_c:.1} °C")]
pub struct DoesNotDry {
    /// What stands against it.
    pub reason: DoesNotDryReason,
    /// Evaporation in kg/m² s; zero or negative where the air wets the film.
    pub rate_kg_m2_s: f64,
    /// Temperature of the film, in °C.
    pub film_c: f64,
    /// Dew point of the air, in °C.
    pub dew_point_c: f64,
}

/// How films dry between one air and one floor: worked out once, asked for many films.
#[derive(Debug, Clone, Copy)]
pub struct Drying {
    state: FilmState,
    dew_point_c: f64,
    /// Spread of the time, as the standard deviation of its logarithm.
    sigma: f64,
}

impl Drying {
    /// Finds the balance of a film between air and floor, which is the slow part and the same for every film.
    pub fn between(air: &Air, floor: &Floor) -> Self {
        let dew_point_c = air.dew_point_c();
        Self {
            state: film_state_from(dew_point_c, air, floor, 0.0),
            dew_point_c,
            // How much moving air helps is the least certain of all: it adds to what is uncertain anyhow.
            sigma: DRY_FACTOR_SIGMA.hypot(speed_doubt(air.speed_m_s()) / Z80),
        }
    }

    /// The time a film takes, with its 80th percentile under the prior spread.
    ///
    /// `t = m / E · path`, where `m` is the water, `E` the rate at the film's own temperature and `path` 1 for a film
    /// of water, 1.798 for a coat to the next one.
    ///
    /// # Errors
    /// [`DoesNotDry`] where the air gives water to the film, or the median lies beyond seven days.
    pub fn time(&self, film: &WetFilm) -> Result<DryTime, DoesNotDry> {
        let rate_kg_m2_s = self.state.rate_kg_m2_s;
        if rate_kg_m2_s <= 0.0 {
            return Err(self.never(DoesNotDryReason::Condenses));
        }
        self.after(film.water_kg_m2 / rate_kg_m2_s * film.path)
    }

    /// The time of a film whose median is known.
    ///
    /// # Errors
    /// [`DoesNotDry`] beyond seven days.
    pub(super) fn after(&self, p50_s: f64) -> Result<DryTime, DoesNotDry> {
        if p50_s > LONGEST_S {
            return Err(self.never(DoesNotDryReason::TooSlow));
        }
        Ok(DryTime {
            p50_s,
            p80_s: p50_s * (Z80 * self.sigma).exp(),
            rate_kg_m2_s: self.state.rate_kg_m2_s,
            film_c: self.state.temperature_c,
            dew_point_c: self.dew_point_c,
        })
    }

    /// Temperature of a film while it dries, in °C: evaporation cools it below its floor.
    pub const fn film_c(&self) -> f64 {
        self.state.temperature_c
    }

    fn never(&self, reason: DoesNotDryReason) -> DoesNotDry {
        DoesNotDry {
            reason,
            rate_kg_m2_s: self.state.rate_kg_m2_s,
            film_c: self.state.temperature_c,
            dew_point_c: self.dew_point_c,
        }
    }
}

/// The time one film takes in this air on this floor; see [`Drying::time`].
///
/// # Errors
/// [`DoesNotDry`] where the air gives water to the film, or the median lies beyond seven days.
pub fn dry_time(film: &WetFilm, air: &Air, floor: &Floor) -> Result<DryTime, DoesNotDry> {
    Drying::between(air, floor).time(film)
}

/// A film in balance with its air and floor.
#[derive(Debug, Clone, Copy)]
pub(super) struct FilmState {
    pub(super) temperature_c: f64,
    pub(super) rate_kg_m2_s: f64,
}

impl FilmState {
    /// A film that gives nothing off.
    pub(super) const NONE: Self = Self {
        temperature_c: 0.0,
        rate_kg_m2_s: 0.0,
    };
}

/// The temperature at which heat from air and floor feeds the evaporation, and the evaporation there; right within so many
/// kelvin. At `dry_c` or below nothing evaporates: at the dew point, or where a film is colder in drier air.
pub(super) fn film_state_from(dry_c: f64, air: &Air, floor: &Floor, tolerance_k: f64) -> FilmState {
    let still = StillAir::of(air);
    let (air_c, floor_c) = (air.temperature_c(), floor.temperature_c());
    // At the coldest of the three nothing evaporates and heat only flows in; at the warmer of two it only flows out.
    let coldest_c = air_c.min(floor_c).min(dry_c);
    let warmest_c = air_c.max(floor_c);
    let temperature_c = falling_root_within(coldest_c, warmest_c, tolerance_k, |film_c| {
        let evaporation = still.over(film_c);
        // Heat follows the path of the vapour while vapour leaves; on a condensing film only the air's own stirs.
        let convective = if evaporation.ratio_difference > f64::EPSILON {
            AIR_HEAT_J_KG_K * LEWIS * evaporation.rate_kg_m2_s / evaporation.ratio_difference
        } else {
            NATURAL_CONVECTION_W_M2_K
        };
        (convective + RADIATIVE_W_M2_K) * (air_c - film_c)
            + floor.conductance.w_m2_k() * (floor_c - film_c)
            - evaporation.rate_kg_m2_s * LATENT_HEAT_J_KG
    });
    FilmState {
        temperature_c,
        rate_kg_m2_s: still.over(temperature_c).rate_kg_m2_s,
    }
}

//! How fast water leaves a surface into the air above it, in kg/m² s.
//!
//! Two published formulas. The still-surface one (Shah, ASHRAE Transactions 2014, which covers spills) is what the
//! waits rest on; its air-speed exponent is quoted from memory, so a fan alone never lets a hold pass. The pool
//! equation is here as a checked reference only: it was made for pools in use and is about three times too fast
//! for a still floor.

use super::psychrometrics::{Air, density_kg_m3, humidity_ratio, saturation_pressure_pa};
use super::range::{self, RefusedValues, check_all};

#[cfg(test)]
mod tests;

/// Air below this speed counts as still, in m/s.
const STILL_AIR_M_S: f64 = 0.15;
/// Power with which evaporation rises above still air.
const SPEED_EXPONENT: f64 = 0.7;
/// The power that it reaches in four of five cases: published ones lie from 0.10 to 0.78 (Woodward and Krishna 2002,
/// abstract); which of them is from memory.
const SPEED_EXPONENT_P80: f64 = 0.3;

/// Evaporation from a wet surface at a temperature, with the two humidity ratios that drive it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Evaporation {
    /// Mass flow in kg/m² s; negative where the air wets the surface.
    pub(super) rate_kg_m2_s: f64,
    /// Humidity ratio at the surface less that of the room, in kg/kg.
    pub(super) ratio_difference: f64,
}

/// Evaporation in kg/m² s from an undisturbed wet surface at `surface_c`; negative where the air wets the surface.
///
/// Over a film that evaporation has cooled below its room the air sinks, and the second term alone counts: most waits rest on
/// it, and it is what readings of a site would correct first.
///
/// The larger of natural convection, `35 ρs (ρa − ρs)^⅓ (Ws − Wa)`, and `5e-5 (ps − pa)`, both kg/m² h, times
/// `(v / 0.15)^0.7` above 0.15 m/s.
///
/// # Errors
/// [`RefusedValues`] for a surface outside 0 to 60 °C.
pub fn still_surface_rate_kg_m2_s(air: &Air, surface_c: f64) -> Result<f64, RefusedValues> {
    check_all(&[(range::WATER_TEMPERATURE, surface_c)])?;
    Ok(still_surface(air, surface_c).rate_kg_m2_s)
}

/// Evaporation in kg/m² s from a pool in use by the equation of Carrier: `(ps − pa)(0.089 + 0.0782 v) / L`, kPa and kJ.
///
/// For comparison with published figures; no wait is computed from it. `latent_heat_j_kg` is an argument because
/// the published tables differ in the value they take (2.33e6 in one, that of the temperature in another).
///
/// # Errors
/// [`RefusedValues`] for water outside 0 to 60 °C or a latent heat outside 2.2e6 to 2.6e6 J/kg.
pub fn pool_rate_kg_m2_s(
    air: &Air,
    water_c: f64,
    latent_heat_j_kg: f64,
) -> Result<f64, RefusedValues> {
    check_all(&[
        (range::WATER_TEMPERATURE, water_c),
        (range::LATENT_HEAT, latent_heat_j_kg),
    ])?;
    let difference_pa = saturation_pressure_pa(water_c) - air.vapour_pressure_pa();
    Ok(difference_pa * (0.089 + 0.0782 * air.speed_m_s()) / latent_heat_j_kg)
}

/// The still-surface formula for any film temperature a balance may try.
pub(super) fn still_surface(air: &Air, surface_c: f64) -> Evaporation {
    StillAir::of(air).over(surface_c)
}

/// By how much longer a film may take in moving air, in four of five cases and as a natural logarithm; 0 in still air.
pub(super) fn speed_doubt(speed_m_s: f64) -> f64 {
    let faster = (speed_m_s / STILL_AIR_M_S).max(1.0).ln();
    (SPEED_EXPONENT - SPEED_EXPONENT_P80) * faster
}

/// What the still-surface formula needs of the air, worked out once for many film temperatures.
#[derive(Debug, Clone, Copy)]
pub(super) struct StillAir {
    pressure_pa: f64,
    vapour_pa: f64,
    ratio: f64,
    density_kg_m3: f64,
    /// How much faster than in still air.
    draught: f64,
}

impl StillAir {
    pub(super) fn of(air: &Air) -> Self {
        let (pressure_pa, vapour_pa) = (air.pressure_pa(), air.vapour_pressure_pa());
        let ratio = humidity_ratio(vapour_pa, pressure_pa);
        Self {
            pressure_pa,
            vapour_pa,
            ratio,
            density_kg_m3: density_kg_m3(air.temperature_c(), ratio, pressure_pa),
            draught: (air.speed_m_s() / STILL_AIR_M_S)
                .max(1.0)
                .powf(SPEED_EXPONENT),
        }
    }

    /// Evaporation from a surface of this temperature in °C.
    pub(super) fn over(&self, surface_c: f64) -> Evaporation {
        let surface_pa = saturation_pressure_pa(surface_c);
        let surface_ratio = humidity_ratio(surface_pa, self.pressure_pa);
        let surface_density = density_kg_m3(surface_c, surface_ratio, self.pressure_pa);
        let ratio_difference = surface_ratio - self.ratio;
        let lift = self.density_kg_m3 - surface_density;

        let diffusive = 5e-5 * (surface_pa - self.vapour_pa);
        // Only air that is lighter at the surface than above it rises; without lift there is no convective term at all,
        // not a term of zero, which would hide condensation behind the maximum.
        let undisturbed = if lift > 0.0 {
            diffusive.max(35.0 * surface_density * lift.cbrt() * ratio_difference)
        } else {
            diffusive
        };
        Evaporation {
            rate_kg_m2_s: undisturbed * self.draught / 3_600.0,
            ratio_difference,
        }
    }
}

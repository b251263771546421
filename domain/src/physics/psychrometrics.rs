//! Moist air: what a thermometer and a hygrometer say about dew, density and the cooling of a wet surface.
//!
//! Saturation follows Hyland and Wexler as printed in the ASHRAE Fundamentals (the coefficients were confirmed
//! against PsychroLib 2.5.0); the air is a mixture of ideal gases, which differs from the real-gas values of
//! CoolProp 8.0.0 by at most 0.6 % in humidity ratio and 0.05 K in dew point.

use super::range::{self, RefusedValues, check_all};
use super::root::falling_root;

#[cfg(test)]
mod tests;

/// The standard atmosphere at sea level, in Pa.
pub const STANDARD_PRESSURE_PA: f64 = 101_325.0;

/// 0 °C in kelvin.
const ZERO_C: f64 = 273.15;
/// Below the triple point water vapour is in balance with ice, in °C.
const TRIPLE_POINT_C: f64 = 0.01;
/// Mass of a mole of water over that of dry air.
const MASS_RATIO: f64 = 0.621_945;
/// Gas constant of dry air, in J/kg K.
const DRY_AIR_GAS_CONSTANT: f64 = 287.042;

/// What was read of the air over a floor; [`Air::new`] checks it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirReading {
    /// Dry-bulb temperature in °C, from -20 to 60.
    pub temperature_c: f64,
    /// Relative humidity as a share, from 0.01 to 1 (55 % is 0.55).
    pub relative_humidity: f64,
    /// Speed of the air over the floor in m/s, from 0 to 10; 0.1 is a still room.
    pub speed_m_s: f64,
    /// Pressure in Pa, from 60 000 to 110 000; see [`STANDARD_PRESSURE_PA`].
    pub pressure_pa: f64,
}

/// Air over a floor, with every reading inside its legal range.
///
/// ```
/// use domain::physics::psychrometrics::{Air, AirReading, STANDARD_PRESSURE_PA};
///
/// let air = Air::new(AirReading {
///     temperature_c: 20.0,
///     relative_humidity: 0.6,
///     speed_m_s: 0.1,
///     pressure_pa: STANDARD_PRESSURE_PA,
/// })?;
/// assert!((air.dew_point_c() - 12.0).abs() < 0.05);
/// # Ok::<(), domain::physics::range::RefusedValues>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Air(AirReading);

impl Air {
    /// Accepts the readings of one moment.
    ///
    /// # Errors
    /// [`RefusedValues`] names every reading outside its range.
    pub fn new(reading: AirReading) -> Result<Self, RefusedValues> {
        check_all(&[
            (range::AIR_TEMPERATURE, reading.temperature_c),
            (range::RELATIVE_HUMIDITY, reading.relative_humidity),
            (range::AIR_SPEED, reading.speed_m_s),
            (range::PRESSURE, reading.pressure_pa),
        ])?;
        Ok(Self(reading))
    }

    /// What was read.
    pub const fn reading(&self) -> &AirReading {
        &self.0
    }

    /// Dry-bulb temperature in °C.
    pub const fn temperature_c(&self) -> f64 {
        self.0.temperature_c
    }

    /// Relative humidity as a share.
    pub const fn relative_humidity(&self) -> f64 {
        self.0.relative_humidity
    }

    /// Speed over the floor in m/s.
    pub const fn speed_m_s(&self) -> f64 {
        self.0.speed_m_s
    }

    /// Pressure in Pa.
    pub const fn pressure_pa(&self) -> f64 {
        self.0.pressure_pa
    }

    /// Partial pressure of the water vapour in Pa.
    pub fn vapour_pressure_pa(&self) -> f64 {
        self.relative_humidity() * saturation_pressure_pa(self.temperature_c())
    }

    /// Kilograms of water per kilogram of dry air.
    pub fn humidity_ratio(&self) -> f64 {
        humidity_ratio(self.vapour_pressure_pa(), self.pressure_pa())
    }

    /// Temperature in °C at which this air begins to wet a surface, cooled at constant pressure.
    pub fn dew_point_c(&self) -> f64 {
        // By their logarithms, which are nearly straight.
        let logarithm = self.vapour_pressure_pa().ln();
        falling_root(-100.0, self.temperature_c(), |t| {
            logarithm - saturation_logarithm(t)
        })
    }

    /// Thermodynamic wet-bulb temperature in °C: the lowest a wet surface reaches in this air.
    pub fn wet_bulb_c(&self) -> f64 {
        let actual = self.humidity_ratio();
        falling_root(-100.0, self.temperature_c(), |wet_bulb_c| {
            actual - self.ratio_at_wet_bulb(wet_bulb_c)
        })
    }

    /// Mass of a cubic metre of this moist air, in kg.
    pub fn density_kg_m3(&self) -> f64 {
        density_kg_m3(
            self.temperature_c(),
            self.humidity_ratio(),
            self.pressure_pa(),
        )
    }

    /// The humidity ratio that this temperature would have with the given wet bulb; over ice below 0 °C.
    fn ratio_at_wet_bulb(&self, wet_bulb_c: f64) -> f64 {
        let dry_c = self.temperature_c();
        let saturated = humidity_ratio(saturation_pressure_pa(wet_bulb_c), self.pressure_pa());
        let cooled_k = dry_c - wet_bulb_c;
        if wet_bulb_c >= 0.0 {
            ((2_501.0 - 2.326 * wet_bulb_c) * saturated - 1.006 * cooled_k)
                / (2_501.0 + 1.86 * dry_c - 4.186 * wet_bulb_c)
        } else {
            ((2_830.0 - 0.24 * wet_bulb_c) * saturated - 1.006 * cooled_k)
                / (2_830.0 + 1.86 * dry_c - 2.1 * wet_bulb_c)
        }
    }
}

/// Pressure in Pa of water vapour in balance with water, or with ice below 0.01 °C (Hyland and Wexler).
///
/// Fitted from -100 to 200 °C; outside that it extrapolates, and the checked [`Air`] never goes there.
pub fn saturation_pressure_pa(temperature_c: f64) -> f64 {
    saturation_logarithm(temperature_c).exp()
}

/// The natural logarithm of that pressure in Pa.
fn saturation_logarithm(temperature_c: f64) -> f64 {
    let t = temperature_c + ZERO_C;
    if temperature_c <= TRIPLE_POINT_C {
        let polynomial = 6.392_524_7
            + t * (-9.677_843e-3
                + t * (6.221_570_1e-7 + t * (2.074_782_5e-9 + t * -9.484_024e-13)));
        -5.674_535_9e3 / t + polynomial + 4.163_501_9 * t.ln()
    } else {
        let polynomial =
            1.391_499_3 + t * (-4.864_023_9e-2 + t * (4.176_476_8e-5 + t * -1.445_209_3e-8));
        -5.800_220_6e3 / t + polynomial + 6.545_967_3 * t.ln()
    }
}

/// Kilograms of water per kilogram of dry air at this vapour pressure and total pressure, both in Pa.
pub(super) fn humidity_ratio(vapour_pa: f64, pressure_pa: f64) -> f64 {
    MASS_RATIO * vapour_pa / (pressure_pa - vapour_pa)
}

/// Vapour pressure in Pa of air of this humidity ratio (kg/kg) at this total pressure in Pa.
pub(super) fn vapour_pressure_pa(humidity_ratio: f64, pressure_pa: f64) -> f64 {
    humidity_ratio * pressure_pa / (MASS_RATIO + humidity_ratio)
}

/// Mass of a cubic metre of moist air in kg, from °C, kg/kg and Pa.
pub(super) fn density_kg_m3(temperature_c: f64, humidity_ratio: f64, pressure_pa: f64) -> f64 {
    let volume_m3 =
        DRY_AIR_GAS_CONSTANT * (temperature_c + ZERO_C) * (1.0 + 1.607_858 * humidity_ratio)
            / pressure_pa;
    (1.0 + humidity_ratio) / volume_m3
}

//! How much longer than its label a coat takes that hardens by losing solvent or by a reaction, where it is colder.
//!
//! Arrhenius: `exp(Ea / R (1/T − 1/T_label))`, about a factor of two for 10 K; what hardens by the moisture of the air
//! also waits for that moisture. A label's minutes are a range of hours at best: no evaporation is claimed, and the
//! factor only ever lengthens.

use super::psychrometrics::{Air, saturation_pressure_pa};
use super::range::{self, RefusedValues, check_all};

#[cfg(test)]
mod tests;

/// Gas constant, in J/mol K.
const GAS: f64 = 8.314_462_618;
/// 0 °C in kelvin.
const ZERO_C: f64 = 273.15;

/// What a label's minutes were read at, and how they change; [`Curing::new`] checks it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CuringReading {
    /// Activation energy in kJ/mol, from 1 to 200.
    pub activation_kj_mol: f64,
    /// Temperature of the label's minutes in °C, from -20 to 60.
    pub label_c: f64,
    /// Relative humidity of the label's minutes as a share, from 0.01 to 1, for what hardens by the moisture of the air.
    pub label_humidity: Option<f64>,
}

/// How a coat hardens, with every figure inside its legal range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Curing(CuringReading);

impl Curing {
    /// Accepts a way of hardening.
    ///
    /// # Errors
    /// [`RefusedValues`] names every figure outside its range.
    pub fn new(reading: CuringReading) -> Result<Self, RefusedValues> {
        check_all(&[
            (range::ACTIVATION, reading.activation_kj_mol),
            (range::AIR_TEMPERATURE, reading.label_c),
            (
                range::RELATIVE_HUMIDITY,
                reading.label_humidity.unwrap_or(1.0),
            ),
        ])?;
        Ok(Self(reading))
    }

    /// What it was made of.
    pub const fn reading(&self) -> &CuringReading {
        &self.0
    }

    /// The label's minutes are to be multiplied by this, at least 1; the colder of air and floor counts.
    pub fn factor(&self, air: &Air, floor_c: f64) -> f64 {
        let CuringReading {
            activation_kj_mol,
            label_c,
            label_humidity,
        } = self.0;
        let kelvin = air.temperature_c().min(floor_c) + ZERO_C;
        let slower = activation_kj_mol * 1e3 / GAS * (1.0 / kelvin - 1.0 / (label_c + ZERO_C));
        let drier = label_humidity.map_or(1.0, |share| {
            share * saturation_pressure_pa(label_c) / air.vapour_pressure_pa()
        });
        (slower.exp() * drier).max(1.0)
    }
}

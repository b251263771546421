//! Every legal range of a physical reading, in one table, and the refusal that names what was outside it.

use thiserror::Error;

/// A reading outside its legal range, or not a number at all.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("{quantity} is {value}{}, outside {min} to {max}{}", shown(.unit), shown(.unit))]
pub struct OutOfRange {
    /// What was read, in words.
    pub quantity: &'static str,
    /// The unit of the three numbers; `1` for a share.
    pub unit: &'static str,
    /// The refused value.
    pub value: f64,
    /// The smallest legal value.
    pub min: f64,
    /// The largest legal value.
    pub max: f64,
}

/// The unit behind a number; a share has none.
fn shown(unit: &str) -> String {
    if unit == "1" {
        String::new()
    } else {
        format!(" {unit}")
    }
}

/// All readings of one input that were refused, in the order of its members; never empty.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("{}", sentence(.0))]
pub struct RefusedValues(Vec<OutOfRange>);

impl RefusedValues {
    /// Each refused reading.
    pub fn values(&self) -> &[OutOfRange] {
        &self.0
    }
}

fn sentence(values: &[OutOfRange]) -> String {
    values
        .iter()
        .map(ToString::to_string)
        .collect::<Vec<_>>()
        .join("; ")
}

/// A legal range, both ends included.
#[derive(Debug, Clone, Copy)]
pub(super) struct Range {
    quantity: &'static str,
    unit: &'static str,
    min: f64,
    max: f64,
}

const fn range(quantity: &'static str, unit: &'static str, min: f64, max: f64) -> Range {
    Range {
        quantity,
        unit,
        min,
        max,
    }
}

// Air and floor: inside the range in which the saturation equations and a building both make sense.
pub(super) const AIR_TEMPERATURE: Range = range("air temperature", "°C", -20.0, 60.0);
pub(super) const RELATIVE_HUMIDITY: Range = range("relative humidity", "1", 0.01, 1.0);
pub(super) const AIR_SPEED: Range = range("air speed", "m/s", 0.0, 10.0);
pub(super) const PRESSURE: Range = range("air pressure", "Pa", 60_000.0, 110_000.0);
pub(super) const FLOOR_TEMPERATURE: Range = range("floor temperature", "°C", -20.0, 60.0);
pub(super) const FLOOR_CONDUCTANCE: Range = range("floor conductance", "W/m²K", 0.5, 500.0);
pub(super) const WATER_TEMPERATURE: Range = range("water temperature", "°C", 0.0, 60.0);
pub(super) const LATENT_HEAT: Range = range("latent heat", "J/kg", 2.2e6, 2.6e6);

// Rooms: from a cupboard to an arena.
pub(super) const ROOM_VOLUME: Range = range("room volume", "m³", 1.0, 1e7);
pub(super) const AIR_CHANGES: Range = range("air changes", "1/h", 0.0, 60.0);
pub(super) const SUPPLY_RATIO: Range =
    range("humidity ratio of the supply air", "kg/kg", 0.0, 0.15);

// What cures by a reaction.
pub(super) const ACTIVATION: Range = range("activation energy", "kJ/mol", 1.0, 200.0);

// Films: from a wipe to a flood.
pub(super) const FILM_THICKNESS: Range = range("wet film thickness", "µm", 1.0, 2_000.0);
pub(super) const FILM_DENSITY: Range = range("wet film density", "kg/m³", 700.0, 2_500.0);
pub(super) const FILM_MASS: Range = range("wet film mass", "g/m²", 0.1, 5_000.0);
pub(super) const WATER_FRACTION: Range = range("water mass fraction", "1", 0.01, 1.0);

// Rinse water.
pub(super) const ACETIC: Range = range("acetic acid", "mol/L", 0.0, 10.0);
pub(super) const STRONG_BASE: Range = range("strong base", "mol/L", 0.0, 10.0);
pub(super) const STRONG_ACID: Range = range("strong acid", "mol/L", 0.0, 10.0);
pub(super) const ETHANOLAMINE: Range = range("ethanolamine", "mol/L", 0.0, 10.0);
pub(super) const BICARBONATE: Range = range("bicarbonate", "mol/L", 0.0, 1.0);
pub(super) const TARGET_PH: Range = range("target pH", "pH", 4.5, 11.0);
pub(super) const RESIDUE_PH: Range = range("residue pH", "pH", 7.0, 14.0);
pub(super) const WATER_VOLUME: Range = range("water volume", "L", 0.01, 100_000.0);
pub(super) const VINEGAR_VOLUME: Range = range("vinegar volume", "mL", 0.0, 1e8);
pub(super) const RESIDUAL_FILM: Range = range("film left by the pick-up", "mL/m²", 1.0, 500.0);
pub(super) const RINSE_VOLUME: Range = range("rinse water", "mL/m²", 1.0, 10_000.0);
pub(super) const RESIDUE: Range = range("residue in the film", "mol/L", 1e-9, 20.0);
pub(super) const RESIDUE_TARGET: Range = range("residue to be left", "mol/L", 1e-9, 20.0);

impl Range {
    /// Refuses a value outside the range; NaN is outside every range.
    pub(super) fn check(self, value: f64) -> Result<(), OutOfRange> {
        if self.min <= value && value <= self.max {
            return Ok(());
        }
        let Self {
            quantity,
            unit,
            min,
            max,
        } = self;
        Err(OutOfRange {
            quantity,
            unit,
            value,
            min,
            max,
        })
    }
}

/// Checks every pair and reports all refusals at once.
pub(super) fn check_all(readings: &[(Range, f64)]) -> Result<(), RefusedValues> {
    let refused: Vec<_> = readings
        .iter()
        .filter_map(|&(range, value)| range.check(value).err())
        .collect();
    if refused.is_empty() {
        Ok(())
    } else {
        Err(RefusedValues(refused))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_refused_reading_is_named_and_nan_is_one() {
        let refused = check_all(&[
            (AIR_TEMPERATURE, f64::NAN),
            (AIR_SPEED, 1.0),
            (PRESSURE, 1.0),
        ]);
        let quantities: Vec<_> = refused
            .err()
            .map(|r| r.values().iter().map(|v| v.quantity).collect())
            .unwrap_or_default();
        assert_eq!(quantities, ["air temperature", "air pressure"]);
    }

    #[test]
    fn what_is_refused_is_told_in_its_unit_and_a_share_in_none() {
        let told = |range: Range| range.check(1e9).err().map(|refused| refused.to_string());
        let pressure = told(PRESSURE).unwrap_or_default();
        assert!(pressure.contains(" Pa"), "{pressure}");
        let share = told(RELATIVE_HUMIDITY).unwrap_or_default();
        assert!(!share.is_empty() && !share.contains(" 1 "), "{share}");
        assert!(share.ends_with(" 1"), "{share}");
    }

    #[test]
    fn both_ends_of_a_range_are_legal() {
        assert_eq!(RELATIVE_HUMIDITY.check(1.0), Ok(()));
        assert_eq!(RELATIVE_HUMIDITY.check(0.01), Ok(()));
        assert!(RELATIVE_HUMIDITY.check(1.000_001).is_err());
    }
}

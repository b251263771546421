//! Quantities for people: in the units and with the decimal mark that they are used to.

use super::Language;

/// Units of what is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Units {
    /// SI.
    Metric,
    /// US customary.
    Us,
}

// Exact by definition: NIST Handbook 44, appendix C (foot 0.3048 m, gallon 231 cubic inches, 128 fluid ounces).
const SQUARE_FEET_PER_M2: f64 = 1.0 / (0.3048 * 0.3048);
const L_PER_GALLON: f64 = 3.785_411_784;
const ML_PER_FLUID_OUNCE: f64 = L_PER_GALLON * 1000.0 / 128.0;
const MM_PER_INCH: f64 = 25.4;

/// How quantities are written.
#[derive(Debug, Clone, Copy)]
pub(super) struct Measure {
    pub(super) language: Language,
    pub(super) units: Units,
}

impl Measure {
    /// A number with so many decimals at most.
    pub(super) fn figure(self, value: f64, decimals: usize) -> String {
        let text = format!("{value:.decimals$}");
        let text = if text.contains('.') {
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        } else {
            text
        };
        match self.language {
            Language::English => text,
            Language::German => text.replace('.', ","),
        }
    }

    pub(super) fn area(self, m2: f64) -> String {
        match self.units {
            Units::Metric => format!("{} m²", self.figure(m2, 1)),
            Units::Us => format!("{} ft²", self.figure(m2 * SQUARE_FEET_PER_M2, 0)),
        }
    }

    /// A volume that is measured out: small ones in mL or fluid ounces.
    pub(super) fn volume(self, litres: f64) -> String {
        match self.units {
            Units::Metric if litres < 1.0 => format!("{} mL", self.figure(litres * 1000.0, 0)),
            Units::Metric => format!("{} L", self.figure(litres, 1)),
            Units::Us if litres < L_PER_GALLON => {
                format!(
                    "{} fl oz",
                    self.figure(litres * 1000.0 / ML_PER_FLUID_OUNCE, 1)
                )
            }
            Units::Us => format!("{} gal", self.figure(litres / L_PER_GALLON, 1)),
        }
    }

    /// Undiluted product for one bucket of water.
    pub(super) fn bucket(self, ml_per_10_l: f64) -> String {
        match self.units {
            Units::Metric => format!("{} mL + 10 L", self.figure(ml_per_10_l, 0)),
            Units::Us => {
                let fluid_ounces = ml_per_10_l / 10.0 * 3.0 * L_PER_GALLON / ML_PER_FLUID_OUNCE;
                format!("{} fl oz + 3 gal", self.figure(fluid_ounces, 1))
            }
        }
    }

    /// A volume that was used, to what is kept of it.
    pub(super) fn used(self, litres: f64) -> String {
        match self.units {
            Units::Metric => format!("{} L", self.figure(litres, 3)),
            Units::Us => format!("{} gal", self.figure(litres / L_PER_GALLON, 3)),
        }
    }

    /// An area that somebody typed, in m². One that is shown as `whole` is, is the whole.
    pub(super) fn square_metres(self, typed: f64, whole: f64) -> f64 {
        match self.units {
            Units::Metric => typed,
            Units::Us if (typed - whole * SQUARE_FEET_PER_M2).abs() <= 0.5 => whole,
            Units::Us => typed / SQUARE_FEET_PER_M2,
        }
    }

    /// A volume that somebody typed (in gallons where units are US customary), in litres.
    pub(super) fn litres(self, typed: f64) -> f64 {
        match self.units {
            Units::Metric => typed,
            Units::Us => typed * L_PER_GALLON,
        }
    }

    pub(super) fn gap(self, mm: f64) -> String {
        match self.units {
            Units::Metric => format!("{} mm", self.figure(mm, 0)),
            Units::Us => format!("{} in", self.figure(mm / MM_PER_INCH, 1)),
        }
    }

    /// What a reading must lie between.
    pub(super) fn limits(
        self,
        least: Option<f64>,
        most: Option<f64>,
        unit: Option<&str>,
    ) -> Option<String> {
        let unit = unit.map(|unit| format!(" {unit}")).unwrap_or_default();
        let figure = |value| self.figure(value, 3);
        match (least, most) {
            (Some(least), Some(most)) => {
                Some(format!("{} – {}{unit}", figure(least), figure(most)))
            }
            (Some(least), None) => Some(format!("≥ {}{unit}", figure(least))),
            (None, Some(most)) => Some(format!("≤ {}{unit}", figure(most))),
            (None, None) => None,
        }
    }
}

/// A span of time in hours and minutes.
pub(super) fn minutes(minutes: i64) -> String {
    match (minutes / 60, minutes % 60) {
        (0, minutes) => format!("{minutes} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, minutes) => format!("{hours} h {minutes} min"),
    }
}

#[cfg(test)]
mod tests {
    use super::{Language, Measure, Units, minutes};

    const METRIC: Measure = Measure {
        language: Language::German,
        units: Units::Metric,
    };
    const US: Measure = Measure {
        language: Language::English,
        units: Units::Us,
    };

    /// NIST Handbook 44, appendix C: 1 m² is 10.763 910 4 ft², 1 gallon 3.785 411 784 L, 1 fluid ounce 29.573 53 mL.
    #[test]
    fn us_units_are_those_of_the_handbook() {
        assert_eq!(US.area(1000.0), "10764 ft²");
        assert_eq!(US.volume(37.854_117_84), "10 gal");
        assert_eq!(US.volume(0.295_735_3), "10 fl oz");
        assert_eq!(US.gap(254.0), "10 in");
        assert_eq!(US.used(37.854_117_84), "10 gal");
        assert!((US.litres(10.0) - 37.854_117_84).abs() < 1e-9);
        assert!((US.square_metres(100.0, 240.0) - 9.290_304).abs() < 1e-9);
        // 120 m² are 1,291.67 square feet and shown as 1292, which is more: whoever types that means all of it.
        assert!((US.square_metres(1292.0, 120.0) - 120.0).abs() < 1e-9);
        assert!((METRIC.litres(10.0) - 10.0).abs() < 1e-9);
        // One part to 128 is one fluid ounce to the gallon.
        assert_eq!(US.bucket(10_000.0 / 128.0), "3 fl oz + 3 gal");
    }

    #[test]
    fn numbers_end_where_they_have_nothing_more_to_say() {
        assert_eq!(METRIC.area(240.0), "240 m²");
        assert_eq!(METRIC.volume(13.25), "13,2 L");
        assert_eq!(METRIC.volume(0.25), "250 mL");
        assert_eq!(minutes(85), "1 h 25 min");
        assert_eq!(minutes(120), "2 h");
        assert_eq!(
            METRIC.limits(Some(7.0), Some(8.5), Some("pH")).as_deref(),
            Some("7 – 8,5 pH")
        );
        assert_eq!(METRIC.limits(None, None, None), None);
    }
}

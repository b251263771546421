//! Readings: one measured value of a floor or of the air over it, and what values are possible.

use crate::quantity::decimal;
use crate::words::words;

words! {
    /// What is measured. The unit is part of the word.
    ReadingKind {
        /// pH of the wet floor.
        SurfacePh "surface_ph",
        /// Gloss in gloss units.
        GlossGu "gloss_gu",
        /// Pendulum test value, wet.
        PtvWet "ptv_wet",
        /// Relative humidity in the floor, in percent.
        MoistureRhPct "moisture_rh_pct",
        /// Resistance of the film to ground, in ohm.
        FilmResistanceOhm "film_resistance_ohm",
        /// People who walked over it in a day.
        Footfall "footfall",
        /// Temperature of the air in degrees Celsius.
        AirC "air_c",
        /// Temperature of the floor in degrees Celsius.
        FloorC "floor_c",
        /// Relative humidity of the air in percent.
        HumidityPct "humidity_pct",
    }
}

impl ReadingKind {
    /// The least and the greatest value that an instrument can show, both possible.
    pub const fn bounds(self) -> (i64, i64) {
        match self {
            Self::SurfacePh => (0, 14),
            Self::GlossGu => (0, 200),
            Self::PtvWet => (0, 150),
            Self::MoistureRhPct | Self::HumidityPct => (0, 100),
            Self::FilmResistanceOhm => (0, 1_000_000_000_000),
            Self::Footfall => (0, 10_000_000),
            Self::AirC => (-50, 60),
            Self::FloorC => (-50, 80),
        }
    }

    /// A value in thousandths of the unit, or none if it is outside of [`ReadingKind::bounds`].
    pub fn thousandths(self, value: f64) -> Option<i64> {
        let (least, greatest) = self.bounds();
        let range = least.checked_mul(1_000)?..=greatest.checked_mul(1_000)?;
        decimal(value, 3).filter(|thousandths| range.contains(thousandths))
    }
}

#[cfg(test)]
mod tests {
    use super::ReadingKind;

    #[test]
    fn a_value_is_possible_up_to_its_bounds_and_not_beyond() {
        for kind in ReadingKind::ALL {
            let (least, greatest) = kind.bounds();
            let float = crate::quantity::float;
            assert_eq!(kind.thousandths(float(least)), Some(least * 1_000));
            assert_eq!(kind.thousandths(float(greatest)), Some(greatest * 1_000));
            assert_eq!(kind.thousandths(float(least) - 0.001), None, "{kind:?}");
            assert_eq!(kind.thousandths(float(greatest) + 1.0), None, "{kind:?}");
            assert_eq!(kind.thousandths(f64::NAN), None);
            assert_eq!(ReadingKind::of(kind.word()), Some(*kind));
        }
    }

    #[test]
    fn a_value_is_kept_to_the_thousandth() {
        assert_eq!(ReadingKind::SurfacePh.thousandths(7.4), Some(7_400));
        assert_eq!(ReadingKind::AirC.thousandths(-0.5), Some(-500));
    }
}

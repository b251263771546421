//! Figures of building files: numbers, their units, and which of several to take.

use std::f64::consts::PI;

use super::{Concern, Place, Remark, remark, text::letters};
use crate::{
    quantity::{Area, Length},
    survey::{differs, possible},
};

/// By which share two figures of one measure may differ without a remark; what models and their tables are apart.
const TOLERANCE: f64 = 0.02;
/// The largest floor that is taken, in m².
const MAX_AREA_M2: f64 = 1_000_000.0;
/// The longest edge that is taken, in m.
const MAX_LENGTH_M: f64 = 100_000.0;

/// A unit of length as metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LengthUnit(pub f64);

/// A unit of area as square metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AreaUnit(pub f64);

impl LengthUnit {
    /// The metre.
    pub const METRE: Self = Self(1.0);

    /// The unit that a word names.
    ///
    /// Sources: SI; the international foot of 0.3048 m and inch of 25.4 mm are exact by definition.
    pub fn named(word: &str) -> Option<Self> {
        let metres = match letters(word).as_str() {
            "m" | "metre" | "metres" | "meter" | "meters" => 1.0,
            "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" => 0.001,
            "cm" | "centimetre" | "centimetres" | "centimeter" | "centimeters" => 0.01,
            "ft" | "foot" | "feet" => 0.3048,
            "in" | "inch" | "inches" => 0.0254,
            _ => return None,
        };
        Some(Self(metres))
    }

    /// A figure in this unit; `None` for what no floor has.
    pub fn take(self, value: f64) -> Option<Length> {
        let metres = value * self.0;
        let legal = metres.is_finite() && (0.0..=MAX_LENGTH_M).contains(&metres);
        Length::from_m(metres).filter(|_| legal)
    }
}

impl AreaUnit {
    /// The square metre.
    pub const SQUARE_METRE: Self = Self(1.0);

    /// The unit that a word names; a word of length after `square`, `sq` or before `2` counts squared.
    pub fn named(word: &str) -> Option<Self> {
        let plain = letters(&word.replace('²', "2"));
        let length = plain
            .strip_prefix("square")
            .or_else(|| plain.strip_prefix("sq"))
            .or_else(|| plain.strip_suffix('2'))?;
        LengthUnit::named(length).map(|LengthUnit(metres)| Self(metres * metres))
    }

    /// A figure in this unit; `None` for what no floor has.
    pub fn take(self, value: f64) -> Option<Area> {
        let metres = value * self.0;
        let legal = metres.is_finite() && (0.0..=MAX_AREA_M2).contains(&metres);
        Area::from_m2(metres).filter(|_| legal)
    }
}

/// The number that a text is: digits, a point, a sign, an exponent, and nothing else.
pub fn number(text: &str) -> Option<f64> {
    let text = text.trim();
    let plain = |c: char| c.is_ascii_digit() || matches!(c, '.' | '+' | '-' | 'e' | 'E');
    if text.is_empty() || text.len() > 40 || !text.chars().all(plain) {
        return None;
    }
    text.parse().ok().filter(|value: &f64| value.is_finite())
}

/// A figure that somebody claims, and where.
#[derive(Debug, Clone, PartialEq)]
pub struct Claim<T> {
    /// The figure.
    pub value: T,
    /// What the file calls it.
    pub label: String,
    /// Where it stands.
    pub place: Place,
}

/// The area by the first claim that is more than nothing; later ones are held against it. `n_net` tells how many of the first claims
/// are of the net area; a later one only stands in for it.
pub fn take_area(claims: &[Claim<Area>], n_net: usize, remarks: &mut Vec<Remark>) -> Option<Area> {
    let found = claims.iter().position(|claim| claim.value > Area::ZERO);
    let Some((index, taken)) = found.and_then(|index| Some((index, claims.get(index)?))) else {
        return claims.first().map(|claim| claim.value);
    };
    if index >= n_net {
        let detail = format!("No net area is told; {} stands for it.", taken.label);
        remark(remarks, Concern::AreaStandIn, detail, taken.place.clone());
    }
    for other in claims.iter().skip(index.saturating_add(1)) {
        if other.value > Area::ZERO && differs(other.value.m2(), taken.value.m2(), TOLERANCE) {
            let (label, m2) = (&other.label, other.value.m2());
            let detail = format!(
                "{label} says {m2} m², {} says {} m²; the latter is taken.",
                taken.label,
                taken.value.m2()
            );
            remark(remarks, Concern::AreasDiffer, detail, other.place.clone());
        }
    }
    Some(taken.value)
}

/// The edge by the first claim that can enclose the area; those that cannot are told.
pub fn take_perimeter(
    claims: &[Claim<Length>],
    area: Option<Area>,
    remarks: &mut Vec<Remark>,
) -> Option<Length> {
    let area = area.unwrap_or(Area::ZERO);
    let mut taken: Option<&Claim<Length>> = None;
    for claim in claims.iter().filter(|claim| claim.value > Length::ZERO) {
        if !possible(area, claim.value) {
            let detail = impossible(claim, area);
            remark(
                remarks,
                Concern::PerimeterImpossible,
                detail,
                claim.place.clone(),
            );
            continue;
        }
        match taken {
            None => taken = Some(claim),
            Some(first) if differs(claim.value.m(), first.value.m(), TOLERANCE) => {
                let detail = format!(
                    "{} says {} m, {} says {} m; the latter is taken.",
                    claim.label,
                    claim.value.m(),
                    first.label,
                    first.value.m()
                );
                remark(
                    remarks,
                    Concern::PerimetersDiffer,
                    detail,
                    claim.place.clone(),
                );
            }
            Some(_) => {}
        }
    }
    taken.map(|claim| claim.value)
}

/// What to say of an edge that cannot enclose the area, and of the unit that it may have been written in.
///
/// Source: isoperimetric inequality: a circle has the shortest edge.
fn impossible(claim: &Claim<Length>, area: Area) -> String {
    let (label, m) = (&claim.label, claim.value.m());
    let least = 2.0 * (PI * area.m2()).sqrt();
    let mut said = format!(
        "{label} says {m} m, but {} m² have an edge of {least:.3} m at least; it is not taken.",
        area.m2()
    );
    // Written in another unit than the file's: 1,000 millimetres in a metre, 304.8 in a foot.
    for (factor, written, instead) in [
        (304.8, "feet", "millimetres"),
        (1_000.0, "metres", "millimetres"),
        (1.0 / 0.3048, "metres", "feet"),
    ] {
        let would = m * factor;
        if (least..=least * 4.0).contains(&would) {
            use std::fmt::Write as _;
            let _ = write!(
                said,
                " It may be in {written} where {instead} are meant: {would:.3} m."
            );
            break;
        }
    }
    said
}

#[cfg(test)]
mod tests {
    use super::{AreaUnit, Claim, LengthUnit, number, take_area, take_perimeter};
    use crate::{
        handover::{Concern, Place},
        quantity::{Area, Length},
    };

    #[test]
    fn units_are_known_by_the_words_people_write() {
        // Source: the international foot is 0.3048 m, its square 0.09290304 m², both exact.
        let area = |word| AreaUnit::named(word).map(|unit| unit.take(100.0).unwrap().mm2());
        for word in ["squaremeters", "Square Meters", "m2", "m²", "sqm"] {
            assert_eq!(area(word), Some(100_000_000), "{word}");
        }
        for word in ["Square Feet", "sq ft", "ft2", "squarefeet"] {
            assert_eq!(area(word), Some(9_290_304), "{word}");
        }
        assert_eq!(area("Dollars"), None);
        assert_eq!(LengthUnit::named("millimeters"), Some(LengthUnit(0.001)));
        assert_eq!(LengthUnit::named("n/a"), None);
        assert_eq!(LengthUnit::METRE.take(-1.0), None);
        assert_eq!(AreaUnit::SQUARE_METRE.take(1e9), None);
    }

    #[test]
    fn a_number_is_digits_and_nothing_that_looks_like_one() {
        assert_eq!(number(" 19.767 "), Some(19.767));
        assert_eq!(number("1E2"), Some(100.0));
        for text in [
            "", "1,5", "nan", "inf", "1_000", "0x10", "١٢", "1e999", "12 m",
        ] {
            assert_eq!(number(text), None, "{text}");
        }
    }

    #[test]
    fn feet_in_a_model_of_millimetres_are_told_and_not_taken() {
        let claim = |m: f64, label: &str| Claim {
            value: Length::from_m(m).unwrap(),
            label: label.to_owned(),
            place: Place::Entity(7),
        };
        let area = Area::from_m2(49.92);
        let mut remarks = Vec::new();
        // 28.4 m are 93.1758 ft; read as mm they are 0.093 m.
        let claims = [claim(0.0932, "GrossPerimeter"), claim(28.4, "Perimeter")];
        let taken = take_perimeter(&claims, area, &mut remarks);
        assert_eq!(taken, Length::from_m(28.4));
        assert_eq!(remarks.len(), 1);
        assert_eq!(remarks[0].concern, Concern::PerimeterImpossible);
        assert!(
            remarks[0].detail.contains("may be in feet"),
            "{}",
            remarks[0].detail
        );
    }

    #[test]
    fn another_figure_stands_in_for_a_net_area_and_is_told() {
        let claim = |m2: f64| Claim {
            value: Area::from_m2(m2).unwrap(),
            label: format!("area {m2}"),
            place: Place::File,
        };
        let mut remarks = Vec::new();
        assert_eq!(
            take_area(&[claim(0.0), claim(5.0)], 1, &mut remarks),
            Area::from_m2(5.0)
        );
        assert_eq!(remarks[0].concern, Concern::AreaStandIn);
        remarks.clear();
        assert_eq!(
            take_area(&[claim(5.0), claim(6.0)], 2, &mut remarks),
            Area::from_m2(5.0)
        );
        assert_eq!(remarks[0].concern, Concern::AreasDiffer);
        assert_eq!(
            take_area(&[claim(0.0)], 1, &mut Vec::new()),
            Some(Area::ZERO)
        );
    }
}

//! The units of a model.

use super::{
    super::{
        AreaUnit, Concern, Handover, LengthUnit, Place, Refusal,
        step::{Entity, Step},
    },
    model::Ids,
};

/// The units that figures have where they name none of their own.
#[derive(Debug, Clone, Copy)]
pub(super) struct Units {
    /// Of lengths.
    pub(super) length: Option<LengthUnit>,
    /// Of areas.
    pub(super) area: Option<AreaUnit>,
}

/// A unit with what it measures.
enum Unit {
    Length(f64),
    Area(f64),
}

impl Units {
    /// The units that the project assigns; what is missing is told.
    pub(super) fn read(
        step: &Step<'_>,
        ids: &Ids,
        handover: &mut Handover,
    ) -> Result<Self, Refusal> {
        let mut units = Self {
            length: None,
            area: None,
        };
        let mut place = Place::File;
        for project in ids.projects.iter().take(1) {
            let project = step.get(*project)?;
            let Some(assigned) = project.as_ref().and_then(|entity| entity.reference(8)) else {
                continue;
            };
            place = Place::Entity(assigned);
            let listed = step
                .get(assigned)?
                .map(|entity| entity.references(0))
                .unwrap_or_default();
            for id in listed.into_iter().take(100) {
                match unit(step, id)? {
                    Some(Unit::Length(metres)) => {
                        units.length = units.length.or(Some(LengthUnit(metres)));
                    }
                    Some(Unit::Area(metres)) => units.area = units.area.or(Some(AreaUnit(metres))),
                    None => {}
                }
            }
        }
        if units.length.is_none() {
            handover.remark(
                Concern::UnitUnknown,
                "The model does not tell its unit of length.",
                place.clone(),
            );
        }
        if units.area.is_none() {
            handover.remark(
                Concern::UnitUnknown,
                "The model does not tell its unit of area.",
                place,
            );
        }
        Ok(units)
    }

    /// The unit of a length: its own, else the model's.
    pub(super) fn length_of(
        self,
        step: &Step<'_>,
        own: Option<u64>,
    ) -> Result<Option<LengthUnit>, Refusal> {
        let Some(own) = own else {
            return Ok(self.length);
        };
        Ok(match unit(step, own)? {
            Some(Unit::Length(metres)) => Some(LengthUnit(metres)),
            _ => None,
        })
    }

    /// The unit of an area: its own, else the model's.
    pub(super) fn area_of(
        self,
        step: &Step<'_>,
        own: Option<u64>,
    ) -> Result<Option<AreaUnit>, Refusal> {
        let Some(own) = own else {
            return Ok(self.area);
        };
        Ok(match unit(step, own)? {
            Some(Unit::Area(metres)) => Some(AreaUnit(metres)),
            _ => None,
        })
    }
}

/// A unit by its entity; `None` for one of another measure, or one that is not read here.
fn unit(step: &Step<'_>, id: u64) -> Result<Option<Unit>, Refusal> {
    let Some(entity) = step.get(id)? else {
        return Ok(None);
    };
    if let Some(unit) = si(&entity) {
        return Ok(Some(unit));
    }
    let is_conversion =
        entity.is("IFCCONVERSIONBASEDUNIT") || entity.is("IFCCONVERSIONBASEDUNITWITHOFFSET");
    let Some(measure) = entity.reference(3).filter(|_| is_conversion) else {
        return Ok(None);
    };
    let Some(measure) = step.get(measure)? else {
        return Ok(None);
    };
    let factor = measure.number(0).filter(|factor| *factor > 0.0);
    let (Some(factor), Some(of)) = (factor, measure.reference(1)) else {
        return Ok(None);
    };
    // A unit that is converted is converted to one of SI, never to another that is converted.
    let of = step.get(of)?.and_then(|entity| si(&entity));
    Ok(of.map(|of| match of {
        Unit::Length(metres) => Unit::Length(metres * factor),
        Unit::Area(metres) => Unit::Area(metres * factor),
    }))
}

/// A unit of SI. The prefix of a squared unit belongs to the metre: a square centimetre is 10⁻⁴ m².
///
/// Source: the SI prefixes.
fn si(entity: &Entity<'_>) -> Option<Unit> {
    if !entity.is("IFCSIUNIT") {
        return None;
    }
    let power = match entity.word(2) {
        b"" => 0,
        b"EXA" => 18,
        b"PETA" => 15,
        b"TERA" => 12,
        b"GIGA" => 9,
        b"MEGA" => 6,
        b"KILO" => 3,
        b"HECTO" => 2,
        b"DECA" => 1,
        b"DECI" => -1,
        b"CENTI" => -2,
        b"MILLI" => -3,
        b"MICRO" => -6,
        b"NANO" => -9,
        b"PICO" => -12,
        b"FEMTO" => -15,
        b"ATTO" => -18,
        _ => return None,
    };
    match entity.word(3) {
        b"METRE" => Some(Unit::Length(10_f64.powi(power))),
        b"SQUARE_METRE" => Some(Unit::Area(10_f64.powi(2 * power))),
        _ => None,
    }
}

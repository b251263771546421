//! The area and the edge of a space by its shape, where that is a profile drawn upwards or a footprint of straight lines.
//!
//! Everything else (faces, arcs, several bodies, leaning ones) is not worked out: no figure is better than a wrong one.

use std::{cell::RefCell, f64::consts::PI};

use super::super::{
    LengthUnit, OutlineBudget, Refusal,
    step::{Entity, Step, Value},
};
use super::model::Model;
use crate::geometry::{MAX_VERTICES, Outline, Point};

/// What a footprint measures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Drawn {
    /// Its area.
    pub(super) area_m2: f64,
    /// The length of its edges.
    pub(super) perimeter_m: f64,
}

/// Measures the shape of a product; `None` for one that is not worked out, or for which the file has made too much work already.
pub(super) fn measure(
    model: &Model<'_, '_>,
    unit: LengthUnit,
    shape: u64,
) -> Result<Option<Drawn>, Refusal> {
    let step = model.step;
    let Some(shape) = step.get(shape)? else {
        return Ok(None);
    };
    let reader = Reader {
        step,
        unit,
        outlines: &model.outlines,
    };
    let mut body = None;
    for id in shape.references(2).into_iter().take(16) {
        let Some(representation) = step.get(id)? else {
            continue;
        };
        let [item] = representation.references(3)[..] else {
            continue;
        };
        match representation.text(1).as_deref() {
            Some("FootPrint") => {
                if let Some(drawn) = reader.item(item)? {
                    return Ok(Some(drawn));
                }
            }
            Some("Body") => body = Some(item),
            _ => {}
        }
    }
    match body {
        Some(item) => reader.item(item),
        None => Ok(None),
    }
}

struct Reader<'m, 'f> {
    step: &'m Step<'f>,
    unit: LengthUnit,
    outlines: &'m RefCell<OutlineBudget>,
}

impl Reader<'_, '_> {
    fn item(&self, id: u64) -> Result<Option<Drawn>, Refusal> {
        let Some(item) = self.step.get(id)? else {
            return Ok(None);
        };
        if item.is("IFCEXTRUDEDAREASOLID") {
            if !self.is_upright(&item)? {
                return Ok(None);
            }
            return match item.reference(0) {
                Some(profile) => self.profile(profile),
                None => Ok(None),
            };
        }
        if item.is("IFCGEOMETRICCURVESET") || item.is("IFCGEOMETRICSET") {
            return match item.references(0)[..] {
                [curve] => self.rings(&[curve]),
                _ => Ok(None),
            };
        }
        if item.is("IFCANNOTATIONFILLAREA") {
            let mut curves: Vec<u64> = item.reference(0).into_iter().collect();
            curves.extend(item.references(1));
            return self.rings(&curves);
        }
        Ok(None)
    }

    /// Whether the profile lies flat and is drawn straight up or down.
    fn is_upright(&self, solid: &Entity<'_>) -> Result<bool, Refusal> {
        let along = match solid.reference(2) {
            Some(id) => self.direction(id)?,
            None => None,
        };
        let axis = match solid.reference(1) {
            Some(id) => self
                .step
                .get(id)?
                .and_then(|placement| placement.reference(1)),
            None => None,
        };
        let axis = match axis {
            Some(id) => self.direction(id)?,
            None => Some([0.0, 0.0, 1.0]),
        };
        let is_up = |direction: Option<[f64; 3]>| {
            direction.is_some_and(|[x, y, z]| x.hypot(y) <= 1e-6 * z.abs() && z != 0.0)
        };
        Ok(is_up(along) && is_up(axis))
    }

    fn direction(&self, id: u64) -> Result<Option<[f64; 3]>, Refusal> {
        let found = self.step.get(id)?;
        Ok(found.and_then(|entity| match entity.list(0) {
            [x, y, z] => Some([x.number()?, y.number()?, z.number()?]),
            _ => None,
        }))
    }

    fn profile(&self, id: u64) -> Result<Option<Drawn>, Refusal> {
        let Some(profile) = self.step.get(id)? else {
            return Ok(None);
        };
        let metres = |index| profile.number(index).map(|value: f64| value * self.unit.0);
        if profile.is("IFCRECTANGLEPROFILEDEF") {
            return Ok(metres(3).zip(metres(4)).map(|(x, y)| Drawn {
                area_m2: x * y,
                perimeter_m: 2.0 * (x + y),
            }));
        }
        if profile.is("IFCCIRCLEPROFILEDEF") {
            return Ok(metres(3).map(|radius| Drawn {
                area_m2: PI * radius * radius,
                perimeter_m: 2.0 * PI * radius,
            }));
        }
        let mut curves: Vec<u64> = profile.reference(2).into_iter().collect();
        if profile.is("IFCARBITRARYPROFILEDEFWITHVOIDS") {
            curves.extend(profile.references(3));
        } else if !profile.is("IFCARBITRARYCLOSEDPROFILEDEF") {
            return Ok(None);
        }
        self.rings(&curves)
    }

    /// The figures of an outer curve and those of holes.
    fn rings(&self, curves: &[u64]) -> Result<Option<Drawn>, Refusal> {
        let mut rings = Vec::new();
        let mut n_points = 0_usize;
        for id in curves {
            let Some(ring) = self.curve(*id, 0)? else {
                return Ok(None);
            };
            n_points = n_points.saturating_add(ring.len());
            if n_points > 2 * MAX_VERTICES {
                return Ok(None);
            }
            rings.push(ring);
        }
        if !self.outlines.borrow_mut().take(n_points) {
            return Ok(None);
        }
        Ok(Outline::new(&rings).ok().map(|outline| Drawn {
            area_m2: outline.area_m2(),
            perimeter_m: outline.perimeter_m(),
        }))
    }

    /// The points of a curve of straight lines.
    fn curve(&self, id: u64, depth: u8) -> Result<Option<Vec<Point>>, Refusal> {
        let Some(curve) = self.step.get(id)? else {
            return Ok(None);
        };
        if curve.is("IFCPOLYLINE") {
            let ids = curve.references(0);
            if ids.len() > 2 * MAX_VERTICES {
                return Ok(None);
            }
            let mut points = Vec::with_capacity(ids.len());
            for id in ids {
                let found = self.step.get(id)?;
                let Some(point) = found.as_ref().and_then(|entity| self.point(entity.list(0)))
                else {
                    return Ok(None);
                };
                points.push(point);
            }
            return Ok(Some(points));
        }
        if curve.is("IFCINDEXEDPOLYCURVE") && *curve.value(1) == Value::Absent {
            let list = match curve.reference(0) {
                Some(id) => self.step.get(id)?,
                None => None,
            };
            let points = list.as_ref().map(|list| list.list(0)).unwrap_or_default();
            let read = |value: &Value<'_>| match value {
                Value::List(values) => self.point(values),
                _ => None,
            };
            return Ok(points.iter().take(2 * MAX_VERTICES + 1).map(read).collect());
        }
        if curve.is("IFCCOMPOSITECURVE") && depth == 0 {
            return self.segments(&curve);
        }
        Ok(None)
    }

    /// The points of a curve that is made of others.
    fn segments(&self, curve: &Entity<'_>) -> Result<Option<Vec<Point>>, Refusal> {
        let mut points = Vec::new();
        for id in curve.references(0) {
            let segment = self.step.get(id)?;
            let parent = segment
                .as_ref()
                .and_then(|segment| Some((segment.word(1), segment.reference(2)?)));
            let Some((sense, parent)) = parent else {
                return Ok(None);
            };
            let Some(mut part) = self.curve(parent, 1)? else {
                return Ok(None);
            };
            if sense == b"F" {
                part.reverse();
            }
            points.extend(part);
            if points.len() > 2 * MAX_VERTICES {
                return Ok(None);
            }
        }
        Ok(Some(points))
    }

    fn point(&self, values: &[Value<'_>]) -> Option<Point> {
        match values {
            [x, y] | [x, y, _] => Some(Point::new(
                x.number()? * self.unit.0,
                y.number()? * self.unit.0,
            )),
            _ => None,
        }
    }
}

//! Whether what a caller says of a floor's shape can be stored: its area, its outline, its doors.
//!
//! An area that contradicts the outline is refused: one of the two is wrong, and litres, hours and money hang on it. A
//! perimeter that differs is only a finding: what counts as edge differs between sources, since many leave out door
//! openings or columns.

use domain::{
    geometry::{Outline, OutlineFault},
    knowledge::KnowledgeBase,
    quantity::Area,
    survey::differs,
};

use super::classify::at;
use crate::{body::Fault, wire::surface::SurfaceRequest};

/// The smallest area that is a floor: 0.01 m².
const LEAST_AREA: Area = Area::from_mm2(10_000);
/// The largest area of one surface: 1,000,000 m².
const MOST_AREA: Area = Area::from_mm2(1_000_000_000_000);
/// How far a door may lie from the nearest edge, in m.
const DOOR_REACH_M: f64 = 0.5;

/// The outline of a surface, if it was drawn; `root` is the place of the request in its body.
///
/// # Errors
/// Every fault of area, outline and doors.
pub(super) fn outline(
    base: &KnowledgeBase,
    request: &SurfaceRequest,
    root: &str,
) -> Result<Option<Outline>, Vec<Fault>> {
    let mut faults = Vec::new();
    let outline = match request.outline() {
        Ok(outline) => outline,
        Err(found) => return Err(found.iter().map(|fault| ill_drawn(fault, root)).collect()),
    };
    faults.extend(area_fault(base, request, outline.as_ref(), root));
    let doors = request.doors.as_deref().unwrap_or_default();
    match &outline {
        None if !doors.is_empty() => {
            let detail = "Doors lie in an outline: give it, or leave the doors out.";
            faults.push(at(root, "doors", "doors_without_outline", detail));
        }
        None => {}
        Some(outline) => {
            let apart = doors
                .iter()
                .enumerate()
                .filter(|(_, door)| outline.distance_to_edge(door.at.point()) > DOOR_REACH_M);
            faults.extend(apart.map(|(index, _door)| {
                let detail = format!("The door is more than {DOOR_REACH_M} m from every edge.");
                at(root, &format!("doors/{index}/at"), "door_apart", detail)
            }));
        }
    }
    if faults.is_empty() {
        Ok(outline)
    } else {
        Err(faults)
    }
}

/// A fault of an outline, where it lies.
fn ill_drawn(fault: &OutlineFault, root: &str) -> Fault {
    let member = match fault.place() {
        (Some(ring), Some(vertex)) => format!("outline/{ring}/{vertex}"),
        (Some(ring), None) => format!("outline/{ring}"),
        (None, _) => "outline".to_owned(),
    };
    let code = match fault {
        OutlineFault::Size => "outline_size",
        OutlineFault::Coordinate { .. } => "coordinate_out_of_range",
        OutlineFault::TooFewPoints { .. } => "too_few_points",
        OutlineFault::Meets { .. } => "edges_meet",
        OutlineFault::HoleOutside { .. } => "hole_outside",
        OutlineFault::HoleInHole { .. } => "hole_in_hole",
    };
    let mut detail = fault.to_string();
    // Faults are written as sentences here; in a log they stand in one.
    if let Some(first) = detail.get_mut(0..1) {
        first.make_ascii_uppercase();
    }
    at(root, &member, code, format!("{detail}."))
}

fn area_fault(
    base: &KnowledgeBase,
    request: &SurfaceRequest,
    outline: Option<&Outline>,
    root: &str,
) -> Option<Fault> {
    let told = request.area();
    let (member, area) = match outline {
        Some(outline) => ("outline", outline.area()),
        None if request.area_m2.is_none() => {
            let detail = "Nothing says how large it is: give `area_m2` or `outline`.";
            return Some(at(root, "area_m2", "area_missing", detail));
        }
        None => ("area_m2", told.unwrap_or(Area::ZERO)),
    };
    if area < LEAST_AREA {
        let detail = "The area is below 0.01 m²: give the area of the floor.";
        return Some(at(root, member, "area_too_small", detail));
    }
    if area > MOST_AREA {
        let detail = "The outline encloses more than 1,000,000 m²: coordinates are metres.";
        return Some(at(root, member, "area_too_large", detail));
    }
    let told = told.filter(|_| outline.is_some())?;
    let tolerance = base.factors.outline_tolerance;
    differs(told.m2(), area.m2(), tolerance).then(|| {
        let detail = format!(
            "The outline encloses {} m², which is not {} m²: correct the one that is wrong, or give the outline alone.",
            area.m2(),
            told.m2()
        );
        at(root, "area_m2", "area_differs", detail)
    })
}

//! Outlines of spaces in metres, written as the features of GeoJSON (RFC 7946) are.
//!
//! Such a file is no GeoJSON, which is in degrees of longitude and latitude: areas in degrees mean nothing to a crew. A file
//! that says it is in degrees, or whose coordinates can hardly be anything else, is refused.
//!
//! Each feature is a polygon with the properties `external_id` (or the feature's `id`), `external_system`, `name`, `number`, `storey`,
//! `area_m2`, `perimeter_m`, `height_m` and `finish`; others are passed over.

mod shape;

use std::collections::BTreeSet;

use domain::{
    geometry::{Outline, Point},
    handover::{
        AreaUnit, Claim, Concern, ExternalName, FoundFinish, FoundSpace, Handover, LengthUnit,
        MAX_SPACES, OutlineBudget, Place, Refusal, RefusalKind, Storey, number, settle, take_area,
        take_perimeter, told,
    },
};
use serde::Deserialize;
use serde_json::value::RawValue;

use shape::{Many, Scalar, TOO_LONG, rings};

/// The most bytes of a file.
const MAX_BYTES: usize = 16 * 1024 * 1024;
/// Below which size in both directions a whole file cannot be in metres.
const DEGREES_EXTENT: f64 = 0.2;

#[derive(Deserialize)]
struct Collection<'j> {
    #[serde(rename = "type")]
    kind: Scalar,
    #[serde(borrow)]
    features: Many<Feature<'j>, MAX_SPACES>,
    #[serde(borrow, default)]
    crs: Option<&'j RawValue>,
}

#[derive(Deserialize)]
struct Feature<'j> {
    #[serde(default)]
    id: Scalar,
    #[serde(borrow, default)]
    geometry: Option<Geometry<'j>>,
    #[serde(default)]
    properties: Option<Properties>,
}

#[derive(Deserialize)]
struct Geometry<'j> {
    #[serde(rename = "type")]
    kind: Scalar,
    #[serde(borrow, default)]
    coordinates: Option<&'j RawValue>,
}

#[derive(Deserialize, Default)]
#[serde(default)]
struct Properties {
    external_id: Scalar,
    external_system: Scalar,
    name: Scalar,
    number: Scalar,
    storey: Scalar,
    area_m2: Scalar,
    perimeter_m: Scalar,
    height_m: Scalar,
    finish: Scalar,
}

/// Reads a file.
///
/// # Errors
/// [`Refusal`] with its line: not JSON of this form, in degrees, or larger than may be.
pub(super) fn read(bytes: &[u8]) -> Result<Handover, Refusal> {
    if bytes.len() > MAX_BYTES {
        return Err(Refusal::new(
            RefusalKind::TooLarge,
            "The file is larger than 16 MiB.",
            Place::File,
        ));
    }
    let read: Result<Collection<'_>, _> = serde_json::from_slice(bytes);
    let collection = read.map_err(|error| {
        let line = u64::try_from(error.line()).unwrap_or(u64::MAX);
        let kind = refused(&error);
        let detail = if error.is_data() {
            format!("The features cannot be read: {error}.")
        } else {
            "The file is not JSON, or is cut off.".to_owned()
        };
        Refusal::new(kind, detail, Place::Line(line))
    })?;
    if collection.kind.text() != Some("FeatureCollection") {
        let detail = "The file is no FeatureCollection.";
        return Err(Refusal::new(RefusalKind::NotTheFormat, detail, Place::File));
    }
    let mut handover = Handover::default();
    let mut extent = Extent::default();
    let (mut budget, mut storeys) = (OutlineBudget::default(), BTreeSet::new());
    for (index, feature) in collection.features.0.into_iter().enumerate() {
        let space = space(index, feature, (&mut extent, &mut budget))?;
        if let Some(name) = &space.storey
            && storeys.insert(name.clone())
        {
            let place = space.place.clone();
            handover.storeys.push(Storey {
                name: name.clone(),
                place,
            });
        }
        handover.spaces.push(space);
    }
    let says_degrees = collection
        .crs
        .is_some_and(|crs| crs.get().contains("CRS84") || crs.get().contains("4326"));
    if says_degrees || extent.looks_like_degrees() {
        let detail = "The coordinates are degrees of longitude and latitude, or look like them: outlines are in metres, \
                      in a frame of the site's own.";
        return Err(Refusal::new(RefusalKind::Degrees, detail, Place::File));
    }
    settle(&mut handover);
    Ok(handover)
}

/// How far all coordinates of a file reach.
#[derive(Default)]
struct Extent {
    x: Option<(f64, f64)>,
    y: Option<(f64, f64)>,
}

impl Extent {
    fn add(&mut self, point: Point) {
        let grown = |range: Option<(f64, f64)>, value: f64| {
            Some(range.map_or((value, value), |(low, high)| {
                (low.min(value), high.max(value))
            }))
        };
        self.x = grown(self.x, point.x);
        self.y = grown(self.y, point.y);
    }

    /// Whether no building in metres is so small, and all of it lies where degrees lie.
    fn looks_like_degrees(&self) -> bool {
        let small = |range: Option<(f64, f64)>, most: f64| {
            range.is_some_and(|(low, high)| {
                high - low < DEGREES_EXTENT && low >= -most && high <= most
            })
        };
        small(self.x, 180.0) && small(self.y, 90.0)
    }
}

fn space(
    index: usize,
    feature: Feature<'_>,
    (extent, budget): (&mut Extent, &mut OutlineBudget),
) -> Result<FoundSpace, Refusal> {
    let place = Place::Feature(index);
    let mut space = FoundSpace::at(place.clone());
    let said = feature.properties.unwrap_or_default();
    let word = |value: &Scalar, label: &str| value.text().and_then(|text| told(text, label));
    space.name = word(&said.name, "name").unwrap_or_default();
    space.number = word(&said.number, "number");
    space.storey = word(&said.storey, "storey");
    let system =
        word(&said.external_system, "external_system").unwrap_or_else(|| "geojson".to_owned());
    let id = word(&said.external_id, "external_id").or_else(|| word(&feature.id, "id"));
    space.external = id.map(|id| ExternalName::of(&system, &id));
    if let Some(text) = word(&said.finish, "finish") {
        space.take_finish(FoundFinish {
            text,
            label: "finish".to_owned(),
            place: place.clone(),
        });
    }
    space.outline = outline(feature.geometry, (extent, budget), &mut space)?;
    let claim = |value, label: &str| Claim {
        value,
        label: label.to_owned(),
        place: place.clone(),
    };
    let mut areas: Vec<_> = space
        .outline
        .iter()
        .map(|outline| claim(outline.area(), "The outline"))
        .collect();
    if let Some(value) = figure(&said.area_m2, "area_m2", &mut space) {
        match AreaUnit::SQUARE_METRE.take(value) {
            Some(value) => areas.push(claim(value, "area_m2")),
            None => space.remark(
                Concern::NumberUnreadable,
                "area_m2 is beyond what a floor can be.",
            ),
        }
    }
    space.area = take_area(&areas, areas.len(), &mut space.remarks);
    let length = |value| LengthUnit::METRE.take(value);
    let told_edge = figure(&said.perimeter_m, "perimeter_m", &mut space).and_then(length);
    let drawn_edge = space.outline.as_ref().map(Outline::edge);
    let edges: Vec<_> = [(drawn_edge, "The outline"), (told_edge, "perimeter_m")]
        .into_iter()
        .filter_map(|(edge, label)| {
            Some(Claim {
                value: edge?,
                label: label.to_owned(),
                place: place.clone(),
            })
        })
        .collect();
    space.perimeter = take_perimeter(&edges, space.area, &mut space.remarks);
    let height = figure(&said.height_m, "height_m", &mut space).and_then(length);
    space.height = height.filter(|height| height.mm() > 0);
    Ok(space)
}

/// Whether JSON that cannot be read holds too much, or is none.
fn refused(error: &serde_json::Error) -> RefusalKind {
    if error.to_string().starts_with(TOO_LONG) {
        RefusalKind::TooLarge
    } else {
        RefusalKind::Malformed
    }
}

/// The outline, if there is one of a floor; its points count to the extent of the file all the same.
fn outline(
    geometry: Option<Geometry<'_>>,
    (extent, budget): (&mut Extent, &mut OutlineBudget),
    space: &mut FoundSpace,
) -> Result<Option<Outline>, Refusal> {
    let Some(geometry) = geometry else {
        return Ok(None);
    };
    let kind = geometry.kind.text().unwrap_or_default().to_owned();
    let coordinates = geometry.coordinates.map_or("null", RawValue::get);
    let read = rings(&kind, coordinates).map_err(|error| {
        let detail = format!("The coordinates cannot be read: {error}.");
        Refusal::new(refused(&error), detail, space.place.clone())
    })?;
    let Some(rings) = read else {
        space.remark(Concern::OutlineFaulty, "Its outline is not one polygon.");
        return Ok(None);
    };
    for point in rings.iter().flatten() {
        extent.add(*point);
    }
    if !budget.take(rings.iter().map(Vec::len).sum()) {
        let detail = "The outlines up to here have too many points together: send them in parts.";
        return Err(Refusal::new(
            RefusalKind::TooLarge,
            detail,
            space.place.clone(),
        ));
    }
    match Outline::new(&rings) {
        Ok(outline) if AreaUnit::SQUARE_METRE.take(outline.area_m2()).is_none() => {
            space.remark(
                Concern::OutlineFaulty,
                "Its outline has an area that no floor has: coordinates are metres here.",
            );
            Ok(None)
        }
        Ok(outline) => {
            space.rings = rings;
            Ok(Some(outline))
        }
        Err(faults) => {
            for fault in faults.iter().take(5) {
                let at = match fault.place() {
                    (Some(ring), Some(vertex)) => format!("ring {ring}, point {vertex}: "),
                    (Some(ring), None) => format!("ring {ring}: "),
                    _ => String::new(),
                };
                space.remark(Concern::OutlineFaulty, format!("{at}{fault}"));
            }
            Ok(None)
        }
    }
}

/// The number of a property; `None`, with a remark, for what is not one.
fn figure(value: &Scalar, label: &str, space: &mut FoundSpace) -> Option<f64> {
    let text = told(value.text()?, label)?;
    let read = number(&text).filter(|value| *value >= 0.0);
    if read.is_none() {
        let start: String = text.chars().take(40).collect();
        space.remark(
            Concern::NumberUnreadable,
            format!("{label} is `{}`, not a number.", start.escape_debug()),
        );
    }
    read
}

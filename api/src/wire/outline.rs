//! Outlines and doors on the wire: rings of points in metres, in a frame of the site's own. This is not GeoJSON, whose
//! coordinates are degrees.

use domain::{
    geometry::{MAX_COORDINATE_M, MAX_VERTICES, Outline, OutlineFault, Point},
    quantity::Length,
};
use serde::{Deserialize, Serialize};
use utoipa::{
    PartialSchema, ToSchema,
    openapi::{
        RefOr,
        schema::{ArrayBuilder, ObjectBuilder, Schema, Type},
    },
};

/// A point: x and y in m.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub(crate) struct Position([f64; 2]);

/// A ring: points one after the other; the last may repeat the first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub(crate) struct Ring(Vec<Position>);

/// A door of a floor.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"at": [0.0, 4.0]}))]
pub(crate) struct Door {
    /// The middle of its threshold, at most half a metre from an edge of the outline.
    pub(crate) at: Position,
}

impl PartialSchema for Position {
    fn schema() -> RefOr<Schema> {
        let metres = ObjectBuilder::new()
            .schema_type(Type::Number)
            .minimum(Some(-MAX_COORDINATE_M))
            .maximum(Some(MAX_COORDINATE_M));
        ArrayBuilder::new()
            .items(metres)
            .min_items(Some(2))
            .max_items(Some(2))
            .description(Some(
                "A point: x and y in m in a frame of the site's own, kept to the millimetre.",
            ))
            .into()
    }
}

impl ToSchema for Position {}

impl PartialSchema for Ring {
    fn schema() -> RefOr<Schema> {
        ArrayBuilder::new()
            .items(Position::schema())
            .min_items(Some(3))
            .max_items(Some(MAX_VERTICES))
            .description(Some(
                "Points one after the other, in either sense of rotation; the last may repeat the first. A ring does \
                 not cross or touch itself.",
            ))
            .into()
    }
}

impl ToSchema for Ring {}

impl Position {
    /// The point as it is kept, to the millimetre.
    #[must_use]
    pub(crate) fn kept(self) -> Self {
        let to_mm = |metres: f64| Length::from_m(metres).map_or(metres, Length::m);
        Self(self.0.map(to_mm))
    }

    /// The point as the planner takes it.
    pub(crate) const fn point(self) -> Point {
        let [x, y] = self.0;
        Point::new(x, y)
    }
}

impl From<Point> for Position {
    fn from(point: Point) -> Self {
        Self([point.x, point.y]).kept()
    }
}

impl Door {
    /// The door as it is kept.
    #[must_use]
    pub(crate) fn kept(self) -> Self {
        Self { at: self.at.kept() }
    }
}

impl Ring {
    /// The ring as it is kept.
    #[must_use]
    pub(crate) fn kept(self) -> Self {
        Self(self.0.into_iter().map(Position::kept).collect())
    }
}

impl FromIterator<Point> for Ring {
    fn from_iter<I: IntoIterator<Item = Point>>(points: I) -> Self {
        Self(points.into_iter().map(Into::into).collect())
    }
}

/// The outline that rings make up.
///
/// # Errors
/// Every [`OutlineFault`].
pub(crate) fn read(rings: &[Ring]) -> Result<Outline, Vec<OutlineFault>> {
    let points = |ring: &Ring| ring.0.iter().map(|position| position.point()).collect();
    let rings: Vec<Vec<Point>> = rings.iter().map(points).collect();
    Outline::new(&rings)
}

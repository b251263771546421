//! Pieces of JSON that hold no more than they may, while they are read.

use std::{fmt, marker::PhantomData};

use domain::geometry::{MAX_RINGS, MAX_VERTICES, Point};
use serde::{
    Deserialize, Deserializer,
    de::{Error, IgnoredAny, SeqAccess, Visitor},
};

/// How the reader begins to tell of a list that holds more than is read.
pub(super) const TOO_LONG: &str = "a list is longer than";

/// A list of up to `N`.
pub(super) struct Many<T, const N: usize>(pub(super) Vec<T>);

impl<'de, T: Deserialize<'de>, const N: usize> Deserialize<'de> for Many<T, N> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_seq(ManyOf(PhantomData))
    }
}

struct ManyOf<T, const N: usize>(PhantomData<T>);

impl<'de, T: Deserialize<'de>, const N: usize> Visitor<'de> for ManyOf<T, N> {
    type Value = Many<T, N>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "a list of up to {N}")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Self::Value, A::Error> {
        let mut all = Vec::new();
        while let Some(one) = list.next_element()? {
            if all.len() >= N {
                return Err(A::Error::custom(format!("{TOO_LONG} {N}")));
            }
            all.push(one);
        }
        Ok(Many(all))
    }
}

/// A text or a number, as text; nothing for null, truth values, lists and objects.
#[derive(Default)]
pub(super) struct Scalar(Option<String>);

impl Scalar {
    /// The text.
    pub(super) fn text(&self) -> Option<&str> {
        self.0.as_deref()
    }
}

impl<'de> Deserialize<'de> for Scalar {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(ScalarOf)
    }
}

struct ScalarOf;

impl<'de> Visitor<'de> for ScalarOf {
    type Value = Scalar;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a text or a number")
    }

    fn visit_str<E: Error>(self, text: &str) -> Result<Scalar, E> {
        Ok(Scalar(Some(text.chars().take(1_000).collect())))
    }

    fn visit_f64<E: Error>(self, value: f64) -> Result<Scalar, E> {
        Ok(Scalar(Some(value.to_string())))
    }

    fn visit_u64<E: Error>(self, value: u64) -> Result<Scalar, E> {
        Ok(Scalar(Some(value.to_string())))
    }

    fn visit_i64<E: Error>(self, value: i64) -> Result<Scalar, E> {
        Ok(Scalar(Some(value.to_string())))
    }

    fn visit_unit<E: Error>(self) -> Result<Scalar, E> {
        Ok(Scalar(None))
    }

    fn visit_bool<E: Error>(self, _value: bool) -> Result<Scalar, E> {
        Ok(Scalar(None))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Scalar, A::Error> {
        while list.next_element::<IgnoredAny>()?.is_some() {}
        Ok(Scalar(None))
    }

    fn visit_map<A: serde::de::MapAccess<'de>>(self, mut map: A) -> Result<Scalar, A::Error> {
        while map.next_entry::<IgnoredAny, IgnoredAny>()?.is_some() {}
        Ok(Scalar(None))
    }
}

/// A position: two numbers, and a height that nobody asks for.
struct Position(Point);

impl<'de> Deserialize<'de> for Position {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let numbers: Many<f64, 4> = Many::deserialize(deserializer)?;
        match numbers.0[..] {
            [x, y] | [x, y, _] => Ok(Self(Point::new(x, y))),
            _ => Err(D::Error::custom("a position has two or three numbers")),
        }
    }
}

/// One more than an outline may have: a ring may repeat its first point.
const MOST_POINTS: usize = MAX_VERTICES + MAX_RINGS;
type Polygon = Many<Many<Position, MOST_POINTS>, MAX_RINGS>;

/// The rings of a polygon, also of the only one of several; `None` for any other shape.
pub(super) fn rings(kind: &str, coordinates: &str) -> serde_json::Result<Option<Vec<Vec<Point>>>> {
    let polygon: Polygon = match kind {
        "Polygon" => serde_json::from_str(coordinates)?,
        "MultiPolygon" => {
            let mut polygons: Many<Polygon, 100> = serde_json::from_str(coordinates)?;
            match (polygons.0.pop(), polygons.0.is_empty()) {
                (Some(polygon), true) => polygon,
                _ => return Ok(None),
            }
        }
        _ => return Ok(None),
    };
    let ring =
        |ring: Many<Position, MOST_POINTS>| ring.0.into_iter().map(|position| position.0).collect();
    Ok(Some(polygon.0.into_iter().map(ring).collect()))
}

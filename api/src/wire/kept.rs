//! Reads documents that are kept, also those that a newer release wrote.
//!
//! What callers send is held to its schema, and a member that nobody knows is refused. A document that is kept was held
//! to a schema when it came, but perhaps to that of a newer release which shares the database: a member that this one
//! does not know is passed over, or every plan of the site would fail until the upgrade is done, and for ever after a
//! rollback.

use serde::{
    Deserializer,
    de::{
        DeserializeOwned, IntoDeserializer, Visitor,
        value::{MapDeserializer, SeqDeserializer},
    },
    forward_to_deserialize_any,
};
use serde_json::{Error, Value};

use crate::problem::Problem;

/// Reads a document that is kept.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn stored<T: DeserializeOwned>(document: &str) -> Result<T, Problem> {
    let read = serde_json::from_str(document).and_then(|value| T::deserialize(Lenient(value)));
    read.map_err(|error| Problem::internal(&error))
}

/// Reads a value that others send and may add members to.
///
/// # Errors
/// What does not fit `T`.
pub(crate) fn lenient<T: DeserializeOwned>(value: Value) -> Result<T, Error> {
    T::deserialize(Lenient(value))
}

/// A value whose objects hold, for a struct, the members that the struct has, at every depth.
struct Lenient(Value);

impl Lenient {
    fn members<'de, V: Visitor<'de>>(
        members: impl Iterator<Item = (String, Value)>,
        visitor: V,
    ) -> Result<V::Value, Error> {
        let members = members.map(|(name, member)| (name, Self(member)));
        visitor.visit_map(MapDeserializer::new(members))
    }
}

impl<'de> Deserializer<'de> for Lenient {
    type Error = Error;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        match self.0 {
            Value::Array(elements) => {
                visitor.visit_seq(SeqDeserializer::new(elements.into_iter().map(Self)))
            }
            Value::Object(members) => Self::members(members.into_iter(), visitor),
            plain => plain.deserialize_any(visitor),
        }
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _name: &'static str,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        match self.0 {
            Value::Object(members) => {
                let known = |(name, _): &(String, Value)| fields.contains(&name.as_str());
                Self::members(members.into_iter().filter(known), visitor)
            }
            other => Self(other).deserialize_any(visitor),
        }
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        match self.0 {
            Value::Null => visitor.visit_none(),
            _ => visitor.visit_some(self),
        }
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(
        self,
        _name: &'static str,
        visitor: V,
    ) -> Result<V::Value, Error> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        name: &'static str,
        variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        self.0.deserialize_enum(name, variants, visitor)
    }

    forward_to_deserialize_any! {
        bool i8 i16 i32 i64 u8 u16 u32 u64 f32 f64 char str string bytes byte_buf unit unit_struct seq tuple
        tuple_struct map identifier ignored_any
    }
}

impl IntoDeserializer<'_, Error> for Lenient {
    type Deserializer = Self;

    fn into_deserializer(self) -> Self {
        self
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::stored;
    use crate::wire::{
        plan::PlanRequest, product::ProductRequest, rate_card::RateCardRequest,
        surface::SurfaceRequest,
    };

    /// Adds a member that nobody knows to every object, at every depth.
    fn newer(value: &mut Value) {
        match value {
            Value::Array(elements) => elements.iter_mut().for_each(newer),
            Value::Object(members) => {
                members.values_mut().for_each(newer);
                members.insert("of_a_newer_release".to_owned(), json!({"a": [1]}));
            }
            _ => {}
        }
    }

    fn survives<T: serde::de::DeserializeOwned + serde::Serialize>(document: Value) {
        let expected = serde_json::to_value(stored::<T>(&document.to_string()).unwrap()).unwrap();
        let mut later = document;
        newer(&mut later);
        assert!(serde_json::from_value::<T>(later.clone()).is_err());
        let read = stored::<T>(&later.to_string()).unwrap();
        assert_eq!(serde_json::to_value(read).unwrap(), expected);
    }

    #[test]
    fn members_of_a_newer_release_are_passed_over_at_every_depth() {
        survives::<RateCardRequest>(json!({
            "valid_from": "2026-04-01", "labour_per_h": {"amount": "16.50", "currency": "GBP"},
            "allowance_pct": 10, "contingency_pct": 5, "overhead_pct": 12, "margin_pct": 10.5, "tax_pct": 20,
            "crew_size": 2, "setup_min": 30, "clean_down_min": 30,
            "machines": [{"machine": "rotary_43", "per_h": {"amount": "1.20", "currency": "GBP"}}],
        }));
        survives::<PlanRequest>(json!({
            "surface_id": "srf_01890a5d-ac96-774b-bcce-b302099a8057",
            "wish": {"goal": "restore", "limits": {"window_min": 480}},
            "climate": {"air_c": 20, "humidity_pct": 55.5},
        }));
        survives::<ProductRequest>(json!({
            "key": "night_polish", "class": "polish", "name": "Polish", "suits": ["linoleum"],
            "coverage_first": {"none": 60, "low": 55, "medium": 40, "high": 25},
            "coverage_next": {"none": 60, "low": 55, "medium": 40, "high": 25}, "ph_in_use": 8.2, "ppe": ["gloves"],
            "water_share": 0.75, "coat_wait_min": 50, "foot_wait_min": 150, "packs": [{"size_l": 10, "example_price": "48.00"}],
            "sheet": {"reference": "TDS 114", "edition": "2026-02"},
        }));
    }

    #[test]
    fn what_is_not_the_document_is_still_refused() {
        assert!(
            stored::<PlanRequest>(r#"{"surface_id": 7, "wish": {"goal": "restore"}}"#).is_err()
        );
        assert!(stored::<PlanRequest>(r#"{"surface_id": "x"}"#).is_err());
        assert!(stored::<SurfaceRequest>("[]").is_err());
    }
}

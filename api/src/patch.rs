//! JSON Merge Patch (RFC 7396): the one form in which records are changed.
//!
//! A patch is merged into the record as its create request would say it, and the result is held to the schema of
//! that request. One set of rules serves both, and `null` means absent in both.

use actix_web::{FromRequest, HttpRequest, dev::Payload};
use futures_util::future::LocalBoxFuture;
use serde::{Serialize, de::DeserializeOwned};
use serde_json::{Map, Value};
use utoipa::ToSchema;

use crate::{
    body::{self, Fault, RawRequest, Sent},
    problem::{Code, Problem},
};

/// Merges a patch into a document as RFC 7396 section 2 has it.
pub(crate) fn merge(target: &mut Value, patch: Value) {
    let Value::Object(members) = patch else {
        *target = patch;
        return;
    };
    if !target.is_object() {
        *target = Value::Object(Map::new());
    }
    let Value::Object(object) = target else {
        return;
    };
    for (name, value) in members {
        if value.is_null() {
            object.remove(&name);
        } else {
            merge(object.entry(name).or_insert(Value::Null), value);
        }
    }
}

/// A merge patch as it was sent; read it before the record is looked up, apply it to what the record says.
#[derive(Debug)]
pub(crate) struct Patch {
    patch: Sent,
    /// The request as it was sent.
    pub(crate) raw: RawRequest,
}

impl Patch {
    /// Reads a patch of at most 256 KiB.
    ///
    /// # Errors
    /// As [`body::receive`] and [`body::into_value`]; `invalid_body` if the patch is not an object.
    async fn read(request: &HttpRequest, payload: Payload) -> Result<Self, Problem> {
        let raw = body::receive(request, payload, body::MAX_BODY).await?;
        let patch = body::into_value(&raw.body)?;
        if !patch.value.is_object() {
            let fault = Fault::at("#", "type", "A merge patch must be an object.");
            return Err(Problem::with_faults(Code::InvalidBody, vec![fault]));
        }
        Ok(Self { patch, raw })
    }

    /// What the record says after the patch, as valid as a new one.
    ///
    /// # Errors
    /// `invalid_body` with every fault.
    pub(crate) fn apply<T>(&self, current: &T) -> Result<T, Problem>
    where
        T: Serialize + DeserializeOwned + ToSchema,
    {
        let document = serde_json::to_value(current);
        self.apply_to(document.map_err(|error| Problem::internal(&error))?)
    }

    /// Whether the patch has an object for a member: it changes something in it.
    pub(crate) fn speaks_of(&self, member: &str) -> bool {
        self.patch.value.get(member).is_some_and(Value::is_object)
    }

    /// What a document says after the patch, held to the schema of `T`.
    ///
    /// # Errors
    /// `invalid_body` with every fault.
    pub(crate) fn apply_to<T: DeserializeOwned + ToSchema>(
        &self,
        mut document: Value,
    ) -> Result<T, Problem> {
        merge(&mut document, self.patch.value.clone());
        body::into_typed("#", self.patch.with(document))
    }
}

impl FromRequest for Patch {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let (request, payload) = (request.clone(), payload.take());
        Box::pin(async move { Self::read(&request, payload).await })
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::merge;

    #[test]
    fn the_fifteen_cases_of_rfc_7396_appendix_a() {
        let cases: [(Value, Value, Value); 15] = [
            (json!({"a": "b"}), json!({"a": "c"}), json!({"a": "c"})),
            (
                json!({"a": "b"}),
                json!({"b": "c"}),
                json!({"a": "b", "b": "c"}),
            ),
            (json!({"a": "b"}), json!({"a": null}), json!({})),
            (
                json!({"a": "b", "b": "c"}),
                json!({"a": null}),
                json!({"b": "c"}),
            ),
            (json!({"a": ["b"]}), json!({"a": "c"}), json!({"a": "c"})),
            (json!({"a": "c"}), json!({"a": ["b"]}), json!({"a": ["b"]})),
            (
                json!({"a": {"b": "c"}}),
                json!({"a": {"b": "d", "c": null}}),
                json!({"a": {"b": "d"}}),
            ),
            (
                json!({"a": [{"b": "c"}]}),
                json!({"a": [1]}),
                json!({"a": [1]}),
            ),
            (json!(["a", "b"]), json!(["c", "d"]), json!(["c", "d"])),
            (json!({"a": "b"}), json!(["c"]), json!(["c"])),
            (json!({"a": "foo"}), json!(null), json!(null)),
            (json!({"a": "foo"}), json!("bar"), json!("bar")),
            (
                json!({"e": null}),
                json!({"a": 1}),
                json!({"e": null, "a": 1}),
            ),
            (
                json!([1, 2]),
                json!({"a": "b", "c": null}),
                json!({"a": "b"}),
            ),
            (
                json!({}),
                json!({"a": {"bb": {"ccc": null}}}),
                json!({"a": {"bb": {}}}),
            ),
        ];
        for (mut target, patch, result) in cases {
            let shown = format!("{target} + {patch}");
            merge(&mut target, patch);
            assert_eq!(target, result, "{shown}");
        }
    }
}

//! What a merge patch may say, described: the members of the request that it is merged into, none of them needed.
//!
//! The description is made from that of the request, so that the two cannot part ways. A patch itself is not held
//! to it: what counts is that the merged record is as valid as a new one (see [`crate::patch`]).

use serde_json::{Map, Value, json};
use utoipa::{
    ToSchema,
    openapi::{RefOr, schema::Schema},
};

/// How deep records nest, with room to spare.
const MAX_DEPTH: u8 = 8;

/// Declares the component that describes patches of a request, with an example.
macro_rules! patch_of {
    ($(#[$doc:meta])* $name:ident, $request:ty, $example:tt) => {
        $(#[$doc])*
        #[derive(Debug)]
        pub(crate) struct $name;

        impl ::utoipa::PartialSchema for $name {
            fn schema() -> ::utoipa::openapi::RefOr<::utoipa::openapi::schema::Schema> {
                $crate::wire::patch::schema_for::<$request>(::serde_json::json!($example))
            }
        }

        impl ::utoipa::ToSchema for $name {
            fn schemas(
                schemas: &mut Vec<(String, ::utoipa::openapi::RefOr<::utoipa::openapi::schema::Schema>)>,
            ) {
                <$request as ::utoipa::ToSchema>::schemas(schemas);
            }
        }
    };
}
pub(crate) use patch_of;

/// The schema of a patch of `T`.
pub(crate) fn schema_for<T: ToSchema>(example: Value) -> RefOr<Schema> {
    let mut named = Vec::new();
    T::schemas(&mut named);
    let named: Map<String, Value> = named
        .into_iter()
        .filter_map(|(name, schema)| Some((name, serde_json::to_value(schema).ok()?)))
        .collect();
    let mut schema = serde_json::to_value(T::schema()).unwrap_or_default();
    loosen(&mut schema, &named, MAX_DEPTH);
    if let Some(members) = schema.as_object_mut() {
        let text = "A JSON Merge Patch (RFC 7396): members that are not sent stay, `null` takes a member away, lists \
            are replaced whole.";
        members.insert("description".to_owned(), text.into());
        members.insert("example".to_owned(), example);
    }
    // What came out of the describing crate goes back into it; a test reads the outcome.
    serde_json::from_value(schema).unwrap_or_else(|_| T::schema())
}

/// Makes no member of an object needed, and each that was not needed before removable.
fn loosen(schema: &mut Value, named: &Map<String, Value>, depth: u8) {
    let Some(object) = schema.as_object_mut() else {
        return;
    };
    let needed = object.remove("required").unwrap_or_default();
    let needed = needed.as_array().map(Vec::as_slice).unwrap_or_default();
    let members = object.get_mut("properties").and_then(Value::as_object_mut);
    for (name, member) in members.into_iter().flatten() {
        let is_needed = needed.iter().any(|needed| needed == name);
        loosen_member(member, named, (is_needed, depth));
    }
}

fn loosen_member(member: &mut Value, named: &Map<String, Value>, (is_needed, depth): (bool, u8)) {
    if let Some(target) = record(member, named).filter(|_| depth > 0) {
        let description = member.get("description").cloned();
        *member = target;
        loosen(member, named, depth.saturating_sub(1));
        if let (Some(text), Some(object)) = (description, member.as_object_mut()) {
            object.insert("description".to_owned(), text);
        }
    }
    if is_needed {
        return;
    }
    match member.get_mut("type") {
        Some(kind) if kind.is_string() => *kind = json!([kind.take(), "null"]),
        Some(_) => {}
        None => *member = json!({"anyOf": [member.take(), {"type": "null"}]}),
    }
}

/// The schema of the record that a member is, if it is one: records merge, everything else is replaced.
fn record(member: &Value, named: &Map<String, Value>) -> Option<Value> {
    let alone = member.get("oneOf").or_else(|| member.get("allOf"));
    let reference = alone
        .and_then(|all| all.as_array()?.first()?.get("$ref"))
        .or_else(|| member.get("$ref"))?;
    let name = reference.as_str()?.rsplit('/').next()?;
    let target = named.get(name)?;
    (target.get("type")? == "object").then(|| target.clone())
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::schema_for;
    use crate::wire::site::SiteRequest;

    #[test]
    fn a_patch_needs_nothing_and_may_remove_what_was_not_needed() {
        let schema = schema_for::<SiteRequest>(json!({"name": "x"}));
        let schema = serde_json::to_value(schema).unwrap();
        assert_eq!(schema["additionalProperties"], false);
        assert!(schema["required"].is_null());
        assert_eq!(schema["properties"]["name"]["type"], "string");
        let climate = &schema["properties"]["climate"];
        assert_eq!(climate["type"], json!(["object", "null"]));
        assert!(climate["required"].is_null());
        assert_eq!(climate["properties"]["air_c"]["type"], "number");
        assert_eq!(
            climate["properties"]["floor_c"]["type"],
            json!(["number", "null"])
        );
        let card = &schema["properties"]["rate_card"];
        assert_eq!(card["properties"]["labour_per_h"]["type"], "object");
    }
}

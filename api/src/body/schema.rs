//! Holds bodies to the schemas of the API description: what is documented is what is checked.
//!
//! One validator for each component whose name ends in `Request`, compiled once for the process from
//! [`ApiDoc`]. Every violation is told, each with its place.

use std::{borrow::Cow, collections::HashMap, sync::LazyLock};

use jsonschema::{
    ValidationError, Validator,
    error::{TypeKind, ValidationErrorKind as Kind},
};
use serde_json::{Map, Value, json};
use utoipa::{OpenApi, ToSchema};

use super::fault::{Fault, MAX_FAULTS, UNKNOWN_MEMBER, push_member};
use crate::openapi::ApiDoc;

/// Where the description keeps its schemas.
const COMPONENTS: &str = "#/components/schemas/";

static VALIDATORS: LazyLock<Result<Validators, SchemaFault>> =
    LazyLock::new(|| Validators::build(&ApiDoc::openapi()));

/// Why a schema of the API description cannot be used.
#[derive(Debug, Clone, thiserror::Error)]
pub(crate) enum SchemaFault {
    /// It is not a schema.
    #[error("the schema {name} does not compile: {reason}")]
    Compile {
        /// The component.
        name: String,
        /// What the compiler says.
        reason: String,
    },
    /// The component is not there, or its name does not end in `Request`.
    #[error("no schema for the body {name}")]
    Missing {
        /// The component.
        name: String,
    },
}

/// The compiled schemas of every request body.
#[derive(Debug)]
pub(crate) struct Validators(HashMap<String, Validator>);

impl Validators {
    /// The validators of the process.
    ///
    /// # Errors
    /// A schema that does not compile: found by the first test that starts the service.
    pub(crate) fn shared() -> Result<&'static Self, SchemaFault> {
        VALIDATORS.as_ref().map_err(Clone::clone)
    }

    /// Compiles the schemas of a document.
    fn build(document: &utoipa::openapi::OpenApi) -> Result<Self, SchemaFault> {
        let components = serde_json::to_value(&document.components).unwrap_or_default();
        let none = Map::new();
        let schemas = components.get("schemas").and_then(Value::as_object);
        let schemas = schemas.unwrap_or(&none);
        let mut validators = HashMap::new();
        for name in schemas.keys().filter(|name| name.ends_with("Request")) {
            let schema = json!({
                "$ref": format!("{COMPONENTS}{name}"),
                "components": {"schemas": needed(schemas, name)},
            });
            let validator = jsonschema::draft202012::options()
                .should_validate_formats(true)
                .build(&schema)
                .map_err(|error| SchemaFault::Compile {
                    name: name.clone(),
                    reason: error.to_string(),
                })?;
            validators.insert(name.clone(), validator);
        }
        Ok(Self(validators))
    }

    /// Every way in which a value breaks the schema of `T`; `root` is the pointer of the value in its body.
    ///
    /// # Errors
    /// [`SchemaFault::Missing`] if `T` is not a component of the API description.
    pub(crate) fn faults<T: ToSchema>(
        &self,
        root: &str,
        value: &Value,
    ) -> Result<Vec<Fault>, SchemaFault> {
        let name = T::name();
        let Some(validator) = self.0.get(name.as_ref()) else {
            return Err(SchemaFault::Missing {
                name: name.into_owned(),
            });
        };
        let errors = validator.iter_errors(value);
        Ok(errors
            .flat_map(|error| tell(root, &error))
            .take(MAX_FAULTS)
            .collect())
    }
}

/// The component with this name and all that it refers to. Each validator keeps a copy of what it was compiled from:
/// of the whole description, that would be tens of megabytes.
fn needed(schemas: &Map<String, Value>, name: &str) -> Map<String, Value> {
    let mut needed = Map::new();
    let mut waiting = vec![name.to_owned()];
    while let Some(name) = waiting.pop() {
        if let Some(schema) = schemas.get(&name)
            && !needed.contains_key(&name)
        {
            gather(schema, &mut waiting);
            needed.insert(name, schema.clone());
        }
    }
    needed
}

/// Adds the names of the components that a schema refers to.
fn gather(schema: &Value, names: &mut Vec<String>) {
    match schema {
        Value::Object(members) => {
            let target = members.get("$ref").and_then(Value::as_str);
            names.extend(
                target.and_then(|target| Some(target.strip_prefix(COMPONENTS)?.to_owned())),
            );
            members.values().for_each(|member| gather(member, names));
        }
        Value::Array(items) => items.iter().for_each(|item| gather(item, names)),
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}

/// Tells a violation in the words of this service.
fn tell(root: &str, error: &ValidationError<'_>) -> Vec<Fault> {
    let place = fragment(root, error.instance_path().as_str());
    match error.kind() {
        Kind::Required { property } => {
            let name = property.as_str().unwrap_or_default();
            vec![Fault::at(
                member(&place, name),
                "required",
                "This member is required.",
            )]
        }
        Kind::AdditionalProperties { unexpected } | Kind::UnevaluatedProperties { unexpected } => {
            let unknown = |name: &String| {
                Fault::at(
                    member(&place, name),
                    UNKNOWN_MEMBER,
                    "No such member is known here.",
                )
            };
            unexpected.iter().map(unknown).collect()
        }
        kind => {
            let (code, detail) = wording(kind);
            vec![Fault::at(place, code, detail)]
        }
    }
}

/// The code and the detail of a violation.
fn wording(kind: &Kind) -> (&'static str, Cow<'static, str>) {
    let owned = |code, detail: String| (code, Cow::Owned(detail));
    match kind {
        Kind::Type { kind } => owned("type", format!("Must be of the JSON type {}.", types(kind))),
        Kind::Enum { options } => owned("enum", format!("Must be one of {}.", list(options))),
        Kind::Constant { expected_value } => owned("enum", format!("Must be {expected_value}.")),
        Kind::Minimum { limit } => owned("minimum", format!("Must be at least {limit}.")),
        Kind::ExclusiveMinimum { limit } => owned("minimum", format!("Must be more than {limit}.")),
        Kind::Maximum { limit } => owned("maximum", format!("Must be at most {limit}.")),
        Kind::ExclusiveMaximum { limit } => owned("maximum", format!("Must be less than {limit}.")),
        Kind::MultipleOf { multiple_of } => owned(
            "multiple_of",
            format!("Must be a multiple of {multiple_of}."),
        ),
        Kind::MinLength { limit } => owned(
            "min_length",
            format!("Must have at least {limit} characters."),
        ),
        Kind::MaxLength { limit } => owned(
            "max_length",
            format!("Must have at most {limit} characters."),
        ),
        Kind::MinItems { limit } => {
            owned("min_items", format!("Must have at least {limit} items."))
        }
        Kind::MaxItems { limit } => owned("max_items", format!("Must have at most {limit} items.")),
        Kind::MinProperties { limit } => owned(
            "min_members",
            format!("Must have at least {limit} members."),
        ),
        Kind::MaxProperties { limit } => {
            owned("max_members", format!("Must have at most {limit} members."))
        }
        Kind::UniqueItems => ("unique_items", "Must not hold the same item twice.".into()),
        Kind::Pattern { pattern } => owned("pattern", format!("Must match the pattern {pattern}.")),
        Kind::Format { format } => owned(
            "format",
            format!("Must be a {format} (RFC 3339 for times)."),
        ),
        Kind::OneOfMultipleValid { .. } => (
            "alternatives",
            "Matches more than one of the alternatives.".into(),
        ),
        Kind::AnyOf { .. } | Kind::OneOfNotValid { .. } => (
            "alternatives",
            "Matches none of the alternatives that the schema names.".into(),
        ),
        other => owned(
            "schema",
            format!("Breaks the rule `{}` of the schema.", other.keyword()),
        ),
    }
}

fn types(kind: &TypeKind) -> String {
    match kind {
        TypeKind::Single(one) => one.to_string(),
        TypeKind::Multiple(many) => many
            .iter()
            .map(|one| one.to_string())
            .collect::<Vec<_>>()
            .join(" or "),
    }
}

fn list(options: &Value) -> String {
    let options = options.as_array().map(Vec::as_slice).unwrap_or_default();
    options
        .iter()
        .map(ToString::to_string)
        .collect::<Vec<_>>()
        .join(", ")
}

/// A JSON Pointer as a URI fragment below `root`.
fn fragment(root: &str, pointer: &str) -> String {
    let mut fragment = root.to_owned();
    for token in pointer.split('/').skip(1) {
        push_member(&mut fragment, &token.replace("~1", "/").replace("~0", "~"));
    }
    fragment
}

fn member(place: &str, name: &str) -> String {
    let mut pointer = place.to_owned();
    push_member(&mut pointer, name);
    pointer
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::Validators;
    use crate::wire::contractor::ContractorRequest;

    #[test]
    fn every_violation_is_told_where_it_stands() {
        let body = json!({"nmae": "x", "external": {"system": "", "id": 7}});
        let faults = Validators::shared()
            .unwrap()
            .faults::<ContractorRequest>("#", &body)
            .unwrap();
        let mut told: Vec<_> = faults
            .iter()
            .map(|f| (f.pointer.clone().unwrap(), f.code))
            .collect();
        told.sort();
        let expected = [
            ("#/external/id", "type"),
            ("#/external/system", "min_length"),
            ("#/name", "required"),
            ("#/nmae", "unknown_member"),
        ];
        assert_eq!(told, expected.map(|(place, code)| (place.to_owned(), code)));
    }

    #[test]
    fn s_118_a_prototype_is_an_unknown_member() {
        let body = json!({"name": "x", "__proto__": {}});
        let faults = Validators::shared()
            .unwrap()
            .faults::<ContractorRequest>("#", &body)
            .unwrap();
        assert_eq!(faults[0].pointer.as_deref(), Some("#/__proto__"));
        assert_eq!(faults[0].code, "unknown_member");
    }

    #[test]
    fn null_does_not_stand_for_an_absent_member() {
        let body = json!({"name": "x", "external": null});
        let faults = Validators::shared()
            .unwrap()
            .faults::<ContractorRequest>("#", &body)
            .unwrap();
        assert_eq!(faults[0].code, "type");
    }
}

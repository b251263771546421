//! The problem on the wire, and its place in the API description.

use serde::Serialize;
use utoipa::{
    PartialSchema, ToSchema,
    openapi::{ObjectBuilder, RefOr, Schema, schema::Type},
};

use super::Code;
use crate::{body::Fault, call};

/// A problem answer (RFC 9457, `application/problem+json`).
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Problem)]
pub(crate) struct ProblemView<'a> {
    /// A URI of the kind of problem; a page there says what to do.
    #[serde(rename = "type")]
    #[schema(format = "uri-reference", max_length = 2048)]
    kind: String,
    /// What this kind of problem is called; the same for every occurrence.
    #[schema(max_length = 200)]
    title: &'static str,
    /// The HTTP status again.
    #[schema(minimum = 400, maximum = 599)]
    status: u16,
    /// The kind of problem: switch on this.
    #[schema(value_type = ProblemCode)]
    code: &'static str,
    /// What is special about this occurrence.
    #[schema(max_length = 2000)]
    detail: &'a str,
    /// A URI of this one occurrence.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, format = "uri", max_length = 100)]
    instance: Option<String>,
    /// Finds the request in the log; also in `X-Request-Id`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 64)]
    request_id: Option<String>,
    /// Every fault of the request, where there is more to say than `detail`.
    #[serde(skip_serializing_if = "<[Fault]>::is_empty")]
    #[schema(max_items = 1000)]
    errors: &'a [Fault],
}

impl<'a> ProblemView<'a> {
    /// The problem as it is sent in answer to the call that is being served.
    pub(super) fn new(code: Code, detail: &'a str, errors: &'a [Fault]) -> Self {
        let call = call::current();
        Self {
            kind: call::absolute(&format!("/problems/{}", code.as_str())),
            title: code.title(),
            status: code.status(),
            code: code.as_str(),
            detail,
            instance: call.as_ref().map(|call| format!("urn:uuid:{}", call.uuid)),
            request_id: call.map(|call| call.id),
            errors,
        }
    }
}

/// Every code of the table as the values of one enumeration.
pub(crate) struct ProblemCode;

impl PartialSchema for ProblemCode {
    fn schema() -> RefOr<Schema> {
        ObjectBuilder::new()
            .schema_type(Type::String)
            .enum_values(Some(Code::ALL.iter().map(|code| code.as_str())))
            .description(Some(
                "What kind of problem it is; stable, for programs to switch on.",
            ))
            .into()
    }
}

impl ToSchema for ProblemCode {}

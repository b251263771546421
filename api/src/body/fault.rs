//! Faults of a request: what is wrong, and where, so that a form can show it beside the right field.

mod code;
mod pointer;

pub(crate) use code::FaultCode;
pub(crate) use pointer::{Step, pointer, push_member};

use std::borrow::Cow;

use serde::Serialize;
use utoipa::ToSchema;

use crate::problem::{Code, Problem};

/// How many faults one answer tells: one for each item of the largest batch. A body can hold a million.
pub(crate) const MAX_FAULTS: usize = 1_000;

/// The code of a member that nobody knows.
pub(crate) const UNKNOWN_MEMBER: &str = "unknown_member";

/// One fault of a request.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
#[schema(as = ProblemFault)]
pub(crate) struct Fault {
    /// What kind of fault it is: one of those that are listed.
    #[schema(value_type = FaultCode)]
    pub(crate) code: &'static str,
    /// What is wrong and what would be right.
    #[schema(max_length = 2000)]
    pub(crate) detail: Cow<'static, str>,
    /// The place in the body: a JSON Pointer as a URI fragment (RFC 6901, section 6).
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 2000)]
    pub(crate) pointer: Option<String>,
    /// The query parameter.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 200)]
    pub(crate) parameter: Option<String>,
    /// The header.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 200)]
    pub(crate) header: Option<String>,
}

impl Fault {
    /// A fault in the body.
    pub(crate) fn at(
        pointer: impl Into<String>,
        code: &'static str,
        detail: impl Into<Cow<'static, str>>,
    ) -> Self {
        Self {
            pointer: Some(pointer.into()),
            ..Self::bare(code, detail)
        }
    }

    /// A fault in the query string.
    pub(crate) fn parameter(
        name: impl Into<String>,
        code: &'static str,
        detail: impl Into<Cow<'static, str>>,
    ) -> Self {
        Self {
            parameter: Some(name.into()),
            ..Self::bare(code, detail)
        }
    }

    /// A fault in a header.
    pub(crate) fn header(
        name: impl Into<String>,
        code: &'static str,
        detail: impl Into<Cow<'static, str>>,
    ) -> Self {
        Self {
            header: Some(name.into()),
            ..Self::bare(code, detail)
        }
    }

    fn bare(code: &'static str, detail: impl Into<Cow<'static, str>>) -> Self {
        debug_assert!(code::is_known(code), "{code} is not in the published list");
        Self {
            code,
            detail: detail.into(),
            pointer: None,
            parameter: None,
            header: None,
        }
    }
}

/// Collects what a use case finds wrong in a body that its schema allows, so that all is said in one answer.
#[derive(Debug, Default)]
pub(crate) struct Faults(Vec<Fault>);

impl Faults {
    /// No faults yet.
    pub(crate) fn new() -> Self {
        Self::default()
    }

    /// Notes a fault at a pointer such as `#/film/coats`.
    pub(crate) fn push(
        &mut self,
        pointer: impl Into<String>,
        code: &'static str,
        detail: impl Into<Cow<'static, str>>,
    ) {
        self.0.push(Fault::at(pointer, code, detail));
    }

    /// The faults themselves.
    #[cfg(test)]
    pub(crate) fn into_inner(self) -> Vec<Fault> {
        self.0
    }

    /// Goes on if there is no fault.
    ///
    /// # Errors
    /// `invalid_body` (422) with every fault.
    pub(crate) fn finish(self) -> Result<(), Problem> {
        if self.0.is_empty() {
            Ok(())
        } else {
            Err(Problem::with_faults(Code::InvalidBody, self.0))
        }
    }
}

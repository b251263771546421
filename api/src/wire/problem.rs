//! The page about a kind of problem.

use serde::Serialize;
use utoipa::ToSchema;

use crate::problem::{Code, ProblemCode};

/// What a kind of problem means.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ProblemPage {
    /// The code.
    #[schema(value_type = ProblemCode)]
    code: &'static str,
    /// The HTTP status that goes with it.
    #[schema(minimum = 400, maximum = 599)]
    status: u16,
    /// Its title.
    #[schema(max_length = 200)]
    title: &'static str,
    /// What a client should do about it.
    #[schema(max_length = 500)]
    remedy: &'static str,
}

impl ProblemPage {
    /// The page about a code.
    pub(crate) fn new(code: Code) -> Self {
        Self {
            code: code.as_str(),
            status: code.status(),
            title: code.title(),
            remedy: code.remedy(),
        }
    }
}

//! The framework's own complaints about a request, told as problems.

use actix_web::{
    HttpRequest,
    error::{JsonPayloadError, PathError, PayloadError, QueryPayloadError},
};

use super::{Code, Problem};

/// A body that the framework could not read.
impl From<PayloadError> for Problem {
    fn from(error: PayloadError) -> Self {
        match error {
            PayloadError::Overflow => Self::new(Code::BodyTooLarge, "The body is too large."),
            PayloadError::EncodingCorrupted
            | PayloadError::UnknownLength
            | PayloadError::Incomplete(_)
            | PayloadError::Http2Payload(_)
            | PayloadError::Io(_) => Self::new(Code::BadRequest, "The body did not arrive whole."),
            // The framework's enum is open: what it adds later is a fault of the request as well.
            _ => Self::new(Code::BadRequest, "The body could not be read."),
        }
    }
}

/// For handlers that take the framework's own JSON extractor by mistake: still a problem answer.
pub(crate) fn json_fault(_: JsonPayloadError, _: &HttpRequest) -> actix_web::Error {
    Problem::new(Code::MalformedJson, "The body could not be read as JSON.").into()
}

/// A path whose parameters do not parse names nothing.
pub(crate) fn path_fault(_: PathError, _: &HttpRequest) -> actix_web::Error {
    Problem::not_found().into()
}

/// A query string that does not parse.
pub(crate) fn query_fault(_: QueryPayloadError, _: &HttpRequest) -> actix_web::Error {
    Problem::new(
        Code::InvalidParameter,
        "The query string could not be read.",
    )
    .into()
}

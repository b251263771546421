//! What can be wrong with operations of one kind.

use crate::problem::Code;

/// What can be wrong with a question.
pub(super) const PREVIEW_CODES: &[Code] = &[
    Code::BadRequest,
    Code::DuplicateMember,
    Code::MalformedJson,
    Code::UnknownParameter,
    Code::RequestTimeout,
    Code::BodyTooLarge,
    Code::UnsupportedMediaType,
    Code::InvalidBody,
];

/// What can be wrong with a deletion.
pub(super) const DELETE_CODES: &[Code] = &[
    Code::BadRequest,
    Code::InvalidIdempotencyKey,
    Code::UnknownParameter,
    Code::NotFound,
    Code::RequestTimeout,
    Code::IdempotencyInFlight,
    Code::StaleVersion,
    Code::BodyTooLarge,
    Code::IdempotencyKeyReused,
    Code::InvalidBody,
    Code::PreconditionRequired,
    Code::Contended,
];

/// What can be wrong with what is said of a record.
pub(super) const AMEND_CODES: &[Code] = &[
    Code::BadRequest,
    Code::DuplicateMember,
    Code::IdempotencyKeyRequired,
    Code::InvalidIdempotencyKey,
    Code::MalformedJson,
    Code::UnknownParameter,
    Code::NotFound,
    Code::RequestTimeout,
    Code::IdempotencyInFlight,
    Code::StateConflict,
    Code::BodyTooLarge,
    Code::UnsupportedMediaType,
    Code::IdempotencyKeyReused,
    Code::InvalidBody,
    Code::Contended,
];

/// What can be wrong with a signed message.
pub(super) const SIGNED_CODES: &[Code] = &[
    Code::BadRequest,
    Code::DuplicateMember,
    Code::MalformedJson,
    Code::UnknownParameter,
    Code::NotProven,
    Code::RequestTimeout,
    Code::AlreadyExists,
    Code::IdempotencyInFlight,
    Code::StateConflict,
    Code::WebhookIdReused,
    Code::RateLimited,
    Code::TooManyFailures,
    Code::BodyTooLarge,
    Code::UnsupportedMediaType,
    Code::InvalidBody,
    Code::Contended,
];

/// What can be wrong with a step to the next status.
pub(super) const STEP_CODES: &[Code] = &[
    Code::BadRequest,
    Code::InvalidIdempotencyKey,
    Code::UnknownParameter,
    Code::NotFound,
    Code::RequestTimeout,
    Code::IdempotencyInFlight,
    Code::StateConflict,
    Code::StaleVersion,
    Code::BodyTooLarge,
    Code::IdempotencyKeyReused,
    Code::InvalidBody,
    Code::PreconditionRequired,
    Code::Contended,
];

/// What can be wrong with taking work back.
pub(super) const CANCEL_CODES: &[Code] = &[
    Code::BadRequest,
    Code::InvalidIdempotencyKey,
    Code::UnknownParameter,
    Code::NotFound,
    Code::RequestTimeout,
    Code::IdempotencyInFlight,
    Code::BodyTooLarge,
    Code::IdempotencyKeyReused,
    Code::InvalidBody,
    Code::Contended,
];

//! Every code that a problem answer can carry, in one table: what clients switch on, and what they should do.
//!
//! A row is `Name  code  status  title  remedy`. Codes are stable: add rows, never rename one. The page
//! `/problems/{code}` is made from this table, and so are the codes that each operation documents.

macro_rules! codes {
    ($($name:ident $code:literal $status:literal $title:literal $remedy:literal;)+) => {
        /// What kind of problem it is.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Code {
            $(#[doc = concat!($title, " (`", $code, "`).")] $name,)+
        }

        impl Code {
            /// Every code, in the order of the table.
            pub const ALL: &'static [Self] = &[$(Self::$name,)+];

            /// The code as it stands in the answer.
            pub const fn as_str(self) -> &'static str {
                match self { $(Self::$name => $code,)+ }
            }

            /// The HTTP status that goes with it.
            pub const fn status(self) -> u16 {
                match self { $(Self::$name => $status,)+ }
            }

            /// The title: the same for every occurrence.
            pub const fn title(self) -> &'static str {
                match self { $(Self::$name => $title,)+ }
            }

            /// What the client should do about it.
            pub const fn remedy(self) -> &'static str {
                match self { $(Self::$name => $remedy,)+ }
            }
        }
    };
}

#[rustfmt::skip]
codes! {
    BadCursor              "bad_cursor"               400 "The cursor is not valid here"                 "Start again without `cursor`, with the filters that you want.";
    BadRequest             "bad_request"              400 "The request cannot be understood"             "Mend the request; sending it again as it is will not help.";
    DuplicateMember        "duplicate_member"         400 "A JSON object names a member twice"           "Send each member once.";
    IdempotencyKeyRequired "idempotency_key_required" 400 "An Idempotency-Key is needed"                 "Send a new `Idempotency-Key` for each piece of work, and the same one when you retry it.";
    InvalidIdempotencyKey  "invalid_idempotency_key"  400 "The Idempotency-Key is malformed"             "Use 1 to 255 visible ASCII characters, for example a UUID.";
    InvalidParameter       "invalid_parameter"        400 "A parameter is malformed"                     "See `errors` for each parameter and mend it.";
    MalformedJson          "malformed_json"           400 "The body is not JSON as RFC 8259 has it"      "Send one JSON object in UTF-8, at most 32 levels deep.";
    UnknownParameter       "unknown_parameter"        400 "A query parameter is unknown"                 "Leave it out or correct its name: a misspelt filter must not widen an answer.";
    InvalidToken           "invalid_token"            401 "The access token is not accepted"             "Get a new access token from your issuer.";
    NotProven              "not_proven"               401 "The message is not proven"                    "Sign the bytes that you send with the source's secret and send the three `webhook-` headers, the moment within 5 minutes.";
    TokenRequired          "token_required"           401 "An access token is needed"                    "Send `Authorization: Bearer <token>`.";
    InsufficientScope      "insufficient_scope"       403 "The token does not carry the scope"           "Ask for a token with the scope that `WWW-Authenticate` names.";
    NotFound               "not_found"                404 "There is nothing here"                        "Check the path and the id; what another tenant owns is not found either.";
    MethodNotAllowed       "method_not_allowed"       405 "The method is not offered here"               "Use one of the methods in `Allow`.";
    NotAcceptable          "not_acceptable"           406 "The format asked for is not offered"          "Ask for `application/json`.";
    RequestTimeout         "request_timeout"          408 "The request did not arrive in time"           "Send the whole body within the seconds that `detail` names.";
    AlreadyExists          "already_exists"           409 "Another record has this identity"             "Read the record that exists, or choose another external id.";
    IdempotencyInFlight    "idempotency_in_flight"    409 "The same key is being worked on"              "Wait for as long as `Retry-After` says and send the same request again.";
    StateConflict          "state_conflict"           409 "The state of the record does not allow this"  "Read the record again and decide anew.";
    WebhookIdReused        "webhook_id_reused"        409 "The webhook-id came with another event"       "Give each event an id of its own, and send the same event under its id when you retry.";
    StaleVersion           "stale_version"            412 "The record has changed since you read it"     "Read it again, apply your change to what you find, send the new `ETag` in `If-Match`.";
    BodyTooLarge           "body_too_large"           413 "The body is too large"                        "Send less in one request.";
    UnsupportedMediaType   "unsupported_media_type"   415 "The body has a type that is not read here"    "Send what `Accept-Post` or `Accept-Patch` names, not compressed.";
    IdempotencyKeyReused   "idempotency_key_reused"   422 "The key was used for another request"         "Use a new `Idempotency-Key` for a new request.";
    InvalidBody            "invalid_body"             422 "The body breaks the rules of its schema"      "See `errors` for each member and mend it.";
    ParameterOutOfRange    "parameter_out_of_range"   422 "A parameter is outside its range"             "See `errors` for each parameter and its range.";
    PreconditionRequired   "precondition_required"    428 "An If-Match header is needed"                 "Send the `ETag` of the version that you read in `If-Match`.";
    RateLimited            "rate_limited"             429 "The tenant sends too many requests"           "Wait for as long as `Retry-After` says; send fewer requests, or several records in one.";
    TooManyFailures        "too_many_failures"        429 "Too many tokens or signatures were refused"   "Wait for as long as `Retry-After` says and send a token or signature that is good.";
    TooManyJobs            "too_many_jobs"            429 "Too many jobs are not finished"               "Wait until one of them is done, or cancel one, and send the same request again.";
    Internal               "internal"                 500 "The service failed"                           "Try again later; if it persists, report the request id.";
    Contended              "contended"                503 "Others are writing the same records"          "Wait for as long as `Retry-After` says and send the same request again.";
    TimedOut               "timed_out"                503 "The work took too long"                       "Ask for less in one request, or try again later.";
    Unavailable            "unavailable"              503 "The service cannot answer now"                "Wait for as long as `Retry-After` says and send the same request again.";
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::Code;

    #[test]
    fn codes_are_unique_snake_case_and_errors() {
        let codes: BTreeSet<_> = Code::ALL.iter().map(|code| code.as_str()).collect();
        assert_eq!(codes.len(), Code::ALL.len());
        for code in Code::ALL {
            assert!(
                code.as_str()
                    .chars()
                    .all(|c| c.is_ascii_lowercase() || c == '_')
            );
            assert!((400..600).contains(&code.status()), "{}", code.as_str());
            assert!(!code.title().ends_with('.') && code.remedy().ends_with('.'));
        }
    }
}

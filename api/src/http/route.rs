//! One route, and what its kind implies.

mod codes;

use actix_web::{guard, http::Method, middleware};

use self::codes::{
    AMEND_CODES, CANCEL_CODES, DELETE_CODES, PREVIEW_CODES, SIGNED_CODES, STEP_CODES,
};
use crate::{auth, problem::Code};

/// A method that routes have.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Verb {
    /// Reads; `HEAD` comes with it.
    Get,
    /// Creates.
    Post,
    /// Changes.
    Patch,
    /// Deletes.
    Delete,
}

impl Verb {
    /// The method as it is sent.
    pub(crate) const fn as_str(self) -> &'static str {
        match self {
            Self::Get => "GET",
            Self::Post => "POST",
            Self::Patch => "PATCH",
            Self::Delete => "DELETE",
        }
    }
}

/// Who may call.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Access {
    /// Everybody.
    Public,
    /// Who has a token with this scope.
    Scope(&'static str),
}

/// What a route does, from which its method, headers and common problems follow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// GET for everybody.
    Public,
    /// GET of something that is not part of the API, such as the page that shows its description.
    Page,
    /// POST of what a person typed into such a page.
    Form,
    /// GET of one record, with `ETag` and `If-None-Match`.
    Read,
    /// GET of a list, with `limit`, `cursor` and `Link`.
    List,
    /// GET of a computed answer, with query parameters.
    Report,
    /// POST of a question that is answered and kept nowhere.
    Preview,
    /// POST that makes a record; takes an `Idempotency-Key`.
    Create,
    /// POST that makes a record that counts, which twice would be wrong; needs an `Idempotency-Key`.
    Record,
    /// POST of many records at once; needs an `Idempotency-Key`, answers with an outcome for each.
    Batch,
    /// PATCH of one record; needs `If-Match`, takes an `Idempotency-Key`.
    Change,
    /// POST that says something of a record that is there; needs an `Idempotency-Key`.
    Amend,
    /// POST without a body that has something done with a record, whichever version it has; needs an `Idempotency-Key`.
    Act,
    /// POST that asks for work on the parts of a record, which stays as it is; needs an `Idempotency-Key`.
    Request,
    /// POST of what somebody without a token has signed.
    Signed,
    /// POST without a body that takes a record to its next status; needs `If-Match`, takes an `Idempotency-Key`.
    Step,
    /// DELETE of one record; needs `If-Match`, takes an `Idempotency-Key`, answers with nothing.
    Delete,
    /// POST without a body that takes work back, whichever version it has by then; takes an `Idempotency-Key`.
    Cancel,
}

impl Kind {
    /// Whether it is part of the API, and so described: pages for people are not.
    pub(crate) const fn is_described(self) -> bool {
        !matches!(self, Self::Page | Self::Form)
    }

    /// The method.
    pub(crate) const fn verb(self) -> Verb {
        match self {
            Self::Public | Self::Page | Self::Read | Self::List | Self::Report => Verb::Get,
            Self::Form
            | Self::Preview
            | Self::Create
            | Self::Record
            | Self::Batch
            | Self::Amend
            | Self::Act
            | Self::Request
            | Self::Signed
            | Self::Step
            | Self::Cancel => Verb::Post,
            Self::Change => Verb::Patch,
            Self::Delete => Verb::Delete,
        }
    }

    /// The problems that every route of this kind can answer, besides those that every route has.
    const fn codes(self) -> &'static [Code] {
        use Code as C;
        match self {
            Self::Public | Self::Page | Self::Form => &[],
            Self::Read => &[C::UnknownParameter, C::NotFound],
            Self::List => &[
                C::BadCursor,
                C::InvalidParameter,
                C::UnknownParameter,
                C::ParameterOutOfRange,
            ],
            Self::Report => &[
                C::InvalidParameter,
                C::UnknownParameter,
                C::ParameterOutOfRange,
            ],
            Self::Preview => PREVIEW_CODES,
            Self::Create => &[
                C::BadRequest,
                C::DuplicateMember,
                C::InvalidIdempotencyKey,
                C::MalformedJson,
                C::UnknownParameter,
                C::RequestTimeout,
                C::AlreadyExists,
                C::IdempotencyInFlight,
                C::BodyTooLarge,
                C::UnsupportedMediaType,
                C::IdempotencyKeyReused,
                C::InvalidBody,
                C::Contended,
            ],
            Self::Record | Self::Batch => &[
                C::BadRequest,
                C::DuplicateMember,
                C::IdempotencyKeyRequired,
                C::InvalidIdempotencyKey,
                C::MalformedJson,
                C::UnknownParameter,
                C::RequestTimeout,
                C::AlreadyExists,
                C::IdempotencyInFlight,
                C::BodyTooLarge,
                C::UnsupportedMediaType,
                C::IdempotencyKeyReused,
                C::InvalidBody,
                C::Contended,
            ],
            Self::Amend | Self::Act | Self::Request => AMEND_CODES,
            Self::Signed => SIGNED_CODES,
            Self::Step => STEP_CODES,
            Self::Delete => DELETE_CODES,
            Self::Cancel => CANCEL_CODES,
            Self::Change => &[
                C::BadRequest,
                C::DuplicateMember,
                C::InvalidIdempotencyKey,
                C::MalformedJson,
                C::UnknownParameter,
                C::NotFound,
                C::RequestTimeout,
                C::AlreadyExists,
                C::IdempotencyInFlight,
                C::StaleVersion,
                C::BodyTooLarge,
                C::UnsupportedMediaType,
                C::IdempotencyKeyReused,
                C::InvalidBody,
                C::PreconditionRequired,
                C::Contended,
            ],
        }
    }
}

/// One route.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Route {
    /// What it does.
    pub(crate) kind: Kind,
    /// Its path, with parameters in braces.
    pub(crate) path: &'static str,
    /// The id of its operation in the API description.
    pub(crate) operation: &'static str,
    /// Who may call it.
    pub(crate) access: Access,
    also: &'static [Code],
    /// Whether it may take longer than others.
    long: bool,
    handler: fn() -> actix_web::Route,
}

impl Route {
    /// A route with the problems of its kind.
    pub(crate) const fn new(
        kind: Kind,
        path: &'static str,
        operation: &'static str,
        access: Access,
        handler: fn() -> actix_web::Route,
    ) -> Self {
        Self {
            kind,
            path,
            operation,
            access,
            also: &[],
            long: matches!(kind, Kind::Report | Kind::Batch),
            handler,
        }
    }

    /// Adds problems of its own.
    #[must_use]
    pub(crate) const fn also(self, codes: &'static [Code]) -> Self {
        Self {
            also: codes,
            ..self
        }
    }

    /// Lets it take as long as a report may.
    #[must_use]
    pub(crate) const fn long(self) -> Self {
        Self { long: true, ..self }
    }

    /// Every problem that it can answer, without doubles, in the order of the table.
    pub(crate) fn codes(&self) -> Vec<Code> {
        let guarded: &[Code] = match self.access {
            Access::Public => &[],
            Access::Scope(_) => &[
                Code::BadRequest,
                Code::InvalidToken,
                Code::TokenRequired,
                Code::InsufficientScope,
                Code::RateLimited,
                Code::TooManyFailures,
            ],
        };
        let all = [
            Code::UnsupportedMediaType,
            Code::Internal,
            Code::TimedOut,
            Code::Unavailable,
        ];
        let mut codes: Vec<Code> = [guarded, self.kind.codes(), self.also, &all].concat();
        codes.sort_unstable();
        codes.dedup();
        codes
    }

    /// The route for the framework, guarded by its scope.
    pub(crate) fn build(&self) -> actix_web::Route {
        let route = (self.handler)();
        let route = match self.kind.verb() {
            Verb::Get => route.guard(guard::Any(guard::Get()).or(guard::Head())),
            Verb::Post => route.method(Method::POST),
            Verb::Patch => route.method(Method::PATCH),
            Verb::Delete => route.method(Method::DELETE),
        };
        match self.access {
            Access::Public => route,
            Access::Scope(scope) => {
                let door = auth::Door {
                    scope,
                    operation: self.operation,
                    is_long: self.long,
                };
                let guard = move |request, next| auth::guard(door, request, next);
                route.wrap(middleware::from_fn(guard))
            }
        }
    }

    /// The path as the API description has it: a parameter without its pattern.
    pub(crate) fn documented_path(&self) -> String {
        self.path.replace(":.*", "")
    }
}

/// The methods that a path offers, for `Allow`.
pub(crate) fn allow(routes: &[&Route]) -> String {
    let mut methods: Vec<&str> = Vec::new();
    for route in routes {
        let verb = route.kind.verb();
        methods.push(verb.as_str());
        if verb == Verb::Get {
            methods.push("HEAD");
        }
    }
    methods.push("OPTIONS");
    methods.join(", ")
}

/// Routes without a body take no query parameter either unless they ask for it; see [`crate::query::Query`].
pub(crate) fn no_query(request: &actix_web::HttpRequest) -> Result<(), crate::problem::Problem> {
    crate::query::Query::of(request).finish()
}

/// The path parameters of a route that has two, read as what they name.
#[derive(Debug)]
pub(crate) struct Ids<T, U>(pub(crate) T, pub(crate) U);

impl<T: std::str::FromStr, U: std::str::FromStr> actix_web::FromRequest for Ids<T, U> {
    type Error = crate::problem::Problem;
    type Future = std::future::Ready<Result<Self, Self::Error>>;

    fn from_request(
        request: &actix_web::HttpRequest,
        _: &mut actix_web::dev::Payload,
    ) -> Self::Future {
        let mut texts = request.match_info().iter().map(|(_, text)| text);
        let mut ids = || {
            let first = texts.next()?.parse().ok()?;
            Some(Self(first, texts.next()?.parse().ok()?))
        };
        std::future::ready(ids().ok_or_else(crate::problem::Problem::not_found))
    }
}

/// The path parameter of a route that has one, read as what it names.
#[derive(Debug)]
pub(crate) struct Id<T>(pub(crate) T);

impl<T: std::str::FromStr> actix_web::FromRequest for Id<T> {
    type Error = crate::problem::Problem;
    type Future = std::future::Ready<Result<Self, Self::Error>>;

    fn from_request(
        request: &actix_web::HttpRequest,
        _: &mut actix_web::dev::Payload,
    ) -> Self::Future {
        // What is not an id of this kind names nothing.
        let id = request
            .match_info()
            .iter()
            .next()
            .and_then(|(_, text)| text.parse().ok());
        std::future::ready(id.map(Self).ok_or_else(crate::problem::Problem::not_found))
    }
}

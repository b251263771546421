//! Problem answers (RFC 9457): the one way in which this service says no.
//!
//! Nothing internal can leak: a problem carries only its code, a detail written for callers and the faults of the
//! request. The way to a 500 is [`Problem::internal`], which logs the cause once and answers a fixed text.

mod code;
mod from_request;
mod from_store;
mod view;

pub use code::Code;
pub(crate) use from_request::{json_fault, path_fault, query_fault};
pub(crate) use view::{ProblemCode, ProblemView};

use std::{borrow::Cow, error::Error, fmt, time::Duration};

use actix_web::{
    HttpResponse, ResponseError,
    body::BoxBody,
    http::{
        StatusCode,
        header::{self, HeaderName, HeaderValue},
    },
};

use crate::body::{Fault, MAX_FAULTS};

/// How long a client should wait before it tries again, in seconds.
const RETRY_AFTER: HeaderValue = HeaderValue::from_static("1");

/// An error with all that caused it, for the log.
struct Chain<'a>(&'a dyn Error);

impl fmt::Display for Chain<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)?;
        let mut cause = self.0.source();
        while let Some(error) = cause {
            write!(f, ": {error}")?;
            cause = error.source();
        }
        Ok(())
    }
}

/// An answer that says what went wrong and what to do about it.
#[derive(Debug, Clone)]
pub(crate) struct Problem {
    code: Code,
    detail: Cow<'static, str>,
    faults: Vec<Fault>,
    headers: Vec<(HeaderName, HeaderValue)>,
}

impl Problem {
    /// A problem of this kind; `detail` is for the caller and says what is special about this occurrence.
    pub(crate) fn new(code: Code, detail: impl Into<Cow<'static, str>>) -> Self {
        let headers = match code.status() {
            429 | 503 => vec![(header::RETRY_AFTER, RETRY_AFTER)],
            _ if code == Code::IdempotencyInFlight => vec![(header::RETRY_AFTER, RETRY_AFTER)],
            _ => Vec::new(),
        };
        Self {
            code,
            detail: detail.into(),
            faults: Vec::new(),
            headers,
        }
    }

    /// A problem that lists the faults of the request, up to [`MAX_FAULTS`].
    pub(crate) fn with_faults(code: Code, mut faults: Vec<Fault>) -> Self {
        faults.truncate(MAX_FAULTS);
        let detail = match faults.as_slice() {
            [one] => one.detail.clone().into_owned(),
            many if many.len() == MAX_FAULTS => {
                format!("{MAX_FAULTS} faults or more; see `errors`.")
            }
            many => format!("{} faults; see `errors`.", many.len()),
        };
        Self {
            faults,
            ..Self::new(code, detail)
        }
    }

    /// A record with the external name of this one is there; `detail` names it.
    pub(crate) fn taken(detail: String) -> Self {
        let fault = Fault::at("#/external", "already_exists", detail);
        Self::with_faults(Code::AlreadyExists, vec![fault])
    }

    /// The answer for what does not exist, and the same for what belongs to another tenant.
    pub(crate) fn not_found() -> Self {
        Self::new(Code::NotFound, "No such resource.")
    }

    /// The answer took longer than it may.
    pub(crate) fn timed_out(deadline: Duration) -> Self {
        let seconds = deadline.as_secs_f64();
        let detail = format!("The work took more than {seconds} seconds.");
        Self::new(Code::TimedOut, detail)
    }

    /// The only way to a 500: logs the cause with all that caused it, once, and tells the caller nothing of it.
    pub(crate) fn internal(source: &dyn Error) -> Self {
        tracing::error!(cause = %Chain(source), "the service failed");
        Self::new(Code::Internal, "Something went wrong on our side.")
    }

    /// Adds a header to the answer.
    #[must_use]
    pub(crate) fn header(mut self, name: HeaderName, value: HeaderValue) -> Self {
        self.headers.retain(|(present, _)| *present != name);
        self.headers.push((name, value));
        self
    }

    /// The same about a part of a larger body: the pointers of its faults begin at `root`, such as `#/data`.
    #[must_use]
    pub(crate) fn under(mut self, root: &str) -> Self {
        for fault in &mut self.faults {
            if let Some(pointer) = &mut fault.pointer {
                *pointer = format!("{root}{}", pointer.trim_start_matches('#'));
            }
        }
        self
    }

    /// What kind of problem it is.
    pub(crate) const fn code(&self) -> Code {
        self.code
    }

    /// Whether the same may go well a little later, with nothing changed.
    pub(crate) const fn may_pass(&self) -> bool {
        matches!(
            self.code,
            Code::Unavailable | Code::Contended | Code::TimedOut
        )
    }

    /// What is special about this occurrence; of faults, the first.
    pub(crate) fn detail(&self) -> &str {
        let first = self.faults.first();
        first.map_or(&*self.detail, |fault| &*fault.detail)
    }

    /// The faults that it lists.
    pub(crate) fn faults(&self) -> &[Fault] {
        &self.faults
    }

    /// The problem as it is sent.
    fn view(&self) -> ProblemView<'_> {
        ProblemView::new(self.code, &self.detail, &self.faults)
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.code.as_str(), self.detail)
    }
}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        StatusCode::from_u16(self.code.status()).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
    }

    fn error_response(&self) -> HttpResponse<BoxBody> {
        let mut answer = HttpResponse::build(self.status_code());
        for header in &self.headers {
            answer.insert_header(header.clone());
        }
        answer
            .insert_header((header::CONTENT_TYPE, "application/problem+json"))
            .body(serde_json::to_vec(&self.view()).unwrap_or_default())
    }
}

//! How much one caller may take: requests of a tenant, and tokens and signatures of a source that prove nothing.
//!
//! Each process counts for itself, in memory: with several behind one address a tenant may take as often the rate as
//! there are processes. What is counted is forgotten as soon as it makes no difference any more.

mod bucket;
mod source;

use chrono::{DateTime, TimeDelta, Utc};
use domain::id::TenantId;

use actix_web::http::{
    StatusCode,
    header::{self, HeaderValue},
};

use self::bucket::Buckets;
pub(crate) use self::source::{Source, source_of};
use crate::{
    config::{LimitConfig, Network},
    problem::{Code, Problem},
};

/// The limits of one process.
#[derive(Debug)]
pub(crate) struct Limits {
    tenants: Option<Buckets<TenantId>>,
    failures: Option<Buckets<Source>>,
    /// Who is believed in `X-Forwarded-For`.
    pub(crate) proxies: Vec<Network>,
}

impl Limits {
    /// Limits of which nothing is used up.
    pub(crate) fn new(config: &LimitConfig) -> Self {
        Self {
            tenants: config.per_tenant.map(Buckets::new),
            failures: config.failures.map(Buckets::new),
            proxies: config.proxies.clone(),
        }
    }

    /// Lets one more request of a tenant in.
    ///
    /// # Errors
    /// `rate_limited`, with the seconds to wait.
    pub(crate) fn admit(&self, tenant: TenantId, now: DateTime<Utc>) -> Result<(), Problem> {
        let Some(wait) = self.tenants.as_ref().and_then(|all| all.take(tenant, now)) else {
            return Ok(());
        };
        let detail = "Your tenant sends more requests than it may.";
        Err(later(Problem::new(Code::RateLimited, detail), wait))
    }

    /// Counts an address that opens nothing, as [`Self::refused`] counts a token that proves nothing.
    ///
    /// # Errors
    /// `too_many_failures`, once there were too many from there.
    pub(crate) fn missed(&self, from: Source, now: DateTime<Utc>) -> Result<(), Problem> {
        let Some(wait) = self.failures.as_ref().and_then(|all| all.take(from, now)) else {
            return Ok(());
        };
        let detail = "Too many addresses that open nothing were tried from yours.";
        Err(later(Problem::new(Code::TooManyFailures, detail), wait))
    }

    /// What is answered to a refusal: if it is that of a token or signature that proves nothing, it counts, and once there
    /// were too many from there, the answer is that and no longer why.
    ///
    /// What is proven is let in all the same. Keys have 32 bytes, so nobody guesses one; but somebody behind the same
    /// address could keep everybody out.
    pub(crate) fn refused(&self, problem: Problem, from: Source, now: DateTime<Utc>) -> Problem {
        if !matches!(problem.code(), Code::InvalidToken | Code::NotProven) {
            return problem;
        }
        let Some(wait) = self.failures.as_ref().and_then(|all| all.take(from, now)) else {
            return problem;
        };
        let detail = "Too many tokens or signatures from your address were refused.";
        later(Problem::new(Code::TooManyFailures, detail), wait)
    }
}

/// The problem with the whole seconds to wait.
fn later(problem: Problem, wait: TimeDelta) -> Problem {
    debug_assert_eq!(
        problem.code().status(),
        StatusCode::TOO_MANY_REQUESTS.as_u16()
    );
    let seconds = wait.num_milliseconds().div_euclid(1000).saturating_add(1);
    problem.header(header::RETRY_AFTER, HeaderValue::from(seconds))
}
